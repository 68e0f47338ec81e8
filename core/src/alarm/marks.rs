//! Which alarms have something to do in a tick: in most ticks none has.

use super::life::{Alarm, Condition};

/// Up to 32 conditions of a tick, a bit each.
#[derive(Clone, Copy, Debug)]
pub(super) struct Conditions {
    stand: u32,
    unknown: u32,
}

impl Conditions {
    /// In the order of the alarms' numbers.
    pub(super) fn of(all: &[Condition]) -> Self {
        let (mut stand, mut unknown, mut bit) = (0, 0, 1_u32);
        for condition in all {
            match condition {
                Condition::Stands => stand |= bit,
                Condition::Unknown => unknown |= bit,
                Condition::Gone => {}
            }
            bit = bit.wrapping_shl(1);
        }
        Self { stand, unknown }
    }

    /// One of them, by its number.
    pub(super) const fn at(self, number: u32) -> Condition {
        let bit = 1_u32.wrapping_shl(number);
        if self.unknown & bit != 0 {
            Condition::Unknown
        } else {
            Condition::of(self.stand & bit != 0)
        }
    }
}

/// What is remembered of up to 32 alarms, a bit each, so as not to look at those that rest.
#[derive(Clone, Copy, Debug)]
pub(super) struct Marks {
    stand: u32,
    stir: u32,
}

impl Marks {
    /// Nothing stands, nothing stirs.
    pub(super) const NONE: Self = Self { stand: 0, stir: 0 };

    /// Takes note of an alarm that may have changed.
    pub(super) fn note(&mut self, number: u32, alarm: &Alarm) {
        let bit = 1_u32.wrapping_shl(number);
        let set = |bits: u32, on: bool| if on { bits | bit } else { bits & !bit };
        self.stand = set(self.stand, alarm.stands());
        self.stir = set(self.stir, alarm.stirs());
    }

    /// Alarms for which a step is more than nothing: their condition is not what stands, a time
    /// runs, or they are to be set `aside`.
    pub(super) const fn due(self, now: Conditions, aside: u32) -> u32 {
        (now.stand ^ self.stand) & !now.unknown | self.stir | aside
    }
}

/// The numbers of the bits that are set, from the lowest.
pub(super) fn numbers(mut bits: u32) -> impl Iterator<Item = u32> {
    core::iter::from_fn(move || {
        let number = bits.trailing_zeros();
        bits &= bits.wrapping_sub(1);
        (number < u32::BITS).then_some(number)
    })
}

#[cfg(test)]
mod tests {
    use super::super::life::{AlarmState, Delays, Shelving};
    use super::*;
    use crate::guard::units::Millis;
    use std::vec::Vec;

    const SECOND: Millis = Millis(1000);
    const DELAYS: Delays = Delays {
        on: Millis(3000),
        off: Millis(2000),
    };
    const CONDITIONS: [Condition; 3] = [Condition::Stands, Condition::Gone, Condition::Unknown];

    #[test]
    fn conditions_and_numbers_come_back() {
        let all = Conditions::of(&CONDITIONS);
        let back: Vec<Condition> = (0..3).map(|number| all.at(number)).collect();
        assert_eq!(back, CONDITIONS);
        let bits = 1 | 1 << 7 | 1 << 31;
        assert_eq!(numbers(bits).take(33).collect::<Vec<_>>(), [0, 7, 31]);
        assert_eq!(numbers(0).take(33).count(), 0);
    }

    /// Every alarm that four ticks and four acts of a person can make.
    fn reached() -> Vec<Alarm> {
        let mut all = Vec::from([Alarm::NORMAL]);
        for _ in 0..4 {
            for alarm in all.clone() {
                let mut next = Vec::new();
                for condition in CONDITIONS {
                    for aside in [false, true] {
                        let mut one = alarm;
                        one.step(condition, aside, true, DELAYS, SECOND);
                        next.push(one);
                    }
                }
                let acts: [fn(&mut Alarm) -> bool; 6] = [
                    Alarm::acknowledge,
                    |alarm| alarm.shelve(Shelving::OneShot(Millis(9000))),
                    Alarm::unshelve,
                    Alarm::take_out,
                    Alarm::put_back,
                    Alarm::reset,
                ];
                for act in acts {
                    let mut one = alarm;
                    act(&mut one);
                    next.push(one);
                }
                for one in next {
                    if !all.contains(&one) {
                        all.push(one);
                    }
                }
            }
        }
        all
    }

    #[test]
    fn a_step_that_is_left_out_would_have_changed_nothing() {
        let all = reached();
        let with = |state| all.iter().filter(|alarm| alarm.state == state).count();
        assert!(with(AlarmState::Shelved) > 5 && with(AlarmState::OutOfService) > 5);
        let (mut left_out, mut stepped) = (0, 0);
        for before in &all {
            let mut marks = Marks::NONE;
            marks.note(0, before);
            for (condition, aside) in CONDITIONS.iter().flat_map(|c| [(*c, 0), (*c, 1)]) {
                if marks.due(Conditions::of(&[condition]), aside) & 1 == 1 {
                    stepped += 1;
                    continue;
                }
                left_out += 1;
                let mut after = *before;
                assert!(!after.step(condition, aside == 1, true, DELAYS, SECOND));
                assert_eq!(after, *before, "{condition:?}");
            }
        }
        assert!(left_out > 20 && stepped > left_out);
    }

    #[test]
    fn nothing_is_due_where_all_stands_as_it_should() {
        let mut alarm = Alarm::NORMAL;
        let mut marks = Marks::NONE;
        let mut gone = Conditions::of(&[Condition::Gone; 8]);
        marks.note(3, &alarm);
        assert_eq!(marks.due(gone, 0), 0);
        let at_once = Delays {
            on: Millis(0),
            off: Millis(0),
        };
        alarm.step(Condition::Stands, false, false, at_once, SECOND);
        marks.note(3, &alarm);
        assert_eq!(marks.due(gone, 0), 1 << 3, "it is to go");
        gone.stand = 1 << 3;
        assert_eq!(marks.due(gone, 0), 0, "it stands as it should");
    }
}

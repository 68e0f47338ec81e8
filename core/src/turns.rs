//! Turn-taking between products that must not meet.
//!
//! The guard refuses a product while an incompatible one is asked for that goes first, is driven,
//! or has been within a purge. Two demands that stand for hours would then starve each other: acid
//! that its own hold refuses would block chlorine for as long as it asks. So only the side that has
//! the turn may ask, and the turn passes
//! - when its side does not want, or cannot because of a rule of its own, and the other can;
//! - when its cycle is over and the other can: also if the first wants again at once;
//! - from a generator that has run for [`PAUSE_AFTER`], whose cycle may last for hours;
//! - when it has had [`PATIENCE`] without a refusal and nothing was charged.
//!
//! Acid is the one product that must meet no other, so there are two sides: acid, and the rest.
//! With both wanting and none of them owed a turn, acid goes first: chlorine is weak at high pH.
//! So a standing demand waits for its own hold (or the purge after its own dose, if that is
//! longer), the other's longest dose, and a purge.

use crate::guard::units::Millis;
use crate::guard::{CycleStage, Product};

/// How long a generator runs before it pauses for acid that waits. Our choice: a tenth of an hour
/// or so keeps acid's wait short beside the holds that are usual (common practice, no source).
const PAUSE_AFTER: Millis = Millis::from_mins(10);

/// How long a side keeps a turn in which nothing refuses it and nothing is charged all the same,
/// as when what the caps leave is less than the feeder can give.
const PATIENCE: Millis = Millis::from_secs(30);

/// What turn-taking has to know of one feeder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Claim {
    pub(crate) product: Product,
    /// The regulator, or a person, wants feed.
    pub(crate) wants: bool,
    /// A rule other than the turn itself refuses it.
    pub(crate) blocked: bool,
    /// It waits for a purge of the other product.
    pub(crate) purging: bool,
    pub(crate) stage: CycleStage,
    /// It had a permit in the last tick.
    pub(crate) ran: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    Acid,
    Rest,
}

/// Who has the turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Turns {
    side: Side,
    /// The side was in a cycle during this turn.
    served: bool,
    /// The turn came because the other's was over: it may not be taken back before it is used.
    owed: bool,
    /// How long a generator has run in this turn.
    ran: Millis,
    /// How long nothing was charged though nothing refused.
    idle: Millis,
}

/// One side, put together.
#[derive(Clone, Copy, Default)]
struct Sum {
    /// Wants, and could.
    able: bool,
    /// In a cycle, or its drive is going off.
    busy: bool,
    /// In a cycle that goes on: nothing of its own has cut it.
    healthy: bool,
    /// Waits for nothing but its charge.
    clear: bool,
    generator_ran: bool,
}

impl Turns {
    pub(crate) const START: Self = Self {
        side: Side::Acid,
        served: false,
        owed: false,
        ran: Millis(0),
        idle: Millis(0),
    };

    /// Moves on by one tick, and says who may ask.
    pub(crate) fn step<const N: usize>(
        &mut self,
        claims: &[Option<Claim>; N],
        elapsed: Millis,
    ) -> [bool; N] {
        let (mine, other) = (sum(claims, self.side), sum(claims, self.side.other()));
        self.served |= mine.busy;
        if mine.generator_ran {
            self.ran.0 = self.ran.0.saturating_add(elapsed.0);
        }
        if mine.able && mine.clear && !mine.busy {
            self.idle.0 = self.idle.0.saturating_add(elapsed.0);
        } else {
            self.idle = Millis(0);
        }
        if other.able && self.passes(mine) {
            *self = Self {
                side: self.side.other(),
                // A turn that was used, or could not be, is not taken back before the other's.
                owed: self.served || self.idle > PATIENCE,
                ..Self::START
            };
        } else if self.served && !mine.busy && !other.able {
            // Nobody waits: the turn begins anew where it is.
            self.served = false;
            self.owed = false;
            self.ran = Millis(0);
        }
        let side = self.side;
        claims.map(|claim| {
            claim.is_some_and(|claim| {
                let in_cycle = matches!(claim.stage, CycleStage::Pending | CycleStage::Open);
                Side::of(claim.product) == side && claim.wants && (in_cycle || !claim.blocked)
            })
        })
    }

    /// Whether the turn goes to the other side, which can use it.
    fn passes(&self, mine: Sum) -> bool {
        let over = self.served && !mine.busy;
        let useless = !mine.able && !mine.healthy;
        let paused = mine.generator_ran && self.ran >= PAUSE_AFTER;
        let idle = self.idle > PATIENCE;
        let acid_first = self.side == Side::Rest && !mine.busy && !self.owed;
        over || useless || paused || idle || acid_first
    }
}

impl Side {
    const fn of(product: Product) -> Self {
        if product.goes_first() {
            Self::Acid
        } else {
            Self::Rest
        }
    }

    const fn other(self) -> Self {
        match self {
            Self::Acid => Self::Rest,
            Self::Rest => Self::Acid,
        }
    }
}

fn sum<const N: usize>(claims: &[Option<Claim>; N], side: Side) -> Sum {
    let mut all = Sum::default();
    let own = claims
        .iter()
        .flatten()
        .filter(|claim| Side::of(claim.product) == side);
    for claim in own {
        let in_cycle = matches!(claim.stage, CycleStage::Pending | CycleStage::Open);
        all.able |= claim.wants && !claim.blocked;
        all.busy |= claim.stage != CycleStage::Idle;
        all.healthy |= in_cycle && claim.wants && !claim.blocked;
        all.clear |= claim.wants && !claim.blocked && !claim.purging;
        all.generator_ran |= claim.ran && claim.product == Product::GeneratedChlorine;
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    const TICK: Millis = Millis(1000);

    fn claim(product: Product) -> Claim {
        Claim {
            product,
            wants: true,
            blocked: false,
            purging: false,
            stage: CycleStage::Idle,
            ran: false,
        }
    }

    fn pair(change: impl Fn(&mut Claim, &mut Claim)) -> [Option<Claim>; 2] {
        let mut acid = claim(Product::Acid);
        let mut chlorine = claim(Product::Hypochlorite);
        change(&mut acid, &mut chlorine);
        [Some(acid), Some(chlorine)]
    }

    #[test]
    fn one_side_asks_at_a_time_and_acid_is_the_first() {
        let mut turns = Turns::START;
        assert_eq!(turns.step(&pair(|_, _| ()), TICK), [true, false]);
        let blocked = pair(|acid, _| acid.blocked = true);
        assert_eq!(turns.step(&blocked, TICK), [false, true]);
        // Nothing was charged yet, so acid may take it back.
        assert_eq!(turns.step(&pair(|_, _| ()), TICK), [true, false]);
    }

    #[test]
    fn after_its_cycle_the_turn_passes_and_is_not_taken_back() {
        let mut turns = Turns::START;
        let running = pair(|acid, _| acid.stage = CycleStage::Open);
        assert_eq!(turns.step(&running, TICK), [true, false]);
        for _ in 0..500 {
            // Wants again at once, and waits all the same while chlorine purges.
            let over = pair(|_, chlorine| chlorine.purging = true);
            assert_eq!(turns.step(&over, TICK), [false, true]);
        }
        let charged = pair(|_, chlorine| chlorine.stage = CycleStage::Pending);
        assert_eq!(turns.step(&charged, TICK), [false, true]);
        assert_eq!(turns.step(&pair(|_, _| ()), TICK), [true, false]);
    }

    #[test]
    fn a_cycle_that_its_own_rule_has_cut_loses_the_turn_only_to_one_that_can_use_it() {
        let mut turns = Turns::START;
        let cut = |other_can: bool| {
            pair(move |acid, chlorine| {
                acid.stage = CycleStage::Open;
                acid.blocked = true;
                chlorine.blocked = !other_can;
            })
        };
        assert_eq!(
            turns.step(&cut(false), TICK),
            [true, false],
            "it may resume"
        );
        assert_eq!(turns.step(&cut(true), TICK), [false, true]);
    }

    #[test]
    fn a_turn_that_nobody_refuses_and_nobody_uses_passes() {
        let mut turns = Turns::START;
        let mut ticks = 0;
        while turns.step(&pair(|_, _| ()), TICK) == [true, false] {
            ticks += 1;
            assert!(ticks < 60, "for ever");
        }
        assert_eq!(ticks, 30);
        let mut ticks = 0;
        while turns.step(&pair(|_, _| ()), TICK) == [false, true] {
            ticks += 1;
            assert!(ticks < 60, "for ever");
        }
        assert_eq!(ticks, 30, "and comes back");
    }

    #[test]
    fn products_of_one_side_ask_together() {
        let mut turns = Turns::START;
        let claims = [
            Some(claim(Product::Base)),
            None,
            Some(claim(Product::GeneratedChlorine)),
        ];
        assert_eq!(turns.step(&claims, TICK), [true, false, true]);
    }

    #[test]
    fn nobody_who_does_not_want_is_asked_for() {
        let mut turns = Turns::START;
        let none = pair(|acid, chlorine| {
            acid.wants = false;
            chlorine.wants = false;
        });
        assert_eq!(turns.step(&none, TICK), [false, false]);
    }

    #[test]
    fn a_turn_that_was_used_while_nobody_else_could_begins_anew_where_it_is() {
        let mut turns = Turns::START;
        let alone = |stage| {
            pair(move |acid, chlorine| {
                acid.stage = stage;
                chlorine.blocked = true;
            })
        };
        assert_eq!(turns.step(&alone(CycleStage::Open), TICK), [true, false]);
        assert_eq!(turns.step(&alone(CycleStage::Idle), TICK), [true, false]);
        assert_eq!(turns.step(&pair(|_, _| ()), TICK), [true, false]);
    }

    #[test]
    fn a_generator_keeps_its_turn_for_a_while_and_acid_for_its_whole_cycle() {
        let ticks = |acid_is_open: bool| {
            let both = |blocked| {
                [
                    Some(Claim {
                        blocked: blocked && !acid_is_open,
                        stage: if acid_is_open {
                            CycleStage::Open
                        } else {
                            CycleStage::Idle
                        },
                        ran: acid_is_open,
                        ..claim(Product::Acid)
                    }),
                    Some(Claim {
                        blocked: blocked && acid_is_open,
                        stage: if acid_is_open {
                            CycleStage::Idle
                        } else {
                            CycleStage::Open
                        },
                        ran: !acid_is_open,
                        ..claim(Product::GeneratedChlorine)
                    }),
                ]
            };
            let mut turns = Turns::START;
            let runs = [acid_is_open, !acid_is_open];
            assert_eq!(turns.step(&both(true), TICK), runs);
            (0..2000)
                .take_while(|_| turns.step(&both(false), TICK) == runs)
                .count()
        };
        let most = usize::try_from(PAUSE_AFTER.0 / 1000).unwrap();
        let generator = ticks(false);
        assert!((most - 2..=most).contains(&generator), "{generator} s");
        assert_eq!(ticks(true), 2000);
    }
}

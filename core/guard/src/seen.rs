//! Facts as the guard understands them: fresh and trusted, or not known.

use crate::clock::Elapsed;
use crate::facts::{Facts, Inhibits};
use crate::limits::{Governor, Limits};
use crate::reading::{Health, Reading};
use crate::units::{Fitted, MilliPh, Millis, Millivolts, MinuteOfDay};

/// What feedback says of a drive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum DriveSeen {
    /// No feedback is fitted.
    NotFitted,
    /// It is fitted, and says nothing that counts.
    Unknown,
    /// On for this long since the last tick.
    On(Millis),
}

impl DriveSeen {
    /// Whether it may be running, as far as feedback tells.
    pub(crate) fn may_run(self) -> bool {
        match self {
            Self::NotFitted => false,
            Self::Unknown => true,
            Self::On(on) => on.0 > 0,
        }
    }
}

/// One feeder's facts, understood.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SeenFeeder {
    pub(crate) drive: DriveSeen,
    pub(crate) stock: bool,
    pub(crate) cell_flow: bool,
    pub(crate) held: bool,
    pub(crate) released: bool,
    pub(crate) governor_trusted: bool,
    pub(crate) governor_failed: bool,
}

/// A tick's facts, understood.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seen<const N: usize> {
    /// Time since the last tick is over 0 and within `tick_gap_max`.
    pub(crate) clock_ok: bool,
    /// Time in full: what a drive may have run.
    pub(crate) elapsed: Millis,
    /// Time that helps: 0 when the clock is not sane.
    pub(crate) helps: Millis,
    /// Every required witness says flow, freshly.
    pub(crate) flow: bool,
    /// A flow witness says flow while the pump contact says off.
    pub(crate) flow_without_pump: bool,
    /// The pump contact says on and the flow witnesses do not.
    pub(crate) pump_without_flow: bool,
    /// Flow witnesses and pump contact are fresh and agree.
    pub(crate) agree: bool,
    pub(crate) ph: Option<MilliPh>,
    pub(crate) orp: Option<Millivolts>,
    pub(crate) body: Option<u8>,
    pub(crate) minute: Option<MinuteOfDay>,
    pub(crate) inhibits: Inhibits,
    pub(crate) feeders: [SeenFeeder; N],
}

impl<const N: usize> Seen<N> {
    pub(crate) fn of<const B: usize>(
        limits: &Limits<N, B>,
        elapsed: Elapsed,
        facts: &Facts<N>,
    ) -> Self {
        let spec = limits.spec();
        let fresh = spec.witness_age_max;
        let elapsed = elapsed.millis();
        let clock_ok = elapsed.0 > 0 && elapsed <= spec.tick_gap_max;
        let switch = fitted(spec.flow_switch, facts.flow_switch.trusted(fresh));
        let meter = match spec.flow_meter {
            Fitted::Fitted(threshold) => Fitted::Fitted(
                facts
                    .flow_meter
                    .trusted(fresh)
                    .map(|flow| flow >= threshold),
            ),
            Fitted::NotFitted => Fitted::NotFitted,
        };
        let pump = fitted(spec.pump_contact, facts.pump_run.trusted(fresh));
        let some_flow = says(switch, true) || says(meter, true);
        let water = witness(switch) && witness(meter);
        let (ph, orp) = (
            spec.ph_probe
                .get()
                .and_then(|()| facts.ph.trusted(spec.probe_age_max)),
            spec.orp_probe
                .get()
                .and_then(|()| facts.orp.trusted(spec.probe_age_max)),
        );
        let body = if spec.body_valves.is_fitted() {
            facts
                .body
                .trusted(fresh)
                .map(|body| body.0)
                .filter(|body| usize::from(*body) < B)
        } else {
            Some(0)
        };
        let mut seen = Self {
            clock_ok,
            elapsed,
            helps: if clock_ok { elapsed } else { Millis(0) },
            flow: water && witness(pump),
            flow_without_pump: some_flow && says(pump, false),
            pump_without_flow: says(pump, true) && !water,
            agree: match pump {
                Fitted::Fitted(Some(on)) => agrees(switch, on) && agrees(meter, on),
                Fitted::Fitted(None) => false,
                Fitted::NotFitted => true,
            },
            ph,
            orp,
            body,
            minute: facts.minute.trusted(spec.witness_age_max),
            inhibits: facts.inhibits,
            feeders: [SeenFeeder::NOTHING; N],
        };
        for (feeder, one) in (0..N).zip(seen.feeders.iter_mut()) {
            *one = SeenFeeder::of(limits, feeder, facts, elapsed);
        }
        seen
    }
}

fn fitted(fitted: Fitted<()>, value: Option<bool>) -> Fitted<Option<bool>> {
    if fitted.is_fitted() {
        Fitted::Fitted(value)
    } else {
        Fitted::NotFitted
    }
}

/// A required witness says yes; one that is not fitted is not required.
fn witness(seen: Fitted<Option<bool>>) -> bool {
    matches!(seen, Fitted::NotFitted | Fitted::Fitted(Some(true)))
}

fn says(seen: Fitted<Option<bool>>, what: bool) -> bool {
    seen == Fitted::Fitted(Some(what))
}

fn agrees(seen: Fitted<Option<bool>>, with: bool) -> bool {
    seen == Fitted::NotFitted || says(seen, with)
}

impl SeenFeeder {
    const NOTHING: Self = Self {
        drive: DriveSeen::Unknown,
        stock: false,
        cell_flow: false,
        held: false,
        released: false,
        governor_trusted: false,
        governor_failed: true,
    };

    fn of<const N: usize, const B: usize>(
        limits: &Limits<N, B>,
        feeder: usize,
        facts: &Facts<N>,
        elapsed: Millis,
    ) -> Self {
        let site = limits.spec();
        let fresh = site.witness_age_max;
        let (Some(spec), Some(own)) = (limits.feeder(feeder), facts.feeders.get(feeder)) else {
            return Self::NOTHING;
        };
        let age_max = site.probe_age_max;
        let (governor_trusted, governor_failed) = match spec.governor {
            Governor::Ph => (
                facts.ph.trusted(age_max).is_some(),
                failed(&facts.ph, age_max),
            ),
            Governor::Orp => (
                facts.orp.trusted(age_max).is_some(),
                failed(&facts.orp, age_max),
            ),
            Governor::TimedShare => (true, false),
        };
        Self {
            drive: match (spec.feedback, own.feedback.trusted(fresh)) {
                (Fitted::NotFitted, _) => DriveSeen::NotFitted,
                (Fitted::Fitted(_), None) => DriveSeen::Unknown,
                // It cannot have been on for longer than has passed.
                (Fitted::Fitted(_), Some(on)) => DriveSeen::On(on.min(elapsed)),
            },
            stock: !spec.level_switch.is_fitted() || own.stock.trusted(fresh) == Some(true),
            cell_flow: !spec.cell_flow_switch.is_fitted()
                || own.cell_flow.trusted(fresh) == Some(true),
            held: own.hold_to_run.trusted(fresh) == Some(true),
            released: own.hold_to_run.trusted(fresh) == Some(false),
            governor_trusted,
            governor_failed,
        }
    }
}

/// Failed, not merely worked on: NE 107 Failure, or nothing heard for too long.
fn failed<T: Copy>(reading: &Reading<T>, age_max: Millis) -> bool {
    reading.health == Health::Failure || reading.age > age_max
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::TickClock;
    use crate::limits::LimitsSpec;
    use crate::test_site::SPEC;
    use crate::units::Body;

    fn seen(spec: LimitsSpec<2, 1>, facts: &Facts<2>) -> Seen<2> {
        let mut clock = TickClock::new();
        clock.step(0);
        let limits = Limits::try_new(spec).unwrap();
        Seen::of(&limits, clock.step(1000), facts)
    }

    #[test]
    fn what_switch_and_pump_contact_say_together() {
        let reading = |says: Option<bool>| says.map_or(Reading::unknown(true), Reading::now);
        let (yes, no, silent) = (Some(true), Some(false), None);
        // Flow; flow without the pump; the pump without flow; they agree.
        for (switch, pump, expected) in [
            (yes, yes, [true, false, false, true]),
            (no, yes, [false, false, true, false]),
            (silent, yes, [false, false, true, false]),
            (yes, no, [false, true, false, false]),
            (no, no, [false, false, false, true]),
            (silent, no, [false, false, false, false]),
            (yes, silent, [false, false, false, false]),
            (no, silent, [false, false, false, false]),
        ] {
            let facts = Facts {
                flow_switch: reading(switch),
                pump_run: reading(pump),
                ..Facts::UNKNOWN
            };
            let seen = seen(SPEC, &facts);
            let found = [
                seen.flow,
                seen.flow_without_pump,
                seen.pump_without_flow,
                seen.agree,
            ];
            assert_eq!(found, expected, "{switch:?} {pump:?}");
        }
    }

    #[test]
    fn a_body_that_the_site_does_not_have_is_not_known() {
        let spec = LimitsSpec {
            body_valves: Fitted::Fitted(Millis(5000)),
            ..SPEC
        };
        for (body, known) in [(0, Some(0)), (1, None), (u8::MAX, None)] {
            let facts = Facts {
                body: Reading::now(Body(body)),
                ..Facts::UNKNOWN
            };
            assert_eq!(seen(spec, &facts).body, known, "{body}");
        }
    }

    #[test]
    fn a_drive_that_was_seen_on_at_all_may_run() {
        assert!(!DriveSeen::NotFitted.may_run() && DriveSeen::Unknown.may_run());
        assert!(!DriveSeen::On(Millis(0)).may_run() && DriveSeen::On(Millis(1)).may_run());
    }

    #[test]
    fn a_reading_as_old_as_the_limits_allow_has_not_failed() {
        let at = |age, health| Reading {
            value: (),
            age,
            health,
        };
        let oldest = Millis(5000);
        assert!(!failed(&at(oldest, Health::Normal), oldest));
        assert!(failed(&at(Millis(5001), Health::Normal), oldest));
        assert!(failed(&at(Millis(0), Health::Failure), oldest));
        // Somebody works on it.
        assert!(!failed(&at(Millis(0), Health::CheckFunction), oldest));
    }
}

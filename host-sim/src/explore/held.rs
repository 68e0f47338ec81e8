//! What must always hold, in terms of what is fed, refused and remembered.

use dosewarden::guard::{
    Action, ActionResult, CycleStage, Decision, FeederDecision, Lockout, LockoutSet, Rule, State,
};

use super::event::{Act, Ask, Button, Drive, Event, Gap, Inhibit, Intact, Probe, Water};
use super::facts::act_of;
use super::site::Site;
use super::truth::{Passed, Truth, bit};

/// A property: its name and what it says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Property {
    /// Its name.
    pub name: &'static str,
    /// What holds.
    pub says: &'static str,
}

macro_rules! properties {
    ($($name:ident: $says:literal,)*) => {
        $(pub(super) const $name: Property = Property { name: stringify!($name), says: $says };)*
        /// All that always holds.
        pub const ALWAYS: &[Property] = &[$($name),*];
    };
}

properties! {
    TICK_IN_TIME: "nothing is fed after a tick that came too late",
    SEALED: "nothing is fed with a state or limits that changed by themselves",
    POWER_ON: "nothing is fed before the delay after power-on, or the longer one of a new probe",
    FLOW: "nothing is fed unless every witness has said flow without a break for the proving time",
    SETTLED: "no probe governs a feed before water has moved past it for long enough",
    PROBE: "no probe that is not trusted governs a feed",
    CUTOFF: "nothing is fed past the cut-off, but by hand",
    BODY: "nothing is fed while the body is not known, not steady, or not that of the charge",
    CYCLE: "a cycle never feeds more than its cap",
    QUARTER: "the first cycle after a wrong answer was released is at most a quarter of the cap",
    RUN_TIME: "a cycle never runs longer than its longest run",
    SPREAD: "no cycle is charged before the last drop of the product has spread in that body",
    HOUR: "no rolling hour is fed more than its cap",
    DAY: "no rolling day is fed more than its cap",
    APART: "no product is fed while one that must not meet it is driven or has not been purged",
    LINE: "nothing is fed while product stands in the line",
    OVERRUN: "a drive that obeys never puts more into standing water than a tick and its off delay",
    STOCK: "nothing is fed from an empty drum",
    DRIVE: "nothing is fed by a drive that is not seen, nor by any while one runs against command",
    LEDGER: "nothing is fed while nobody knows what was fed",
    CUT_FORGETS_NOTHING: "after a power cut at least what was fed counts as fed, or nothing is known",
    LOCKED_OUT: "whatever calls for a person stands as a lockout from that tick on, and none is fed",
    PERSON: "a lockout ends by a person's release only, and not while its cause stands",
    SAVED: "a lockout asks for a record in its own tick",
    INHIBITED: "nothing is fed while somebody wants it stopped, or nobody has said",
    HOURS: "nothing is fed while the time of day is not known to be inside the hours",
    BY_HAND: "a manual feed needs its button, and is no longer than its bound",
    FALLBACK: "fallback feeds only after a person has entered it, and until it is over",
    PROBING: "water that does not answer gets one probing cycle each interval",
    MASTER: "the contact in series is closed only for a permit",
    SAYS_WHY: "a feeder that is asked for and not fed is refused by some rule, or has its charge refused",
    NAMES_IT: "what is plainly wrong in a tick is named by its rule",
}

/// What stands at the end of a tick.
pub(super) struct Tick<'a, const N: usize, const B: usize, const H: usize, const D: usize> {
    pub(super) site: &'a Site<N, B>,
    pub(super) event: &'a Event<N>,
    pub(super) truth: &'a Truth<N, B>,
    pub(super) passed: &'a Passed<N>,
    pub(super) before: &'a State<N, B, H, D>,
    pub(super) after: &'a State<N, B, H, D>,
    pub(super) decision: &'a Decision<N>,
}

type Held = Result<(), Property>;

fn hold(holds: bool, property: Property) -> Held {
    if holds { Ok(()) } else { Err(property) }
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> Tick<'_, N, B, H, D> {
    /// The first property that does not hold.
    pub(super) fn judge(&self) -> Held {
        let rows = &self.decision.feeders;
        let permitted = rows.iter().any(|row| row.run.0 > 0);
        hold(!self.decision.master || permitted, MASTER)?;
        self.persons()?;
        for (feeder, row) in rows.iter().enumerate() {
            self.charged(feeder, row)?;
            if self.site.naming {
                self.says_why(feeder, row)?;
                self.names_it(feeder, row)?;
            }
            let limits = &self.site.figures.feeders[feeder];
            let own = &self.truth.feeders[feeder];
            let obeys = matches!(self.event.drives[feeder], Drive::Obeys);
            let excess = own.standing > 1 + limits.drive_off;
            hold(
                !(excess && obeys && own.against == 0 && limits.feedback.is_none()),
                OVERRUN,
            )?;
            if row.run.0 > 0 {
                self.plant(feeder)?;
                self.doses(feeder)?;
                self.wanted(feeder)?;
            }
        }
        Ok(())
    }

    /// Lockouts come with their causes, and go with persons.
    fn persons(&self) -> Held {
        let (before, after) = (self.before, self.after);
        let stands = |set: LockoutSet, causes: u16| causes & !set.bits() == 0;
        hold(stands(after.site_lockouts, self.truth.causes), LOCKED_OUT)?;
        let mut entered = after.site_lockouts.bits() & !before.site_lockouts.bits() != 0;
        self.left(before.site_lockouts, after.site_lockouts, 0)?;
        for (feeder, own) in self.truth.feeders.iter().enumerate() {
            let (was, is) = (
                before.feeder_lockouts[feeder],
                after.feeder_lockouts[feeder],
            );
            hold(stands(is, own.causes), LOCKED_OUT)?;
            entered |= is.bits() & !was.bits() != 0;
            self.left(was, is, feeder)?;
        }
        hold(
            !entered || (self.decision.save && self.decision.changed),
            SAVED,
        )
    }

    fn left(&self, was: LockoutSet, is: LockoutSet, feeder: usize) -> Held {
        let done = self.decision.action == Some(ActionResult::Done);
        for lockout in was.iter().filter(|lockout| !is.has(*lockout)) {
            let asked = match self.event.act.map(act_of) {
                Some(Action::Release {
                    lockout: which,
                    feeder: of,
                    ..
                }) => which == lockout && (lockout.is_of_site() || of == feeder),
                Some(Action::Initialise) => lockout == Lockout::RecordLost,
                _ => false,
            };
            hold(asked && done && self.cause_gone(lockout, feeder), PERSON)?;
        }
        Ok(())
    }

    fn cause_gone(&self, lockout: Lockout, feeder: usize) -> bool {
        let (event, truth) = (self.event, self.truth);
        let quiet = self.passed.on[feeder] == 0;
        match lockout {
            Lockout::EmergencyStop => !matches!(event.inhibit, Inhibit::Stop | Inhibit::NotKnown),
            Lockout::Witnesses => matches!(event.water, Water::Flows | Water::Stands),
            Lockout::Line => truth.flowed >= self.site.figures.purge,
            Lockout::Probe => matches!(event.probe, Probe::Level(_) | Probe::Past),
            Lockout::StateSeal => event.intact != Intact::State,
            Lockout::LimitsSeal => event.intact != Intact::Limits,
            Lockout::RunTime | Lockout::Drive => {
                quiet || self.site.figures.feeders[feeder].feedback.is_none()
            }
            _ => true,
        }
    }

    fn says_why(&self, feeder: usize, row: &FeederDecision) -> Held {
        let waits = matches!(row.stage, CycleStage::Open | CycleStage::Pending);
        let silent = row.run.0 == 0 && row.vetoes.is_empty();
        let wrong = silent && waits && self.event.asks[feeder] != Ask::Nothing;
        hold(
            !wrong && (row.run.0 == 0 || row.vetoes.is_empty()),
            SAYS_WHY,
        )
    }

    /// A new charge.
    fn charged(&self, feeder: usize, row: &FeederDecision) -> Held {
        let was = self.before.feeders[feeder].stage;
        let begins = matches!(was, CycleStage::Idle | CycleStage::Closing)
            && row.stage == CycleStage::Pending;
        if !begins {
            return Ok(());
        }
        let own = &self.truth.feeders[feeder];
        let limits = &self.site.figures.feeders[feeder];
        let body = self.event.body.ok_or(BODY)?;
        hold(own.since_drop[usize::from(body)] >= limits.hold, SPREAD)?;
        let most = self.site.limits.spec().response.unanswered_max;
        let answer = &own.answer;
        let probing = self.site.response && answer.unanswered >= most;
        hold(!probing || answer.waited, PROBING)?;
        let quarter = u32::from((limits.cycle >> 2).max(1)) * super::site::UNIT;
        hold(!answer.quarter || row.charged.0 <= quarter, QUARTER)
    }

    /// What is plainly wrong in the tick itself.
    fn names_it(&self, feeder: usize, row: &FeederDecision) -> Held {
        let (event, figures) = (self.event, &self.site.figures);
        let spec = self.site.feeder(feeder).ok_or(NAMES_IT)?;
        let site = self.site.limits.spec();
        let waived = matches!(event.asks[feeder], Ask::Manual | Ask::Fallback);
        let untrusted = matches!(event.probe, Probe::Service | Probe::Failed);
        let stock = event.stock || !spec.level_switch.is_fitted();
        let unseen = event.drives[feeder] == Drive::Unseen && spec.feedback.is_fitted();
        for (wrong, rule) in [
            (event.gap == Gap::TooLong, Rule::ClockSane),
            (event.intact == Intact::State, Rule::StateSealed),
            (event.intact == Intact::Limits, Rule::LimitsSealed),
            (event.water != Water::Flows, Rule::FlowProven),
            (
                untrusted && figures.feeders[feeder].governed && !waived,
                Rule::ProbeTrusted,
            ),
            (
                event.body.is_none() && site.body_valves.is_fitted(),
                Rule::BodyKnown,
            ),
            (!stock, Rule::StockPresent),
            (unseen, Rule::DriveObeys),
            (event.inhibit != Inhibit::None, Rule::InhibitsClear),
            (!event.hours && site.hours.is_fitted(), Rule::WindowOpen),
            (self.truth.lost, Rule::LedgerTrusted),
            (
                self.truth.causes | self.truth.feeders[feeder].causes & !bit(Lockout::Probe) != 0
                    && self.after.site_lockouts == self.before.site_lockouts
                    && self.after.feeder_lockouts == self.before.feeder_lockouts,
                Rule::NoLockout,
            ),
        ] {
            hold(!wrong || row.vetoes.has(rule), NAMES_IT)?;
        }
        Ok(())
    }

    /// Machine, flow, probes and drives.
    fn plant(&self, feeder: usize) -> Held {
        let (event, truth, figures) = (self.event, self.truth, &self.site.figures);
        let (own, limits) = (&truth.feeders[feeder], &figures.feeders[feeder]);
        let ask = event.asks[feeder];
        let governed = limits.governed && ask == Ask::Automatic;
        hold(event.gap == Gap::InTime, TICK_IN_TIME)?;
        hold(event.intact == Intact::Yes, SEALED)?;
        let delay = if truth.new_probe {
            figures.new_probe
        } else {
            figures.power_on
        };
        hold(truth.powered >= delay, POWER_ON)?;
        hold(
            event.water == Water::Flows && truth.flow >= figures.prove,
            FLOW,
        )?;
        hold(!governed || truth.flow >= figures.settle, SETTLED)?;
        let trusted = matches!(event.probe, Probe::Level(_) | Probe::Past);
        hold(!governed || trusted, PROBE)?;
        hold(!governed || event.probe != Probe::Past, CUTOFF)?;
        hold(
            event.body == Some(own.body) && truth.steady >= figures.steady,
            BODY,
        )?;
        let seen = limits.feedback.is_none() || event.drives[feeder] != Drive::Unseen;
        let ran = truth.feeders.iter().any(|own| own.ran);
        hold(seen && !ran, DRIVE)?;
        for (other, its) in truth.feeders.iter().enumerate() {
            if figures.feeders[other].acid != limits.acid {
                let row = &self.decision.feeders[other];
                let away = its.since_drive >= figures.purge && self.passed.on[other] == 0;
                hold(away && row.run.0 == 0, APART)?;
            }
        }
        hold(truth.feeders.iter().all(|own| own.standing == 0), LINE)
    }

    /// What the permit may still feed, its tick and the drive's off delay, is within every cap.
    fn doses(&self, feeder: usize) -> Held {
        let truth = self.truth;
        let (own, limits) = (&truth.feeders[feeder], &self.site.figures.feeders[feeder]);
        let more = 1 + limits.drive_off;
        hold(own.cycle + more <= limits.cycle, CYCLE)?;
        hold(own.cycle + more <= limits.run_max, RUN_TIME)?;
        if self.site.ledger {
            let sum = |buckets: &[u8]| buckets.iter().sum::<u8>() + more;
            hold(sum(&truth.hour) <= limits.hour, HOUR)?;
            hold(sum(&truth.day) <= limits.day, DAY)?;
        }
        Ok(())
    }

    /// What persons want.
    fn wanted(&self, feeder: usize) -> Held {
        let (event, truth, figures) = (self.event, self.truth, &self.site.figures);
        let own = &truth.feeders[feeder];
        let spec = self.site.feeder(feeder).ok_or(STOCK)?;
        hold(event.stock || !spec.level_switch.is_fitted(), STOCK)?;
        hold(!truth.lost, LEDGER)?;
        hold(event.inhibit == Inhibit::None, INHIBITED)?;
        hold(
            event.hours || !self.site.limits.spec().hours.is_fitted(),
            HOURS,
        )?;
        let ask = event.asks[feeder];
        let waived = matches!(ask, Ask::Manual | Ask::Fallback);
        let binding = if waived {
            own.causes & !bit(Lockout::Probe)
        } else {
            own.causes
        };
        hold(truth.causes == 0 && binding == 0, LOCKED_OUT)?;
        let more = 1 + figures.feeders[feeder].drive_off;
        let in_hand = event.button == Button::Held && own.manual + more <= figures.manual;
        hold(ask != Ask::Manual || in_hand, BY_HAND)?;
        hold(ask != Ask::Fallback || truth.fallback > 0, FALLBACK)
    }
}

/// Fallback is entered only while the probe is not trusted, with a fresh test.
pub(super) fn entered_soundly<const N: usize>(event: &Event<N>, act: Act) -> Held {
    let untrusted = matches!(event.probe, Probe::Service | Probe::Failed);
    match act {
        Act::EnterFallback(fresh) => hold(fresh && untrusted, FALLBACK),
        _ => Ok(()),
    }
}

//! The unit on trial: ours, one that is broken on purpose, or one without any guard.

use dosewarden::proof::{InterlockSet, ProofStep};
use dosewarden_sim::plant::{Commands, Senses};
use dosewarden_sim::scenario::{PersonAct, Scenario};
use dosewarden_sim::unit::{
    Canary, ControlUnit, DosewardenUnit, InsideFault, RateFound, Reply, Told, UnguardedUnit,
    UnitStatus,
};

/// How `run --canary` calls the unit without a guard.
const UNGUARDED: &str = "no-guard";
/// How the page calls our own unit.
const OURS: &str = "dosewarden";

/// A unit by its name.
pub(crate) enum Tried {
    Ours(Box<DosewardenUnit>),
    Unguarded(Box<UnguardedUnit>),
}

/// Names of all units.
pub(crate) fn names() -> Vec<&'static str> {
    let canaries = Canary::ALL.iter().map(|(name, _)| *name);
    [OURS]
        .into_iter()
        .chain(canaries)
        .chain([UNGUARDED])
        .collect()
}

/// What `run` has to be told to try this unit.
pub(crate) fn option(name: &str) -> String {
    if name == OURS {
        String::new()
    } else {
        format!(" --canary {name}")
    }
}

/// The unit that a file names where its first comments say how to replay it: a counterexample, or what the page saved.
pub(crate) fn named_in(text: &str) -> &str {
    let mut comments = text.lines().take_while(|line| line.starts_with('#'));
    let how = comments.find(|line| line.starts_with("# Replay it with:"));
    let words = how.unwrap_or_default().split_whitespace();
    let mut after = words.skip_while(|word| *word != "--canary").skip(1);
    after.next().unwrap_or(OURS)
}

impl Tried {
    /// The unit with this name, for a scenario.
    pub(crate) fn named(name: &str, scenario: &Scenario) -> Result<Self, String> {
        if name == UNGUARDED {
            let unit = UnguardedUnit::for_scenario(scenario);
            return Ok(Self::Unguarded(Box::new(unit)));
        }
        let unit = match Canary::named(name) {
            Some(canary) => DosewardenUnit::canary(scenario, canary),
            None if name == OURS => DosewardenUnit::for_scenario(scenario),
            None => {
                let all = names().join(", ");
                return Err(format!("no unit is called \"{name}\"; there are {all}"));
            }
        };
        Ok(Self::Ours(Box::new(unit)))
    }

    /// Our own, if that is it.
    pub(crate) fn ours(&self) -> Option<&DosewardenUnit> {
        match self {
            Self::Ours(unit) => Some(unit),
            Self::Unguarded(_) => None,
        }
    }
}

/// The same of either.
macro_rules! either {
    ($unit:expr, $own:ident => $what:expr) => {
        match $unit {
            Tried::Ours($own) => $what,
            Tried::Unguarded($own) => $what,
        }
    };
}

impl ControlUnit for Tried {
    fn power_up(&mut self) {
        either!(self, own => own.power_up());
    }

    fn power_down(&mut self) {
        either!(self, own => own.power_down());
    }

    fn time_passes(&mut self, true_ms: u32) {
        either!(self, own => own.time_passes(true_ms));
    }

    fn tick(&mut self, dt_ms: u32, senses: &Senses) -> Commands {
        either!(self, own => own.tick(dt_ms, senses))
    }

    fn person(&mut self, act: &PersonAct) -> Reply {
        either!(self, own => own.person(act))
    }

    fn late_reply(&mut self) -> Option<Reply> {
        either!(self, own => own.late_reply())
    }

    fn breaks(&mut self, fault: InsideFault) -> bool {
        either!(self, own => own.breaks(fault))
    }

    fn rate_found(&self, feeder: usize) -> Option<RateFound> {
        either!(self, own => own.rate_found(feeder))
    }

    fn told(&self, feeder: usize) -> Option<Told> {
        either!(self, own => own.told(feeder))
    }

    fn stored(&self) -> Option<[Option<&[u8]>; 2]> {
        either!(self, own => own.stored())
    }

    fn interlocks(&self) -> InterlockSet {
        either!(self, own => own.interlocks())
    }

    fn proof_waits_for(&self) -> Option<ProofStep> {
        either!(self, own => own.proof_waits_for())
    }

    fn status(&self) -> UnitStatus {
        either!(self, own => own.status())
    }

    fn refusal_names(&self) -> &[String] {
        either!(self, own => own.refusal_names())
    }

    fn alarm_names(&self) -> &[String] {
        either!(self, own => own.alarm_names())
    }
}

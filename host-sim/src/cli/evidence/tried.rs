//! The campaigns of the evidence, and in which faults each unit that is broken on purpose shows it.

use std::path::Path;

use crate::campaign::Mode;
use crate::fault::{self, Fault};
use crate::unit::Canary;

/// One campaign.
#[derive(Clone, Copy)]
pub(super) struct Tried {
    pub(super) mode: Mode,
    pub(super) runs: u64,
    /// Numbers of faults; all, if it is empty.
    pub(super) only: &'static [&'static str],
    pub(super) canary: Option<Canary>,
}

/// In which faults each broken unit shows what is wrong with it.
pub(super) const CAUGHT_BY: [Tried; 5] = [
    Tried {
        mode: Mode::Single,
        runs: 1,
        only: &[],
        canary: Some(Canary::NoHoldAfterRestart),
    },
    Tried {
        mode: Mode::Random,
        runs: 30,
        only: &["H1", "H5"],
        canary: Some(Canary::LateOnFlowLoss),
    },
    Tried {
        mode: Mode::Random,
        runs: 60,
        only: &["C8", "K10", "P5", "S10", "U9"],
        canary: Some(Canary::DayResetByPower),
    },
    Tried {
        mode: Mode::Pairs,
        runs: 0,
        only: &[
            "H2", "U12", "C6", "C9", "K10", "L1", "L2", "L3", "L4", "L5", "L7", "P1", "S18", "U7",
            "U9", "U10", "U13",
        ],
        canary: Some(Canary::LockoutGoneWithPower),
    },
    Tried {
        mode: Mode::Random,
        runs: 40,
        only: &["H2", "U10", "U12"],
        canary: Some(Canary::AcknowledgeReleases),
    },
];

impl Tried {
    /// Those that exist of them.
    pub(super) fn faults(&self) -> Vec<&'static Fault> {
        self.only.iter().filter_map(|id| fault::find(id)).collect()
    }

    /// What lives the same trials again.
    pub(super) fn command(&self, site: Option<&Path>) -> String {
        let mut command = format!("dosewarden campaign --faults {}", self.mode.name());
        if let Some(site) = site {
            command.push_str(&format!(" --site {}", site.display()));
        }
        if !self.only.is_empty() {
            command.push_str(&format!(" --only {}", self.only.join(",")));
        }
        if self.mode != Mode::Pairs {
            command.push_str(&format!(" --runs {}", self.runs));
        }
        command.push_str(" --seed 1");
        if let Some(canary) = self.canary {
            command.push_str(&format!(" --canary {}", canary.name()));
        }
        command
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_broken_unit_is_tried_by_faults_that_exist() {
        let tried = CAUGHT_BY.map(|tried| tried.canary);
        for (_, canary) in Canary::ALL {
            assert!(tried.contains(&Some(canary)), "{canary:?}");
        }
        for id in CAUGHT_BY.iter().flat_map(|tried| tried.only) {
            assert!(fault::find(id).is_some(), "{id}");
        }
    }
}

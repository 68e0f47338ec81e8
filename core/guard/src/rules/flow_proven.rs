//! `flow_proven`: water flows, by every witness, and has for a while
//!
//! Hazard: H-01, H-08
//! Statement: every required witness is fresh and has said flow without a break for `flow_prove`; one tick without it ends feed in that tick
//! Source: Texas 25 TAC 265.306(b)(5); Wyoming ch. 4 s. 4-11; CDC MMWR 2017;66(19):498-501
//! Clears: hold; when flow returns and stays for `flow_prove`
//! Parameters: flow_switch, flow_meter, pump_contact, feeder.cell_flow_switch, flow_prove, witness_age_max

use crate::answer::{Answer, Clear};
use crate::units::Millis;

/// Flow by one set of witnesses: now, and for how long without a break.
#[derive(Clone, Copy)]
pub(super) struct Flow {
    pub(super) now: bool,
    pub(super) proven: Millis,
}

/// Holds unless the site's witnesses, and the cell's own if it has one, have proven flow.
pub(super) fn judge(site: Flow, cell: Option<Flow>, flow_prove: Millis) -> Answer {
    one(site, flow_prove).and(cell.map_or(Answer::ALLOW, |cell| one(cell, flow_prove)))
}

fn one(flow: Flow, flow_prove: Millis) -> Answer {
    if !flow.now {
        return Answer::hold(Clear::FlowThen(flow_prove));
    }
    let rest = Millis(flow_prove.0.saturating_sub(flow.proven.0));
    Answer::hold_unless(rest.0 == 0, Clear::AfterFlow(rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    const PROVEN: Flow = Flow {
        now: true,
        proven: Millis(60),
    };

    #[test]
    fn flow_counts_once_it_has_lasted() {
        let flow = |now, proven| Flow {
            now,
            proven: Millis(proven),
        };
        assert_eq!(judge(PROVEN, None, Millis(60)), Answer::ALLOW);
        assert_eq!(
            judge(flow(true, 59), None, Millis(60)),
            Answer::hold(Clear::AfterFlow(Millis(1)))
        );
        assert_eq!(
            judge(flow(false, 60), None, Millis(60)),
            Answer::hold(Clear::FlowThen(Millis(60))),
            "one tick without flow ends the feed, however long it was proven"
        );
    }

    #[test]
    fn a_cell_needs_its_own_flow_too() {
        let cell = Flow {
            now: false,
            proven: Millis(60),
        };
        assert!(judge(PROVEN, Some(cell), Millis(60)).refuses);
        assert_eq!(judge(PROVEN, Some(PROVEN), Millis(60)), Answer::ALLOW);
    }
}

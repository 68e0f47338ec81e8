//! Lives aimed at one rule each.

use crate::script::{Bad, Copies, Demand, Event, Fault, Script};
use crate::site::Kit;

/// Some lives are aimed at one rule, because chance reaches it too seldom.
pub(crate) const DIRECTED: u32 = 31;

/// Aims a life at what this number stands for.
pub(crate) fn direct(script: &mut Script, focus: u32) {
    let plan = &mut script.plan;
    let mut add = |at, ticks, fault| script.events.push(Event { at, ticks, fault });
    match focus {
        0 => {
            plan.witnesses = 7;
            add(30, 20, Fault::Pump(Bad::No));
        }
        1 => {
            plan.timed_share = true;
            plan.flow_prove_s = 5;
            plan.purge_s = 3;
            add(40, 1, Fault::NoFlow);
        }
        2 => {
            plan.settle_s = 8;
            plan.timed_share = false;
            plan.purge_s = 3;
            plan.flow_prove_s = 2;
            add(40, 1, Fault::NoFlow);
        }
        3 => {
            plan.purge_s = 8;
            plan.settle_s = 2;
            plan.flow_prove_s = 2;
            plan.resume_s = 8;
            add(25, 1, Fault::NoFlow);
        }
        4 => {
            plan.timed_share = false;
            plan.kit = Kit::AcidHypo;
            plan.bodies = 1;
            add(30, 30, Fault::Orp(Bad::Check));
        }
        5 => {
            plan.timed_share = false;
            add(30, 30, Fault::PhPast);
        }
        6 => {
            plan.bodies = 2;
            plan.kit = Kit::AcidHypo;
            add(30, 5, Fault::Valves(Bad::Unknown));
        }
        _ => direct_plant(script, focus),
    }
}

/// Caps, drums and drives.
fn direct_plant(script: &mut Script, focus: u32) {
    let plan = &mut script.plan;
    let mut add = |at, ticks, fault| script.events.push(Event { at, ticks, fault });
    match focus {
        7 => {
            plan.run_max_percent = 60;
            plan.cycle_ticks = 8;
        }
        8 => {
            plan.hour_cycles = 1;
            plan.day_hours = 3;
            script.demand = Demand::One(0);
        }
        9 | 10 => {
            plan.hour_cycles = 3;
            plan.day_hours = 1;
            script.demand = Demand::One(0);
            script.pure = true;
            script.ticks = 300;
            if focus == 10 {
                plan.hour_cycles = 1;
            }
            script.events.clear();
            for at in [150, 155, 160] {
                let (ticks, fault) = (1, Fault::OffCredit(3700));
                script.events.push(Event { at, ticks, fault });
            }
        }
        11 => {
            plan.kit = Kit::AcidHypo;
            plan.level = true;
            add(30, 20, Fault::Stock(0, Bad::No));
            add(30, 20, Fault::Stock(1, Bad::No));
        }
        12 => {
            plan.feedback = true;
            add(20, 30, Fault::FeedbackOff(0));
            add(20, 30, Fault::FeedbackOff(1));
        }
        13 => {
            plan.feedback = true;
            add(20, 30, Fault::FeedbackOn(0));
        }
        _ => direct_persons(script, focus),
    }
}

/// Persons, modes, seals and power.
fn direct_persons(script: &mut Script, focus: u32) {
    let plan = &mut script.plan;
    let mut add = |at, ticks, fault| script.events.push(Event { at, ticks, fault });
    match focus {
        14 => {
            plan.hours = true;
            add(20, 30, Fault::HoursOver);
        }
        15 => {
            add(20, 60, Fault::ManualWithout(0));
            script.demand = Demand::One(0);
        }
        16 => {
            add(20, 90, Fault::Manual(0));
            script.demand = Demand::One(0);
        }
        17 | 18 => {
            plan.fallback = true;
            plan.timed_share = false;
            plan.kit = Kit::AcidHypo;
            plan.bodies = 1;
            script.demand = Demand::One(1);
            let fault = if focus == 17 {
                Fault::Fallback(1)
            } else {
                Fault::FallbackWithout(1)
            };
            add(10, 140, fault);
        }
        19 => {
            plan.unanswered_max = 1;
            plan.timed_share = false;
            plan.kit = Kit::AcidHypo;
            plan.hour_cycles = 3;
            script.demand = Demand::One(0);
            add(0, 300, Fault::Unanswered);
        }
        20 => {
            plan.timed_share = false;
            plan.kit = Kit::BaseHypo;
            script.demand = Demand::One(0);
            add(0, 300, Fault::WrongAnswer);
        }
        _ => direct_machine(script, focus),
    }
}

/// Power, seals, clock, and what persons and water do beside it.
fn direct_machine(script: &mut Script, focus: u32) {
    let plan = &mut script.plan;
    let mut add = |at, ticks, fault| script.events.push(Event { at, ticks, fault });
    match focus {
        21 => add(30, 1, Fault::PowerCut(100, Copies::Neither)),
        22 => {
            plan.restart_person = true;
            add(30, 1, Fault::PowerCut(100, Copies::Both));
        }
        23 => {
            script.pure = true;
            add(20, 1, Fault::State);
        }
        24 => {
            script.pure = true;
            add(20, 3, Fault::Limits);
        }
        25 => add(20, 1, Fault::Gap(40_000)),
        26 => {
            add(25, 1, Fault::Gap(5000));
            add(25, 2, Fault::NoFlow);
        }
        27 => add(30, 30, Fault::Inhibit(0)),
        28 => {
            add(10, 1, Fault::NewProbe);
            script.demand = Demand::One(0);
        }
        29 => {
            plan.kit = Kit::AcidHypo;
            plan.bodies = 1;
            script.demand = Demand::One(1);
            add(5, 1, Fault::Reduced);
            add(10, 150, Fault::PhWeak);
            add(40, 20, Fault::OrpNear(3));
            add(80, 20, Fault::OrpNear(4));
        }
        _ => {}
    }
}

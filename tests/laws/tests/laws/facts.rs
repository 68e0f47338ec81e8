//! Facts of a healthy site, and how a fault makes them worse.

use dosewarden_guard::units::{Body, FlowMlPerS, MilliPh, Millis, Millivolts, MinuteOfDay};
use dosewarden_guard::{Facts, FeederFacts, Health, Inhibits, Reading};

use crate::script::{Bad, Fault};

/// Everything well: water flows, pH can take acid or base, ORP is low.
pub(crate) fn healthy<const N: usize>() -> Facts<N> {
    let feeder = FeederFacts {
        feedback: Reading::now(Millis(0)),
        stock: Reading::now(true),
        cell_flow: Reading::now(true),
        hold_to_run: Reading::now(false),
    };
    Facts {
        flow_switch: Reading::now(true),
        flow_meter: Reading::now(FlowMlPerS(2000)),
        pump_run: Reading::now(true),
        ph: Reading::now(MilliPh(7500)),
        orp: Reading::now(Millivolts(650)),
        body: Reading::now(Body(0)),
        inhibits: Inhibits::NONE,
        minute: Reading::now(MinuteOfDay(600)),
        feeders: [feeder; N],
        ..Facts::UNKNOWN
    }
}

/// Makes a reading bad; `no` is the value that says no.
fn worsen<T: Copy>(reading: &mut Reading<T>, bad: Bad, no: T) {
    match bad {
        Bad::No => reading.value = no,
        Bad::Stale => reading.age = Millis(60_000),
        Bad::Failed => reading.health = Health::Failure,
        Bad::Check => reading.health = Health::CheckFunction,
        Bad::Unknown => *reading = Reading::unknown(reading.value),
    }
}

/// Applies a standing fault. `asked` is the run since the last tick, for feedback.
pub(crate) fn apply<const N: usize>(facts: &mut Facts<N>, fault: Fault, elapsed: u32) {
    let which = |feeder: u8| usize::from(feeder).min(N - 1);
    match fault {
        Fault::FlowSwitch(bad) => worsen(&mut facts.flow_switch, bad, false),
        Fault::FlowMeter(bad) => worsen(&mut facts.flow_meter, bad, FlowMlPerS(1499)),
        Fault::Pump(bad) => worsen(&mut facts.pump_run, bad, false),
        Fault::Cell(bad) => {
            for feeder in &mut facts.feeders {
                worsen(&mut feeder.cell_flow, bad, false);
            }
        }
        Fault::NoFlow => {
            facts.flow_switch.value = false;
            facts.flow_meter.value = FlowMlPerS(0);
            facts.pump_run.value = false;
        }
        Fault::Ph(bad) => worsen(&mut facts.ph, bad, MilliPh(6400)),
        Fault::Orp(bad) => worsen(&mut facts.orp, bad, Millivolts(900)),
        // Past acid's cut-off and an oxidiser's floor.
        Fault::PhPast => facts.ph.value = MilliPh(6850),
        Fault::PhWeak => facts.ph.value = MilliPh(7950),
        Fault::OrpNear(mv) => facts.orp.value = Millivolts(770 + i32::from(mv)),
        Fault::OrpPast => facts.orp.value = Millivolts(780),
        Fault::OtherBody => facts.body.value = Body(1),
        Fault::Valves(bad) => worsen(&mut facts.body, bad, Body(9)),
        Fault::Stock(feeder, bad) => {
            worsen(&mut facts.feeders[which(feeder)].stock, bad, false);
        }
        Fault::FeedbackOn(feeder) => {
            facts.feeders[which(feeder)].feedback = Reading::now(Millis(elapsed));
        }
        Fault::FeedbackOff(feeder) => {
            facts.feeders[which(feeder)].feedback = Reading::now(Millis(0));
        }
        Fault::Feedback(feeder, bad) => {
            let reading = &mut facts.feeders[which(feeder)].feedback;
            worsen(reading, bad, reading.value);
        }
        Fault::Inhibit(bit) => {
            facts.inhibits = facts.inhibits.with(Inhibits::from_bits(1 << bit));
        }
        Fault::HoursOver => facts.minute.value = MinuteOfDay(1200),
        Fault::Minute(bad) => worsen(&mut facts.minute, bad, MinuteOfDay(1440)),
        Fault::Manual(feeder) => facts.feeders[which(feeder)].hold_to_run.value = true,
        Fault::Fallback(_) | Fault::FallbackWithout(_) => facts.orp.health = Health::Failure,
        _ => {}
    }
}

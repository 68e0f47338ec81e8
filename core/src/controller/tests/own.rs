//! A regulator of somebody else's, by reference, at a site with one feeder and other buckets.

use crate::bench::{ACID, SETTINGS_SPEC, SPEC, healthy};
use crate::guard::units::{Dose, Fitted};
use crate::guard::{Facts, FeederLimits, Inhibits, Limits, LimitsSpec, Restored, Rule, TickClock};
use crate::regulate::{Regulator, View};
use crate::settings::{Settings, SettingsSpec};
use crate::{Controller, Inputs, Phase};

struct Own {
    asked: u32,
}

impl Regulator for Own {
    fn propose(&mut self, view: &View) -> Dose {
        self.asked += 1;
        if view.value > Some(7500) {
            view.dose_min
        } else {
            Dose(0)
        }
    }
}

#[test]
fn regulators_can_be_brought_along() {
    let mut own = Own { asked: 0 };
    let spec = LimitsSpec {
        feeders: [FeederLimits::Enabled(ACID)],
        ..one_feeder()
    };
    let settings = SettingsSpec {
        alarms: SETTINGS_SPEC.alarms,
        drums: [Fitted::NotFitted],
        level_errors: [Fitted::NotFitted],
        response: Fitted::NotFitted,
    };
    let by_reference: [&mut dyn Regulator; 1] = [&mut own];
    let (mut controller, found) = Controller::<1, 1, 13, 49, _>::restore(
        Limits::try_new(spec).unwrap(),
        Settings::try_new(settings).unwrap(),
        by_reference,
        None,
        None,
    );
    assert_eq!(found, Restored::Lost);
    let mut clock = TickClock::new();
    let facts = Facts::<1> {
        feeders: [healthy().feeders[0]],
        flow_switch: healthy().flow_switch,
        pump_run: healthy().pump_run,
        ph: healthy().ph,
        inhibits: Inhibits::NONE,
        ..Facts::UNKNOWN
    };
    let mut inputs = Inputs::new(facts);
    for second in 0..200 {
        let mut outputs = controller.tick(clock.step(second * 1000), &inputs);
        assert!(outputs.permit::<0>().is_none() && outputs.master().is_none());
        inputs.facts.saved = None;
    }
    assert_eq!(
        controller.phase(0),
        Some(Phase::LockedOut(Rule::LedgerTrusted))
    );
    assert_eq!(controller.phase(1), None);
    drop(controller);
    assert_eq!(own.asked, 200);
}

/// The usual site's rules for a site with one feeder.
fn one_feeder() -> LimitsSpec<1, 1> {
    LimitsSpec {
        tick_gap_max: SPEC.tick_gap_max,
        power_on_delay: SPEC.power_on_delay,
        power_on_delay_new_probe: SPEC.power_on_delay_new_probe,
        restart_after_power_loss: SPEC.restart_after_power_loss,
        flow_switch: SPEC.flow_switch,
        flow_meter: SPEC.flow_meter,
        pump_contact: SPEC.pump_contact,
        witness_age_max: SPEC.witness_age_max,
        flow_prove: SPEC.flow_prove,
        stuck_flow_max: SPEC.stuck_flow_max,
        ph_probe: SPEC.ph_probe,
        orp_probe: Fitted::NotFitted,
        probe_age_max: SPEC.probe_age_max,
        probe_settle: SPEC.probe_settle,
        probe_failure_max: SPEC.probe_failure_max,
        body_valves: SPEC.body_valves,
        purge: SPEC.purge,
        resume_within: SPEC.resume_within,
        save_max: SPEC.save_max,
        manual_max: SPEC.manual_max,
        hours: SPEC.hours,
        response: SPEC.response,
        fallback: Fitted::NotFitted,
        off_credit_max: SPEC.off_credit_max,
        off_credit_ratio: SPEC.off_credit_ratio,
        feeders: [FeederLimits::Disabled],
    }
}

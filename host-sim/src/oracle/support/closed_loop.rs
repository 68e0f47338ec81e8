//! Plant and oracles together, driven by a small controller of the tests' own: a right one is
//! held by all, and each wrong one is caught by the oracle that stands for it.

use super::bounds::{FeederBounds, SiteBounds, TimeBounds};
use crate::oracle::{Annunciation, OracleSet};
use crate::plant::{
    Commands, FeederCommand, FeederKind, FeederSpec, Plant, PlantFault, PlantSpec, Senses,
};

/// What a wrong controller does wrong.
#[derive(Clone, Copy, PartialEq)]
enum Wrong {
    Nothing,
    IgnoresFlow,
    NoHold,
    NoPurge,
    NoCutoff,
    NoDelay,
    NeverFeeds,
    ForgetsAtCut,
    IgnoresProbesAndHold,
}

/// Feeds 90 s of acid above pH 7.5 or of chlorine below 725 mV, then waits for 20 min of flow.
struct FeedLoop {
    wrong: Wrong,
    age_s: u32,
    flowing_s: u32,
    since_s: [u32; 2],
    left_s: [u32; 2],
}

impl FeedLoop {
    fn new(wrong: Wrong) -> Self {
        Self {
            wrong,
            age_s: 0,
            flowing_s: 0,
            since_s: [1200; 2],
            left_s: [0; 2],
        }
    }

    fn tick(&mut self, senses: &Senses) -> Commands {
        let wrong = self.wrong;
        let flow = senses.flow_switch || wrong == Wrong::IgnoresFlow;
        self.age_s += 1;
        self.flowing_s = if flow { self.flowing_s + 1 } else { 0 };
        for since in &mut self.since_s {
            *since += u32::from(flow);
        }
        let ready = (self.age_s > 120 && self.flowing_s > 120) || wrong == Wrong::NoDelay;
        let floods = wrong == Wrong::IgnoresProbesAndHold;
        let no_hold = floods || wrong == Wrong::NoHold;
        let hold_s = if no_hold { 60 } else { 1200 };
        let purge_s = if wrong == Wrong::NoPurge { 0 } else { 60 };
        let acid = senses.ph.value > 7.5 || wrong == Wrong::NoCutoff;
        let wanted = [acid && !floods, senses.orp.value < 725.0 || floods];
        for (i, wanted) in wanted.into_iter().enumerate() {
            let other = 1 - i;
            let apart = self.since_s[other] > purge_s && self.left_s[other] == 0;
            let alone = apart || wrong == Wrong::NoPurge;
            if wanted && self.left_s[i] == 0 && self.since_s[i] > hold_s && alone {
                self.left_s[i] = 90;
            }
        }
        let mut commands = Commands {
            master: true,
            ..Commands::IDLE
        };
        for i in 0..2 {
            if !ready || !flow || wrong == Wrong::NeverFeeds {
                self.left_s[i] = 0;
            }
            if self.left_s[i] > 0 {
                self.left_s[i] -= 1;
                self.since_s[i] = 0;
                commands.feeders[i] = FeederCommand::ON;
            }
        }
        commands
    }
}

fn site() -> SiteBounds {
    let feeder = FeederBounds {
        drive_off_ms: 50,
        overrun_max: 1100.0,
        cycle_cap: Some(91_000.0),
        run_ms_max: Some(91_000),
        hour_cap: Some(273_000.0),
        day_cap: Some(3_500_000.0),
        spread_hold_ms: 1_200_000,
        purge_ms: 60_000,
        rate_ratio: 1.0,
        probe_settle_ms: Some(120_000),
        level_switch: true,
        ..FeederBounds::UNJUDGED
    };
    SiteBounds {
        tick_gap_max_ms: 1_000,
        power_on_delay_ms: 120_000,
        resume_within_ms: 300_000,
        probe_lag_ms: 180_000,
        acid_cutoff_ph: Some(7.4),
        probe_error_ph: 0.05,
        chlorine_cutoff_mv: None,
        probe_error_mv: 0.0,
        chlorine_min_mg_l: 1.0,
        gas_max_g: 0.05,
        acid_wanted_above_ph: Some(7.6),
        chlorine_wanted_below_mg_l: Some(1.2),
        fed_within_ms: 3_600_000,
        told_within_ms: 7_200_000,
        kept: None,
        times: TimeBounds {
            flow_prove_ms: 60_000,
            ..TimeBounds::UNJUDGED
        },
        feeders: vec![feeder; 2],
    }
}

/// A day from 8:00 with a pump trip from 10:00 to 10:30, a power cut of 2 s at 11:00; the names of
/// the oracles that were broken.
fn day(wrong: Wrong) -> Vec<&'static str> {
    let mut spec = PlantSpec {
        start_min: 8 * 60,
        ..PlantSpec::default()
    };
    spec.bodies[0].water.ph = 7.9;
    spec.bodies[0].water.cyanuric_acid_mg_l = 0.0;
    spec.bodies[0].orp_at_1_mg_l_mv = 720.0;
    spec.bodies[0].sun_peak_per_h = 0.12;
    let mut plant = Plant::new(spec, 11).unwrap();
    let mut oracles = OracleSet::new(site());
    let mut feed_loop = FeedLoop::new(wrong);
    let told = Annunciation::default();
    for second in 0..86_400 {
        match second {
            7_200 => plant.set_fault(PlantFault::CirculationTripped),
            9_000 => plant.clear_faults(),
            _ => {}
        }
        let commands = if (10_800..10_802).contains(&second) {
            feed_loop = FeedLoop::new(wrong);
            if wrong != Wrong::ForgetsAtCut {
                feed_loop.since_s = [0; 2];
            }
            Commands::UNPOWERED
        } else {
            feed_loop.tick(&plant.senses())
        };
        plant.step(1000, &commands);
        oracles.observe(plant.truth(), &told);
    }
    oracles.finish(plant.truth(), &told);
    let broken = oracles.verdicts().filter(|f| f.verdict.is_broken());
    broken.map(|f| f.name).collect()
}

#[test]
fn a_right_controller_is_held_by_all() {
    assert_eq!(day(Wrong::Nothing), Vec::<&str>::new());
}

#[test]
fn each_wrong_controller_is_caught() {
    for (wrong, oracle) in [
        (Wrong::IgnoresFlow, "standing_water"),
        (Wrong::NoHold, "cycle_total"),
        (Wrong::NoHold, "hour_total"),
        (Wrong::NoPurge, "never_both"),
        (Wrong::NoCutoff, "acid_floor"),
        (Wrong::NoDelay, "power_on_delay"),
        (Wrong::NeverFeeds, "fed_or_asked"),
        (Wrong::NeverFeeds, "poor_water_alarmed"),
        (Wrong::IgnoresFlow, "line_gas"),
        (Wrong::ForgetsAtCut, "holds_kept"),
        (Wrong::IgnoresProbesAndHold, "day_total"),
        (Wrong::IgnoresProbesAndHold, "chlorine_ceiling"),
    ] {
        let broken = day(wrong);
        assert!(broken.contains(&oracle), "{oracle} not in {broken:?}");
    }
}

#[test]
fn a_cell_that_ignores_flow_is_caught() {
    let mut spec = PlantSpec {
        start_min: 8 * 60,
        ..PlantSpec::default()
    };
    spec.feeders[1] = FeederSpec::new(FeederKind::Generator {
        g_per_h: 20.0,
        cell_switch: true,
        co2_strip_cm_h: 0.5,
    });
    let mut plant = Plant::new(spec, 1).unwrap();
    let mut oracles = OracleSet::new(site());
    let mut on = Commands {
        master: true,
        ..Commands::IDLE
    };
    on.feeders[1] = FeederCommand::ON;
    for second in 0..400 {
        if second == 300 {
            plant.set_fault(PlantFault::CirculationTripped);
        }
        let idle = second < 200;
        plant.step(1000, if idle { &Commands::IDLE } else { &on });
        oracles.observe(plant.truth(), &Annunciation::default());
    }
    let found = oracles.verdicts().find(|f| f.name == "cell_flow").unwrap();
    assert!(found.verdict.is_broken());
}

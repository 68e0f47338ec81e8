//! Proptest strategies for random pools, commands and faults (feature `strategies`).

use super::{
    BasinSpec, CirculationSpec, Commands, DayWindow, FeederCommand, FeederFault, FeederKind,
    FeederSpec, MAX_FEEDERS, PlantFault, PlantSpec, ProbeFault, ProbeId, TemperatureSpec,
    WaterSpec,
};
use proptest::prelude::*;

/// A window of one hour at least, anywhere in the day, over midnight too.
pub fn any_window() -> impl Strategy<Value = DayWindow> {
    (0_u16..1440, 60_u16..1440).prop_map(|(from_min, length)| DayWindow {
        from_min,
        to_min: (from_min + length - 1) % 1440 + 1,
    })
}

/// A pool of 20 to 500 m3 in ordinary water, with sun and bathers of any ordinary size.
pub fn any_basin() -> impl Strategy<Value = BasinSpec> {
    (
        (20.0..500.0_f64, 1.0..2.5_f64, 10.0..35.0_f64),
        (7.2..7.9_f64, 60.0..180.0_f64, 0.5..4.0_f64),
        (0.5..8.0_f64, 0.02..0.9_f64, 0.0..100.0_f64),
        any_window(),
    )
        .prop_map(|(shape, water, losses, bathing)| BasinSpec {
            volume_m3: shape.0,
            depth_m: shape.1,
            temperature: TemperatureSpec::steady(shape.2),
            water: WaterSpec {
                ph: water.0,
                alkalinity_mg_l: water.1,
                free_chlorine_mg_l: water.2,
                ..WaterSpec::default()
            },
            co2_transfer_cm_h: losses.0,
            sun_peak_per_h: losses.1,
            bathers_per_day: losses.2,
            bathing,
            ..BasinSpec::default()
        })
}

/// A circulation that turns the water over in 3 to 10 h, for a part of the day.
pub fn any_circulation(volume_m3: f64) -> impl Strategy<Value = CirculationSpec> {
    (
        3.0..10.0_f64,
        0.0..20.0_f64,
        0.0..3.0_f64,
        5.0..80.0_f64,
        proptest::collection::vec(any_window(), 1..3),
        any::<[bool; 2]>(),
    )
        .prop_map(
            move |(turnover_h, spin_up_s, run_down_s, line_volume_l, timetable, fitted)| {
                let flow_l_min = (volume_m3 * 1000.0 / turnover_h / 60.0).max(10.0);
                CirculationSpec {
                    timetable,
                    frost: None,
                    flow_l_min,
                    speeds: Vec::new(),
                    spin_up_s,
                    run_down_s,
                    feed_min_l_min: 0.4 * flow_l_min,
                    line_volume_l,
                    switch_make_l_min: 0.6 * flow_l_min,
                    switch_break_l_min: 0.5 * flow_l_min,
                    flow_meter: fitted[0],
                    pump_contact: fitted[1],
                }
            },
        )
}

/// A pool with an acid pump and a hypochlorite pump, or in a third of cases a generator, each of a
/// size that suits the water.
pub fn any_spec() -> impl Strategy<Value = PlantSpec> {
    any_basin()
        .prop_flat_map(|basin| {
            let circulation = any_circulation(basin.volume_m3);
            let drops = (0_u32..200, 0_u32..200);
            (
                Just(basin),
                circulation,
                0.3..1.5_f64,
                0_u8..3,
                drops,
                0_u16..1440,
            )
        })
        .prop_map(
            |(basin, circulation, size, kind, (on_delay_ms, off_delay_ms), start_min)| {
                let ml_per_min = size * basin.volume_m3;
                let chlorine = if kind == 0 {
                    FeederKind::Generator {
                        g_per_h: 0.2 * basin.volume_m3,
                        cell_switch: true,
                        co2_strip_cm_h: 0.5,
                    }
                } else {
                    FeederKind::Hypochlorite {
                        ml_per_min,
                        g_per_l: 125.0,
                    }
                };
                let acid = FeederKind::Acid {
                    ml_per_min,
                    mol_per_l: 9.971,
                };
                let feeder = |kind| FeederSpec {
                    on_delay_ms,
                    off_delay_ms,
                    ..FeederSpec::new(kind)
                };
                PlantSpec {
                    bodies: vec![basin],
                    circulation,
                    feeders: vec![feeder(acid), feeder(chlorine)],
                    start_min,
                    ..PlantSpec::default()
                }
            },
        )
}

/// Any outputs of a controller, mostly alive and powered, the first two feeders in use.
pub fn any_commands() -> impl Strategy<Value = Commands> {
    (
        proptest::bool::weighted(0.9),
        proptest::bool::weighted(0.9),
        proptest::bool::weighted(0.8),
        any::<[bool; 2]>(),
        proptest::option::of(0_u32..5000),
    )
        .prop_map(|(powered, kick, master, on, cut_after_ms)| {
            let mut commands = Commands {
                powered,
                kick,
                master,
                feeders: [FeederCommand::OFF; MAX_FEEDERS],
            };
            for (feeder, on) in commands.feeders.iter_mut().zip(on) {
                *feeder = FeederCommand { on, cut_after_ms };
            }
            commands
        })
}

/// Any fault of the water path and its witnesses.
pub fn any_flow_fault() -> impl Strategy<Value = PlantFault> {
    prop_oneof![
        Just(PlantFault::CirculationTripped),
        (0.0..1.0_f64).prop_map(PlantFault::FlowReduced),
        Just(PlantFault::FlowSwitchStuckOn),
        Just(PlantFault::FlowSwitchStuckOff),
        Just(PlantFault::FlowSwitchChatters),
        Just(PlantFault::PumpContactStuckOn),
        Just(PlantFault::PumpContactStuckOff),
    ]
}

/// Any fault of a feeder, its drive or its drum.
pub fn any_feeder_fault() -> impl Strategy<Value = FeederFault> {
    prop_oneof![
        Just(FeederFault::ContactWelded),
        Just(FeederFault::NeverCloses),
        (0_u32..5000).prop_map(FeederFault::LateOff),
        (0.1..6.0_f64).prop_map(FeederFault::Rate),
        Just(FeederFault::FeedbackStuckOff),
        Just(FeederFault::FeedbackStuckOn),
        Just(FeederFault::LostPrime),
        (1.0..1000.0_f64).prop_map(FeederFault::Siphon),
        Just(FeederFault::DrumEmpty),
        Just(FeederFault::LevelStuckFull),
        Just(FeederFault::LevelStuckEmpty),
        (0.1..2.0_f64).prop_map(FeederFault::Strength),
        Just(FeederFault::CellDead),
        Just(FeederFault::CellSwitchStuckOn),
        Just(FeederFault::CellSwitchStuckOff),
    ]
}

/// Any fault of a probe, sized for pH; ORP takes a hundred times as much.
pub fn any_probe_fault() -> impl Strategy<Value = PlantFault> {
    (any::<bool>(), 0_u8..8, 0.0..1.0_f64).prop_map(|(orp, which, size)| {
        let (id, scale) = if orp {
            (ProbeId::Orp, 100.0)
        } else {
            (ProbeId::Ph, 1.0)
        };
        let fault = match which {
            0 => ProbeFault::Open,
            1 => ProbeFault::Shorted,
            2 => ProbeFault::Frozen,
            3 => ProbeFault::Drift(scale * (size - 0.5)),
            4 => ProbeFault::Offset(scale * (size - 0.5)),
            5 => ProbeFault::Noise(scale * size),
            6 => ProbeFault::Slope(size),
            _ => ProbeFault::Sluggish(1.0 + 30.0 * size),
        };
        PlantFault::Probe(id, fault)
    })
}

/// Any fault of the plant, of one of the first two feeders if of a feeder.
pub fn any_fault() -> impl Strategy<Value = PlantFault> {
    prop_oneof![
        3 => any_flow_fault(),
        3 => (0_usize..2, any_feeder_fault()).prop_map(|(i, f)| PlantFault::Feeder(i, f)),
        3 => any_probe_fault(),
        1 => Just(PlantFault::MasterWelded),
        1 => Just(PlantFault::MasterNeverCloses),
        1 => Just(PlantFault::DeadManBridged),
        1 => (0.0..5.0_f64).prop_map(PlantFault::BatherLoad),
    ]
}

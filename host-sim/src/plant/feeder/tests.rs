//! Feeder, drum and cell by themselves.

use super::super::spec::DrumDecay;
use super::*;

fn acid() -> Feeder {
    Feeder::new(&FeederSpec {
        on_delay_ms: 0,
        level_switch_l: Some(5.0),
        ..FeederSpec::new(FeederKind::Acid {
            ml_per_min: 60.0,
            mol_per_l: 10.0,
        })
    })
}

#[test]
fn a_second_of_a_millilitre_a_second() {
    let feeder = acid();
    let mut truth = feeder.truth();
    let out = feeder.feed(Interval::whole(1000), 1000, true, &mut truth);
    assert!((truth.fed - 1000.0).abs() < 1e-9);
    assert!((out.acid - 0.01).abs() < 1e-12);
    assert_eq!(truth.fed_standing, 0.0);
    feeder.feed(Interval::whole(500), 1000, false, &mut truth);
    assert!((truth.fed_standing - 500.0).abs() < 1e-9);
    assert!(!truth.drive_on && truth.drive_on_ms == 500);
}

#[test]
fn a_generator_counts_milligrams() {
    let cell = Feeder::new(&FeederSpec::new(FeederKind::Generator {
        g_per_h: 36.0,
        cell_switch: true,
        co2_strip_cm_h: 0.5,
    }));
    let mut truth = cell.truth();
    let out = cell.feed(Interval::whole(1000), 1000, true, &mut truth);
    assert!((truth.fed - 10.0).abs() < 1e-9);
    assert!((out.chlorine * CHLORINE_G_PER_MOL - 0.01).abs() < 1e-12);
    assert_eq!(truth.drum, f64::INFINITY);
    assert_eq!(cell.sense(&truth, 1000, true).cell_flow, Some(true));
}

#[test]
fn hydrogen_gathers_in_standing_water_and_goes_with_the_flow() {
    let cell = Feeder::new(&FeederSpec::new(FeederKind::Generator {
        g_per_h: 26.0,
        cell_switch: true,
        co2_strip_cm_h: 0.5,
    }));
    let mut truth = cell.truth();
    for _ in 0..3600 {
        cell.feed(Interval::whole(1000), 1000, false, &mut truth);
    }
    // 26 g/h of chlorine come with 9 L/h of hydrogen (common practice, no source), here by moles.
    assert!(
        (truth.hydrogen_l - 9.0).abs() < 0.25,
        "{}",
        truth.hydrogen_l
    );
    assert!((cell.strip_cm_h(&truth, 2000) - 0.25).abs() < 1e-12);
    cell.feed(Interval::EMPTY, 1000, true, &mut truth);
    assert_eq!(truth.hydrogen_l, 0.0);
}

#[test]
fn hypochlorite_loses_strength_and_a_refill_brings_it_back() {
    let feeder = Feeder::new(&FeederSpec {
        decay: Some(DrumDecay {
            half_life_days: 100.0,
            drum_c: 35.0,
        }),
        free_alkali_eq_l: 0.2,
        ..FeederSpec::new(FeederKind::Hypochlorite {
            ml_per_min: 60.0,
            g_per_l: 125.0,
        })
    });
    let mut truth = feeder.truth();
    // 3.5 times as fast at 35 C: half is gone in 28.57 days.
    for _ in 0..28_571 * 24 * 60 / 1000 {
        feeder.feed(Interval::EMPTY, 60_000, true, &mut truth);
    }
    assert!((truth.strength - 0.5).abs() < 1e-4, "{}", truth.strength);
    let out = feeder.feed(Interval::whole(1000), 1000, true, &mut truth);
    assert!((out.chlorine * CHLORINE_G_PER_MOL - 0.0625).abs() < 1e-5);
    assert!((out.alkali - 0.2e-3).abs() < 1e-12);
    truth.drum = 30e6;
    feeder.refill(&mut truth);
    assert_eq!(truth.drum, 60e6);
    assert!((truth.strength - 0.75).abs() < 1e-4);
}

#[test]
fn a_drum_gives_no_more_than_it_has() {
    let feeder = acid();
    let mut truth = feeder.truth();
    truth.drum = 300.0;
    feeder.feed(Interval::whole(1000), 1000, true, &mut truth);
    assert_eq!((truth.fed, truth.drum), (300.0, 0.0));
    assert!(feeder.is_empty(&truth));
    assert_eq!(feeder.sense(&truth, 1000, true).stock, Some(false));
}

#[test]
fn the_master_cuts_a_welded_contact() {
    let mut feeder = acid();
    feeder.set_faults(0, &[PlantFault::Feeder(0, FeederFault::ContactWelded)]);
    let on = feeder.drive(FeederCommand::OFF, 1000, 1000, Interval::whole(1000));
    assert_eq!(on.len(), 1000);
    let cut = feeder.drive(FeederCommand::OFF, 1000, 1000, Interval::EMPTY);
    assert_eq!(cut.len(), 0);
}

#[test]
fn faults_of_output_and_senses() {
    let mut feeder = acid();
    let fed = |feeder: &Feeder| {
        let mut truth = feeder.truth();
        feeder.feed(Interval::whole(1000), 1000, true, &mut truth);
        truth.fed
    };
    let mut with = |fault| {
        feeder.set_faults(0, &[PlantFault::Feeder(0, fault)]);
        feeder.clone()
    };
    assert_eq!(fed(&with(FeederFault::LostPrime)), 0.0);
    assert_eq!(fed(&with(FeederFault::DrumEmpty)), 0.0);
    assert!((fed(&with(FeederFault::Rate(2.0))) - 2000.0).abs() < 1e-9);
    assert!((fed(&with(FeederFault::Siphon(36.0))) - 1010.0).abs() < 1e-9);
    let full = with(FeederFault::LevelStuckFull);
    let mut truth = full.truth();
    truth.drum = 0.0;
    assert_eq!(full.sense(&truth, 1000, true).stock, Some(true));
    let lies = with(FeederFault::FeedbackStuckOn);
    assert_eq!(lies.sense(&truth, 1000, true).drive_on_ms, Some(1000));
    let mut late = with(FeederFault::LateOff(700));
    late.drive(FeederCommand::ON, 1000, 1000, Interval::whole(1000));
    let on = late.drive(FeederCommand::OFF, 1000, 1000, Interval::whole(1000));
    assert_eq!(on.len(), 750);
}

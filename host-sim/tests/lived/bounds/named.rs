//! The trials that are named.

use std::collections::BTreeSet;

use dosewarden_sim::campaign::{Bounds, Case, Mode, Shard, Subject, Trials, run};
use dosewarden_sim::fault::{Chosen, Part, find};
use dosewarden_sim::plant::{ProbeId, Product};

use super::trials::{HOME, before_dose, judged, lived, of_site};

/// Entries that no campaign of the tables needs, kept for these reasons; a trial here needs each of them.
pub(crate) const NEEDED: [(&str, &str); 1] = [(
    "U1, A4: standing_water",
    "the pump has to trip within the first seconds of a dose at many times the entered rate",
)];

const SITE: Part = Part::Site;

/// What rare trials of a campaign at random find is tried here by name, so that each of these entries is needed by some
/// trial that everybody lives.
#[test]
fn entries_that_few_trials_need_are_needed_by_a_trial_by_name() {
    let subject = &*HOME;
    let needs = |faults: &[(&str, Part, f64, u64)], hours: u64, names: &[&str]| {
        let one = |(id, part, severity, minutes): &(&str, Part, f64, u64)| {
            before_dose(subject, id, *part, *severity, *minutes)
        };
        let chosen: Vec<_> = faults.iter().map(one).collect();
        let (outside, needed) = judged(subject, &chosen, &lived(subject, &chosen, hours));
        assert_eq!(outside, Vec::<String>::new(), "{faults:?}");
        for name in names {
            assert!(
                needed.contains(*name),
                "{faults:?} need {needed:?}, not {name}"
            );
        }
    };
    // The pump trips 5 s into a dose at six times the entered rate.
    let fast = [("U1", Part::Feeder(0), 1.0, 1), ("H1", SITE, 1.0, 1)];
    needs(&fast, 1, &["U1, A4: standing_water"]);
    // The same with every witness of flow bridged: doses and holds go on in standing water.
    let bridged = [("U12", SITE, 1.0, 1), ("H1", SITE, 1.0, 1)];
    let names = [
        "standing_water",
        "line_gas",
        "never_both",
        "holds_kept",
        "cycle_total",
        "charge_stored",
    ];
    let names = names.map(|oracle| format!("U12: {oracle}"));
    needs(&bridged, 6, &names.each_ref().map(String::as_str));
}

/// Acid at six times the entered rate, and a pH probe that stays where it was, over the set point. pH under 6.5 is an
/// imminent hazard (US CDC Model Aquatic Health Code 6.6.3.1).
#[test]
fn acid_at_six_times_its_rate_with_a_frozen_probe_never_takes_ph_under_six_and_a_half() {
    for site in ["home-pool", "community-pool", "salt-pool"] {
        let subject = of_site(site);
        let feeders = &subject.scenario.plant.feeders;
        let acid = feeders
            .iter()
            .position(|feeder| feeder.kind.product() == Product::Acid)
            .expect("acid");
        let sound = lived(&subject, &[], 24).ph;
        for minutes in [1, 5, 10, 15] {
            let pair = [
                before_dose(&subject, "U1", Part::Feeder(acid), 1.0, minutes),
                before_dose(&subject, "S3", Part::Probe(ProbeId::Ph), 1.0, minutes),
            ];
            assert!((pair[0].times(&subject.scenario) - 6.0).abs() < 1e-9);
            let outcome = lived(&subject, &pair, 24);
            let ph = outcome.ph;
            assert!(ph.0 >= 6.5, "{site}, {minutes}: pH fell to {:.2}", ph.0);
            let (outside, _) = judged(&subject, &pair, &outcome);
            assert_eq!(outside, Vec::<String>::new(), "{site}, {minutes}");
            // The pair did something: another pH than on a sound day.
            let apart = (ph.0 - sound.0).abs().max((ph.1 - sound.1).abs());
            assert!(apart > 0.005, "{site}, {minutes}: {ph:?} as {sound:?}");
        }
    }
}

/// A counter that stands for ten minutes in a dose, and a program that hangs as long: how long the rest of the dose has
/// waited the unit cannot know, so it has to wait out the whole hold.
#[test]
fn the_rest_of_a_dose_waits_out_the_hold_after_time_that_nobody_counted() {
    let subject = &*HOME;
    for (id, after_s) in [("K6", 20), ("K4", 0)] {
        let mut one = before_dose(subject, id, SITE, 1.0, 0);
        one.at_ms += after_s * 1_000;
        one.for_ms = Some(600_000);
        let outcome = lived(subject, &[one], 3);
        let names: Vec<&str> = outcome.broken.iter().map(|broken| broken.oracle).collect();
        assert!(!names.contains(&"holds_kept"), "{id}: {:?}", outcome.broken);
        let sound = lived(subject, &[], 3);
        assert_ne!(outcome.ph, sound.ph, "{id}: nothing was interrupted");
    }
}

/// Cyanuric acid is an acid: half of the water is fresh, and then it is poured.
#[test]
fn cyanuric_acid_in_fresh_water_takes_ph_no_lower_than_its_bound() {
    let subject = &*HOME;
    let acids = [("C9", SITE, 1.0, 15), ("C6", SITE, 1.0, 1)];
    let acids =
        acids.map(|(id, part, size, minutes)| before_dose(subject, id, part, size, minutes));
    let outcome = lived(subject, &acids, 24);
    assert!(outcome.ph.0 > 6.3 && outcome.ph.0 < 6.5, "{:?}", outcome.ph);
}

/// Of a single fault the first trial is as the catalogue says, at severity 1. The others draw: of what changes the site from the
/// start (a basin that is smaller than entered doses too much, one that is larger too little) one of five sizes in turn, of
/// another fault each its own; every other one how long it stands.
#[test]
fn the_trials_of_a_single_fault_differ_and_the_first_is_the_catalogues_at_severity_one() {
    let subject = &*HOME;
    let drawn = |id: &str, seed: u64| {
        let only = vec![find(id).expect("a fault")];
        let trials = Trials::new(Mode::Single, seed, Some(6), only, subject);
        let all = trials.numbers().filter_map(|number| trials.get(number));
        all.map(|planned| planned.chosen[0])
            .collect::<Vec<Chosen>>()
    };
    let sizes = |all: &[Chosen]| all.iter().map(|one| one.severity).collect::<Vec<f64>>();
    assert_eq!(sizes(&drawn("U2", 1)), [1.0, 0.0, 0.5, 0.25, 0.75, 1.0]);
    let mut bathers = sizes(&drawn("C8", 1));
    assert_eq!(bathers[0].total_cmp(&1.0), core::cmp::Ordering::Equal);
    bathers.sort_by(f64::total_cmp);
    bathers.dedup();
    assert_eq!(bathers.len(), 6);
    // A contact that is bridged can be mended.
    let bridged = drawn("U12", 1);
    let own = bridged.iter().map(|one| one.for_ms.is_some());
    let every_other = [false, true, false, true, false, true];
    assert_eq!(own.collect::<Vec<_>>(), every_other);
    let onsets: BTreeSet<u64> = bridged.iter().map(|one| one.at_ms).collect();
    assert!(onsets.len() > 3, "{onsets:?}");
    assert_ne!(sizes(&bridged), sizes(&drawn("U12", 2)));
}

/// Only in the first trial of a single fault somebody has to be told.
#[test]
fn the_first_trial_of_a_single_fault_is_judged_by_who_was_told() {
    let subject = &*HOME;
    let only = vec![find("T1").expect("a fault"), find("K5").expect("a fault")];
    let trials = Trials::new(Mode::Single, 1, Some(3), only, subject);
    let bounds = Bounds::committed();
    let report = run(subject, &trials, &bounds, Shard::ALL, |_| true).expect("lived");
    let first = |case: &Case| case.gravest.as_ref().map(|one| one.trial % 3);
    assert_eq!(
        report.cases.iter().map(first).collect::<Vec<_>>(),
        [Some(0); 2]
    );
    let told = |case: &Case| case.gravest.as_ref().and_then(|one| one.told_by.clone());
    assert!(report.cases.iter().all(|case| told(case).is_some()));
    // A part without it has nothing to judge.
    let shard = Shard { part: 2, of: 3 };
    let part = run(subject, &trials, &bounds, shard, |_| true).expect("lived");
    assert!(
        part.cases
            .iter()
            .all(|case| case.gravest.is_none() && case.trials == 1)
    );
}

/// What is drawn of a single fault differs from site to site.
#[test]
fn two_sites_draw_their_own_single_faults() {
    let sizes = |subject: &Subject| {
        let only = vec![find("U12").expect("a fault")];
        let trials = Trials::new(Mode::Single, 1, Some(6), only, subject);
        let all = trials.numbers().filter_map(|number| trials.get(number));
        all.map(|planned| planned.chosen[0].severity)
            .collect::<Vec<f64>>()
    };
    assert_ne!(sizes(&HOME), sizes(&of_site("community-pool")));
}

/// With the pump's contact intact a bridged flow switch needs no bound when the pump trips.
#[test]
fn a_bridged_flow_switch_beside_a_contact_of_the_pump_needs_no_bound() {
    let subject = &*HOME;
    let mut reached = Vec::new();
    for severity in [0.5, 0.501] {
        let bridged = before_dose(subject, "U12", SITE, severity, 1);
        let chosen = [bridged, before_dose(subject, "H1", SITE, 1.0, 1)];
        let (outside, needed) = judged(subject, &chosen, &lived(subject, &chosen, 6));
        assert_eq!(outside, Vec::<String>::new(), "{severity}");
        reached.push(needed.len());
    }
    assert!(reached[0] == 0 && reached[1] > 0, "{reached:?}");
}

#[test]
fn at_random_sizes_and_lengths_vary() {
    let subject = &*HOME;
    // Each size comes, and faults that can end have a length of their own in half of all cases.
    let trials = Trials::new(Mode::Random, 1, Some(400), Vec::new(), subject);
    let chosen = || trials.groups.iter().flat_map(|group| &group.chosen);
    let changed = chosen().filter(|one| one.stands_from_the_start(&subject.scenario));
    let found: BTreeSet<String> = changed.map(|one| one.severity.to_string()).collect();
    assert_eq!(found.len(), 5, "{found:?}");
    let can_end = chosen().filter(|one| one.can_end(&subject.scenario));
    let (all, own) = can_end.fold((0, 0), |(all, own), one| {
        (all + 1, own + u32::from(one.for_ms.is_some()))
    });
    assert!(own * 5 > all * 2 && own * 5 < all * 3, "{own} of {all}");
}

#[test]
fn a_pair_keeps_its_number_and_what_is_drawn_for_it_when_few_are_tried() {
    let subject = &*HOME;
    let ids = ["H1", "L4", "S3"];
    let only: Vec<_> = ids.iter().filter_map(|id| find(id)).collect();
    let of = |only| Trials::new(Mode::Pairs, 3, None, only, subject);
    let (few, all) = (of(only.clone()), of(Vec::new()));
    let numbers: Vec<u64> = few.numbers().collect();
    assert_eq!(numbers.len(), 3);
    let planned = |trials: &Trials, at: u64| format!("{:?}", trials.get(at).expect("a trial"));
    for at in numbers {
        assert_eq!(planned(&few, at), planned(&all, at));
        let faults = few.get(at).expect("a trial").chosen;
        assert!(faults.iter().all(|one| ids.contains(&one.fault.id)));
    }
    // At random, of those that the site can have: it has one body of water.
    let with_none: Vec<_> = only.into_iter().chain(find("H13")).collect();
    let random = Trials::new(Mode::Random, 3, Some(40), with_none, subject);
    let drawn = random.groups.iter().flat_map(|group| &group.chosen);
    let drawn: BTreeSet<&str> = drawn.map(|one| one.fault.id).collect();
    assert_eq!(drawn, ids.into());
}

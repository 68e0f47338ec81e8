//! The trials that are named.

use std::collections::BTreeSet;

use dosewarden_sim::campaign::{Mode, Subject, Trials, live};
use dosewarden_sim::fault::{Part, find};
use dosewarden_sim::plan::HOTEL_SPA;
use dosewarden_sim::plant::ProbeId;

use super::trials::{HOME, before_dose, chosen, judged, lived};

/// An entry's name.
const LYING: &str =
    "S2, S3, S4, S5, S8, S9, S10, S11, S14, S15, S16, S19, S20, U4, U5, U13, U14: fed_or_asked";

/// Entries that no campaign of the tables needs, kept for these reasons; a trial here needs each of them.
pub(crate) const NEEDED: [(&str, &str); 4] = [
    (
        LYING,
        "an ORP probe drifts so far, and so soon, that water which lacks chlorine looks well for eight hours",
    ),
    (
        "A1: acid_floor",
        "water is past the cut-off of acid, and chlorine is fed beside a welded contact of acid",
    ),
    (
        "H2 with H5: chlorine_ceiling",
        "a busy spa whose flow fades behind a switch that is stuck, in its busiest hours",
    ),
    (
        "U12: line_gas",
        "both witnesses are bridged, and the pump has to stop within a dose",
    ),
];

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
    let subject = &*HOME;
    let pair = [
        chosen(subject, "U1", Part::Feeder(0), 1.0),
        chosen(subject, "S3", Part::Probe(ProbeId::Ph), 1.0),
    ];
    assert!((pair[0].times(&subject.scenario) - 6.0).abs() < 1e-9);
    let outcome = lived(subject, &pair, 24);
    assert!(outcome.ph.0 >= 6.5, "pH fell to {:.2}", outcome.ph.0);
    let (outside, _) = judged(subject, &pair, &outcome);
    assert_eq!(outside, Vec::<String>::new());
    // The pair did something: the probe is found to be frozen and acid stops, so pH rises past a sound day's.
    let (sound, ph) = (lived(subject, &[], 24).ph, outcome.ph);
    assert!(ph.1 > sound.1 + 0.005, "{ph:?} as {sound:?}");
}

/// A drum that runs empty on a day on which somebody shelves every alarm.
#[test]
fn a_day_of_shelving_hides_that_nothing_is_fed() {
    let subject = &*HOME;
    let trials = Trials::new(Mode::Random, 1, Some(810), Vec::new(), subject);
    let planned = trials.get(809).expect("a trial");
    let outcome = live(subject, &planned).expect("a sound plant");
    let (outside, needed) = judged(subject, &planned.chosen, &outcome);
    assert_eq!(outside, Vec::<String>::new());
    assert!(needed.contains("U7: fed_or_asked"), "{needed:?}");
}

/// Days of campaigns at random of few faults (`--only`): acid tablets have the water past the cut-off when a contact of acid
/// welds, and chlorine comes next; a busy spa's flow fades behind a switch that is stuck.
#[test]
fn what_few_faults_together_need_is_needed_by_a_day_of_theirs() {
    let spa = Subject::of_site("hotel-spa.toml", HOTEL_SPA, None).expect("a sound site");
    let flow = ["H2", "H4", "H5", "L4", "S11", "U15"];
    let days: [(&Subject, &[&str], u64, &str); 2] = [
        (&HOME, &["A1", "C12"], 2_367, "A1: acid_floor"),
        (&spa, &flow, 400, "H2 with H5: chlorine_ceiling"),
    ];
    for (subject, only, number, name) in days {
        let only = only.iter().map(|id| find(id).expect("a fault")).collect();
        let trials = Trials::new(Mode::Random, 1, Some(number + 1), only, subject);
        let planned = trials.get(number).expect("a trial");
        let outcome = live(subject, &planned).expect("a sound plant");
        let (outside, needed) = judged(subject, &planned.chosen, &outcome);
        assert_eq!(outside, Vec::<String>::new(), "{name}");
        assert!(needed.contains(name), "{needed:?}, not {name}");
    }
}

/// Days that only a long run at random drew, by their numbers.
#[test]
fn what_a_long_run_at_random_found_is_needed_by_its_days() {
    let subject = &*HOME;
    let days = [
        (10_461, LYING),
        (32_450, "C6: acid_floor"),
        (36_605, "L6: hand_feed_held"),
        (56_450, "A7: hour_total"),
        (60_962, "T3, T4: lockout_kept"),
        (83_307, "U9: poor_water_alarmed"),
        (96_350, "A7: acid_floor"),
    ];
    for (number, name) in days {
        let trials = Trials::new(Mode::Random, 1, Some(number + 1), Vec::new(), subject);
        let planned = trials.get(number).expect("a trial");
        let outcome = live(subject, &planned).expect("a sound plant");
        let (outside, needed) = judged(subject, &planned.chosen, &outcome);
        assert_eq!(outside, Vec::<String>::new(), "{number}");
        assert!(needed.contains(name), "{number} needs {needed:?}");
    }
    // At their worst: half of the water is fresh, and then it is poured.
    let acids = [("C9", SITE, 1.0, 15), ("C6", SITE, 1.0, 1)];
    let acids =
        acids.map(|(id, part, size, minutes)| before_dose(subject, id, part, size, minutes));
    let outcome = lived(subject, &acids, 24);
    assert!(outcome.ph.0 > 6.3 && outcome.ph.0 < 6.5, "{:?}", outcome.ph);
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

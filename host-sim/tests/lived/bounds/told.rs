//! What a campaign says of a trial: who was told, when it was safe, what was fed more, which bound came nearest, and that the
//! tables are of what is drawn now.

use std::collections::BTreeMap;

use dosewarden_sim::campaign::{
    Bounds, Mode, Outcome, Planned, Report, Shard, Subject, Trials, live, markdown, run,
};
use dosewarden_sim::fault::{Chosen, Part, find};
use dosewarden_sim::pool::LogWhat;

use super::trials::{HOME, before_dose, lived, of_site, root};

const SITE: Part = Part::Site;
const ACID: usize = 0;
const CHLORINE: usize = 1;

/// A siphon through the feeder of chlorine, 2 L/h.
fn siphon() -> Chosen {
    before_dose(&HOME, "H9", Part::Feeder(CHLORINE), 1.0, 1)
}

#[test]
fn what_leaks_is_not_safe_though_nothing_is_driven_and_somebody_was_told() {
    let leaks = lived(&HOME, &[siphon()], 6);
    assert!(leaks.told_by.is_some());
    assert_eq!(leaks.safe_after_ms, None);
    // All that leaked in six hours; the doses that the sound run gave meanwhile were not.
    let more = leaks.fed_more[CHLORINE];
    assert!((11_000.0..12_100.0).contains(&more), "{more}");
    // The pump trips: it is told, nothing is driven or leaks, and that is safe.
    let trips = lived(&HOME, &[before_dose(&HOME, "H1", SITE, 1.0, 1)], 6);
    assert!(trips.told_by.is_some());
    assert_eq!(trips.safe_after_ms, trips.told_after_ms);
    assert_eq!(trips.fed_more[CHLORINE], 0.0);
}

#[test]
fn what_a_site_that_was_changed_told_in_its_first_days_is_told() {
    let of = |id: &str| lived(&HOME, &[before_dose(&HOME, id, SITE, 0.5, 1)], 1);
    // pH is 10: nothing is new in the trial itself.
    let high = of("C7");
    assert_eq!(high.told_by.as_deref(), Some("weak_chlorine"));
    assert!(high.told_in_first_days && high.ph.0 > 9.0, "{high:?}");
    assert_eq!(high.told_after_ms, Some(0));
    let tick_ms = u64::from(HOME.origin.tick_ms());
    assert_eq!(high.safe_after_ms, Some(tick_ms));
    // A sound site tells something in those days too, which is not about a fault.
    let told = |what: &LogWhat| matches!(what, LogWhat::AlarmCame(_) | LogWhat::NeedsPerson);
    assert!(HOME.origin.log().iter().any(|line| told(&line.what)));
    for silent in [of("C4"), lived(&HOME, &[], 1)] {
        assert!(!silent.told_in_first_days, "{silent:?}");
        assert_eq!(silent.told_by, None);
    }
}

#[test]
fn nothing_is_safe_before_all_faults_have_begun() {
    let pair = [before_dose(&HOME, "C7", SITE, 0.5, 1), siphon()];
    let both = lived(&HOME, &pair, 6);
    assert!(both.told_in_first_days);
    assert_eq!(both.safe_after_ms, None);
    assert!(both.fed_more[CHLORINE] > 10_000.0, "{:?}", both.fed_more);
}

#[test]
fn a_sound_run_gives_no_more_than_itself() {
    let nothing = |outcome: &Outcome| {
        assert!(
            outcome.fed_more.iter().all(|fed| *fed == 0.0),
            "{outcome:?}"
        );
        assert_eq!((&outcome.told_by, &outcome.refused_by), (&None, &None));
        assert_eq!(outcome.pressed, None);
    };
    nothing(&lived(&HOME, &[], 24));
    let with_reset = Planned {
        case: 0,
        chosen: Vec::new(),
        reset_at_ms: Some(HOME.dose_from_ms + 7_000),
        for_ms: 6 * 3_600_000,
    };
    nothing(&live(&HOME, &with_reset).expect("a sound plant"));
    // Acid at six times its rate: more of it, and little more of the other product.
    let fast = lived(
        &HOME,
        &[before_dose(&HOME, "U1", Part::Feeder(ACID), 1.0, 1)],
        6,
    );
    assert!(fast.fed_more[ACID] > 100.0, "{:?}", fast.fed_more);
    assert!(
        fast.fed_more[CHLORINE] < fast.fed_more[ACID] / 2.0,
        "{:?}",
        fast.fed_more
    );
}

fn found(ids: &[&str], shard: Shard) -> Report {
    let only = ids.iter().map(|id| find(id).expect("a fault")).collect();
    let trials = Trials::new(Mode::Single, 1, Some(2), only, &HOME);
    run(&HOME, &trials, &Bounds::committed(), shard, |_| true).expect("sound plants")
}

/// Acid tablets, which nobody is told of, take pH down; a counter that wraps does nothing at all; a feeder that lost its
/// prime leaves the other to wait for its turn as in a sound run.
#[test]
fn a_table_says_which_bound_came_nearest_where_nobody_was_told() {
    let ids = ["C6", "C12", "H6", "L5"];
    let whole = found(&ids, Shard::ALL);
    let of = |id: &str| {
        let mut cases = whole.cases.iter();
        cases.find(|case| case.faults[0] == id).expect("a case")
    };
    let nearest = of("C12").pressed.as_ref().expect("a bound");
    assert_eq!(nearest.oracle, "acid_floor");
    assert!(nearest.value > nearest.bound && nearest.share > 0.01);
    assert_eq!(of("L5").pressed, None);
    // Told of in each trial: no bound had to hold unseen.
    assert_eq!((of("C6").untold, &of("C6").pressed), (0, &None));
    let refused = whole.cases.iter().flat_map(|case| case.refused_by.keys());
    let turn = ["one_at_a_time", "other_has_turn"];
    assert!(refused.clone().all(|rule| !turn.contains(&rule.as_str())));
    let table = markdown(&whole);
    let row = |id: &str| {
        let mut rows = table.lines();
        rows.find(|line| line.starts_with(&format!("| {id} |")))
            .expect("a row")
    };
    let nearest = "held, nearest: acid_floor ";
    assert!(row("C12").contains(nearest), "{}", row("C12"));
    assert!(row("L5").contains("held, none nearer than at a sound site"));
    let part = |part| found(&ids, Shard { part, of: 2 });
    let merged = Report::merge(vec![part(2), part(1)]).expect("two parts");
    assert_eq!(merged, whole);
}

/// What follows this word in a command.
fn option<'a>(command: &'a str, word: &str) -> Option<&'a str> {
    let mut words = command.split(' ');
    words.find(|own| *own == word)?;
    words.next()
}

/// What the code draws now for the command of a table.
fn drawn_now(command: &str, subjects: &mut BTreeMap<String, Subject>) -> u64 {
    let site = option(command, "--site").expect("a site");
    let name = site
        .rsplit('/')
        .next()
        .and_then(|file| file.strip_suffix(".toml"));
    let subject = subjects
        .entry(site.to_owned())
        .or_insert_with(|| of_site(name.expect("a site's file")));
    let mode = match option(command, "--faults") {
        Some("single") => Mode::Single,
        Some("pairs") => Mode::Pairs,
        Some("random") => Mode::Random,
        other => panic!("{other:?} in {command}"),
    };
    let number = |word: &str| option(command, word).map(|text| text.parse().expect("a number"));
    let seed = number("--seed").expect("a seed");
    let trials = Trials::new(mode, seed, number("--runs"), Vec::new(), subject);
    trials.drawn(&subject.scenario)
}

/// A table that was made before the catalogue changed, or when a site's faults come, says something else than a campaign would now.
#[test]
fn each_table_is_of_what_is_drawn_now() {
    let mut subjects = BTreeMap::new();
    let (mut stale, mut read) = (Vec::new(), 0);
    for file in std::fs::read_dir(root().join("host-sim/campaign-tables")).expect("tables") {
        let path = file.expect("a file").path();
        if path.ends_with("bounds.md") {
            continue;
        }
        let text = std::fs::read_to_string(&path).expect("text");
        let command = text.split('`').nth(1).expect("a command");
        let drawn = text
            .lines()
            .next()
            .and_then(|line| line.rsplit_once(" Drawn: "));
        let drawn = drawn.and_then(|(_, rest)| rest.strip_suffix('.')?.parse().ok());
        if drawn != Some(drawn_now(command, &mut subjects)) {
            stale.push(path.file_name().expect("a name").to_owned());
        }
        read += 1;
    }
    assert_eq!(read, 15, "three campaigns of five sites");
    stale.sort();
    assert!(
        stale.is_empty(),
        "made of what is not drawn any more, so tests/campaign-tables has to make them anew: {stale:?}"
    );
}

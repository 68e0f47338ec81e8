//! Parts of a case, put together.

use super::case::{At, Case, Passed, Pressed};
use super::{Gravest, Report, markdown, page, summary};

fn pressed(trial: u64, share: f64) -> Case {
    let value = 10.0 * share;
    Case {
        trials: 1,
        untold: 1,
        told_in_first_days: trial,
        fed_more: [("acid".to_owned(), At { value, trial })].into(),
        pressed: Some(Pressed {
            oracle: format!("of {trial}"),
            share,
            value,
            bound: 10.0,
            unit: "mg/L".to_owned(),
            trial,
        }),
        ..Case::default()
    }
}

#[test]
fn parts_give_the_nearest_and_of_equal_ones_the_earlier_in_whichever_order() {
    let parts = [pressed(1, 0.2), pressed(2, 0.6), pressed(3, 0.6)];
    for order in [[0, 1, 2], [2, 1, 0], [1, 2, 0], [2, 0, 1]] {
        let mut all = Case::default();
        for at in order {
            all.merge(parts[at].clone());
        }
        assert_eq!(all.pressed, parts[1].pressed, "{order:?}");
        assert_eq!(all.fed_more, parts[1].fed_more, "{order:?}");
        assert_eq!((all.trials, all.told_in_first_days), (3, 6));
    }
}

/// Two statements of one oracle, and one of them of two products: the second is outside, whichever is further past.
#[test]
fn what_is_excused_hides_nothing_of_another_statement_or_product() {
    let one = |words: &str, inside, trial| {
        let passed = Passed {
            oracle: "cycle_total".to_owned(),
            worst: if inside { 90.0 } else { 11.0 },
            bound: 10.0,
            unit: "ms".to_owned(),
            allowed: Some(if inside { 100.0 } else { 10.0 }),
            inside,
            trial,
            words: words.to_owned(),
        };
        let mut case = Case::default();
        case.pass(format!("{}: {words}", passed.oracle), passed);
        case
    };
    let parts = [
        one("acid: too much", true, 1),
        one("acid: too long", false, 1),
        one("hypochlorite: too much", false, 2),
        one("acid: too much", true, 0),
    ];
    for order in [[0, 1, 2, 3], [3, 2, 1, 0]] {
        let mut all = Case::default();
        for at in order {
            all.merge(parts[at].clone());
        }
        let inside: Vec<_> = all.passed.values().map(|p| (p.inside, p.trial)).collect();
        assert_eq!(inside, [(false, 1), (true, 0), (false, 2)]);
        assert!(!all.is_inside());
    }
}

/// Told too late is outside, from whichever part it comes; the table and the page say so.
#[test]
fn told_too_late_is_outside_and_is_told_in_table_and_page() {
    let late = Case {
        faults: vec!["C1 acid".to_owned()],
        trials: 1,
        gravest: Some(Gravest {
            told_by: None,
            told_after_s: None,
            within_s: Some(2_400),
            trial: 0,
        }),
        ..Case::default()
    };
    let rest = Case {
        faults: vec!["C1 acid".to_owned()],
        trials: 7,
        ..Case::default()
    };
    for (mut one, other) in [(late.clone(), rest.clone()), (rest, late)] {
        one.merge(other);
        assert!(!one.is_inside());
        let report = Report {
            version: Report::VERSION,
            site: String::new(),
            command: String::new(),
            digest: 0,
            canary: None,
            mode: "single".to_owned(),
            seed: 1,
            only: Vec::new(),
            drawn: 0,
            parts: [[1, 1]].into(),
            planned: 8,
            lived: 8,
            simulated_s: 0,
            stopped: false,
            cases: vec![one],
        };
        let words = "nobody was told, and had to be within 2400 s";
        let table = markdown(&report);
        assert!(table.contains("**outside**: C1 acid"), "{table}");
        for told in [table, summary(&report), page(&report).unwrap()] {
            assert!(told.contains(words), "{told}");
        }
        assert!(summary(&report).contains("Verdict: OUTSIDE in 1 cases."));
        assert!(!page(&report).unwrap().contains("Of the others somebody"));
    }
}

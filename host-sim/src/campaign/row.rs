//! Cases as tables show them: which, and what of each.

use std::collections::BTreeSet;

use serde::Serialize;

use super::case::{At, Case};
use super::moved::WAYS;
use super::report::Report;
use crate::fault::names_of;
use crate::scenario::words::time;

/// Cases of pairs and at random that a table shows besides those outside.
const SHOWN: usize = 40;
/// The mode of which all cases are shown.
const SINGLE: &str = "single";

fn most(counts: &std::collections::BTreeMap<String, u64>) -> Option<&str> {
    // The more frequent, of equal ones the first by name.
    let best = counts
        .iter()
        .max_by_key(|(name, count)| (**count, core::cmp::Reverse(*name)));
    best.map(|(name, _)| name.as_str())
}

fn figure(at: Option<At>, places: usize) -> String {
    at.map_or_else(|| "-".to_owned(), |at| format!("{:.places$}", at.value))
}

fn passed_time(at: Option<At>) -> String {
    at.map_or_else(|| "-".to_owned(), |at| time((at.value * 1000.0) as u64))
}

fn detected(case: &Case) -> String {
    let early = case.told_in_first_days;
    let when = match early {
        0 => String::new(),
        all if all == case.trials => ", in its first days".to_owned(),
        some => format!(", in its first days in {some} of {} trials", case.trials),
    };
    match (most(&case.told_by), most(&case.refused_by)) {
        (Some(alarm), _) => format!("{alarm}{when}"),
        (None, Some(rule)) => format!("nobody; feed refused by {rule}"),
        (None, None) => "nobody".to_owned(),
    }
}

/// What is read in mL and s is computed in uL and ms: the unit that is read, and what to divide by.
fn read_in(unit: &str) -> (&str, f64) {
    match unit {
        "uL" => ("mL", 1000.0),
        "ms" => ("s", 1000.0),
        unit => (unit, 1.0),
    }
}

/// What held, of a case of which nobody was told in some trial: the oracle that came nearest to its bound.
fn nearest(case: &Case) -> String {
    if case.untold == 0 {
        return "held".to_owned();
    }
    let Some(one) = &case.pressed else {
        return "held, none nearer than at a sound site".to_owned();
    };
    let (unit, by) = read_in(&one.unit);
    let (value, bound) = (one.value / by, one.bound / by);
    let places = if bound.abs() < 10.0 { 2 } else { 1 };
    format!(
        "held, nearest: {} {value:.places$} of {bound:.places$} {unit}",
        one.oracle
    )
}

fn passed(case: &Case) -> String {
    let all: Vec<String> = case
        .passed
        .values()
        .map(|p| {
            let (unit, by) = read_in(&p.unit);
            let allowed = match p.allowed {
                _ if !p.inside => "**outside**".to_owned(),
                None => "allowed without bound".to_owned(),
                Some(value) => format!("allowed to {:.1}", value / by),
            };
            let (worst, bound) = (p.worst / by, p.bound / by);
            let (oracle, who) = (&p.oracle, p.who());
            format!("{oracle} ({who}) {worst:.2}, of a sound site {bound:.2} {unit}, {allowed}")
        })
        .collect();
    if all.is_empty() {
        nearest(case)
    } else {
        all.join("; ")
    }
}

fn fed_more(case: &Case) -> String {
    let all: Vec<String> = case
        .fed_more
        .iter()
        .map(|(name, at)| format!("{name} {:.0}", at.value))
        .collect();
    all.join(", ")
}

/// One case, as tables show it.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Row {
    pub(super) faults: String,
    /// The same in words.
    words: String,
    pub(super) told_by: String,
    pub(super) told_after_s: String,
    pub(super) safe_after_s: String,
    /// The same two as times.
    told_after: String,
    safe_after: String,
    pub(super) fed_more: String,
    pub(super) ph: String,
    pub(super) chlorine: String,
    pub(super) passed: String,
    is_inside: bool,
}

impl Row {
    fn of(case: &Case) -> Self {
        let untold = if case.untold > 0 {
            format!(" ({} of {} trials untold)", case.untold, case.trials)
        } else {
            String::new()
        };
        let range =
            |low, high, places| format!("{} to {}", figure(low, places), figure(high, places));
        Self {
            faults: case.faults.join(" x "),
            words: names_of(&case.faults),
            told_by: detected(case) + &untold,
            told_after_s: figure(case.told_after_s, 0),
            safe_after_s: figure(case.safe_after_s, 0),
            told_after: passed_time(case.told_after_s),
            safe_after: passed_time(case.safe_after_s),
            fed_more: fed_more(case),
            ph: range(case.ph_min, case.ph_max, 2),
            chlorine: range(case.chlorine_min_mg_l, case.chlorine_max_mg_l, 1),
            passed: passed(case),
            is_inside: case.is_inside(),
        }
    }
}

/// Which cases are shown, in words.
pub(super) fn shown(report: &Report) -> &'static str {
    if report.mode == SINGLE {
        "Every fault, at each part that can have it."
    } else {
        "Those outside, then the 40 of all cases that moved the water furthest: lowest pH, highest pH, lowest and highest \
         free chlorine have ten each and give in turn, no case twice."
    }
}

/// The cases that are shown: all single faults; of others those that are outside, and of all the 40 that moved the
/// water furthest, which each way gives in turn, no case twice.
fn cases(report: &Report) -> Vec<&Case> {
    let lived = || report.cases.iter().filter(|case| case.trials > 0);
    if report.mode == SINGLE {
        return lived().collect();
    }
    let mut left = WAYS.each_ref().map(|way| {
        let ranked = lived().filter_map(|case| Some((way.rank(case)?, case)));
        let mut ranked: Vec<(f64, &Case)> = ranked.collect();
        ranked.sort_by(|(a, x), (b, y)| a.total_cmp(b).then(x.number.cmp(&y.number)));
        ranked.into_iter().map(|(_, case)| case)
    });
    let mut furthest = WAYS.each_ref().map(|_| Vec::new());
    let mut taken = BTreeSet::new();
    loop {
        let before = taken.len();
        for (left, furthest) in left.iter_mut().zip(&mut furthest) {
            if taken.len() < SHOWN
                && let Some(next) = left.find(|case| !taken.contains(&case.number))
            {
                taken.insert(next.number);
                furthest.push(next);
            }
        }
        if taken.len() == before {
            break;
        }
    }
    let inside = furthest.into_iter().flatten().filter(|c| c.is_inside());
    lived().filter(|c| !c.is_inside()).chain(inside).collect()
}

/// A row for each case that is shown.
pub(super) fn rows(report: &Report) -> Vec<Row> {
    cases(report).into_iter().map(Row::of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::campaign::{Passed, Pressed};

    fn report(mode: &str, cases: Vec<Case>) -> Report {
        Report {
            version: Report::VERSION,
            site: String::new(),
            command: String::new(),
            digest: 0,
            canary: None,
            mode: mode.to_owned(),
            seed: 1,
            only: Vec::new(),
            drawn: 0,
            parts: [[1, 1]].into(),
            planned: cases.len() as u64,
            lived: cases.len() as u64,
            simulated_s: 0,
            stopped: false,
            cases,
        }
    }

    /// Cases 0 to 199, each of which moves one thing further than all before it: pH down, pH up, chlorine down, chlorine up by
    /// turns of 50. Two of the first ones, which moved nothing far, are outside.
    fn two_hundred() -> Vec<Case> {
        let case = |number: u64| {
            let of = |way: u64| {
                if number / 50 == way {
                    number as f64
                } else {
                    0.0
                }
            };
            let at = |value: f64| {
                Some(At {
                    value,
                    trial: number,
                })
            };
            let passed = Passed {
                oracle: "line_gas".to_owned(),
                worst: 2.0,
                bound: 1.0,
                unit: "g".to_owned(),
                allowed: Some(1.0),
                inside: false,
                trial: number,
                words: "return line: gas".to_owned(),
            };
            let outside = [3, 60].contains(&number);
            let passed = outside.then(|| ("line_gas".to_owned(), passed));
            Case {
                number,
                trials: 1,
                ph_min: at(7.5 - of(0) / 100.0),
                ph_max: at(7.5 + of(1) / 100.0),
                chlorine_min_mg_l: at(3.0 - of(2) / 100.0),
                chlorine_max_mg_l: at(3.0 + of(3) / 100.0),
                passed: passed.into_iter().collect(),
                ..Case::default()
            }
        };
        (0..200).map(case).collect()
    }

    #[test]
    fn those_outside_and_ten_of_each_way_are_shown() {
        let report = report("random", two_hundred());
        let shown: Vec<u64> = cases(&report).iter().map(|case| case.number).collect();
        let mut expected = vec![3, 60];
        for way in 0..4 {
            expected.extend((0..10).map(|at| way * 50 + 49 - at));
        }
        assert_eq!(shown, expected);
    }

    #[test]
    fn what_is_far_in_two_ways_is_shown_once_and_another_has_its_place() {
        let mut all = two_hundred();
        all[49].ph_max = Some(At {
            value: 13.0,
            trial: 49,
        });
        let report = report("pairs", all);
        let shown = cases(&report);
        let numbers: BTreeSet<u64> = shown.iter().map(|case| case.number).collect();
        assert_eq!((shown.len(), numbers.len()), (42, 42));
        // It is taken as the lowest pH, and ten others as the highest.
        assert!((90..100).all(|number| numbers.contains(&number)));
    }

    #[test]
    fn all_single_faults_are_shown() {
        assert_eq!(cases(&report("single", two_hundred())).len(), 200);
    }

    #[test]
    fn a_row_says_who_was_told_and_which_bound_came_nearest() {
        let mut case = Case {
            trials: 8,
            untold: 8,
            ..Case::default()
        };
        assert_eq!(passed(&case), "held, none nearer than at a sound site");
        case.pressed = Some(Pressed {
            oracle: "chlorine_ceiling".to_owned(),
            share: 0.5,
            value: 6.1,
            bound: 10.0,
            unit: "mg/L".to_owned(),
            trial: 3,
        });
        assert_eq!(
            passed(&case),
            "held, nearest: chlorine_ceiling 6.1 of 10.0 mg/L"
        );
        case.untold = 0;
        assert_eq!(passed(&case), "held");
        case.told_by.insert("ph_high".to_owned(), 8);
        assert_eq!(detected(&case), "ph_high");
        case.told_in_first_days = 8;
        assert_eq!(detected(&case), "ph_high, in its first days");
        case.told_in_first_days = 2;
        assert_eq!(
            detected(&case),
            "ph_high, in its first days in 2 of 8 trials"
        );
    }
}

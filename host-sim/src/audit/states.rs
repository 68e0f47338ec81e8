//! Which state each rule reads, and of which column.

use super::bounds::{FeederBounds, Probe};
use super::check::Check;
use super::log::{ProbeColumns, Reading, Row};
use super::seen::{Seen, States};
use super::standing::{Words, not_before, not_while};
use super::text::seconds;

/// The checks on states.
pub(super) fn checks(seen: &Seen<'_>) -> Vec<Check> {
    vec![
        flow_present(seen),
        flow_proven(seen),
        probe_settled(seen),
        power_on_delay(seen),
        probe_trusted(seen),
        inside_cutoff(seen),
        window_open(seen),
        stock_present(seen),
    ]
}

const NO_FLOW: &str = "the log has no column of flow";
const FLOW_UNKNOWN: &str = "flow is not known in some rows";

fn feeders<'s>(seen: &'s Seen<'_>) -> impl Iterator<Item = (usize, &'s FeederBounds)> {
    seen.bounds.feeders.iter().enumerate()
}

fn flow_present(seen: &Seen<'_>) -> Check {
    let mut check = Check::new("flow_present", "nothing is driven without flow".to_owned());
    check.applies();
    if !seen.log.columns.flow {
        check.blind("column", NO_FLOW.to_owned());
        return check;
    }
    let none = States::of(seen.log, |row| row.flow.map(|flow| !flow));
    let words = Words {
        what: "driven without flow for",
        unknown: FLOW_UNKNOWN,
    };
    for (feeder, _) in feeders(seen) {
        not_while(&mut check, seen, feeder, &none, &words);
    }
    check
}

fn flow_proven(seen: &Seen<'_>) -> Check {
    let need_ms = seen.bounds.flow_prove_ms;
    let holds = format!("flow has stood for {} before a feed", seconds(need_ms));
    let mut check = Check::new("flow_proven", holds);
    check.applies();
    let words = Words {
        what: "fed after flow of",
        unknown: FLOW_UNKNOWN,
    };
    after(&mut check, seen, |_| true, (need_ms, 0.0), &words);
    check
}

fn probe_settled(seen: &Seen<'_>) -> Check {
    let (need_ms, others_ms) = (seen.bounds.probe_settle_ms, seen.bounds.flow_prove_ms);
    let holds = format!(
        "water has moved past the probe for {} before a feed",
        seconds(need_ms)
    );
    let mut check = Check::new("probe_settled", holds);
    let words = Words {
        what: "fed by its probe after flow of",
        unknown: FLOW_UNKNOWN,
    };
    let governed = |bound: &FeederBounds| bound.governor.is_some();
    after(&mut check, seen, governed, (need_ms, others_ms), &words);
    check
}

/// Flow before a feed, of some feeders.
fn after(
    check: &mut Check,
    seen: &Seen<'_>,
    of: impl Fn(&FeederBounds) -> bool,
    need: (f64, f64),
    words: &Words<'_>,
) {
    for (feeder, bound) in feeders(seen) {
        if !of(bound) {
            continue;
        }
        check.applies();
        if seen.log.columns.flow {
            not_before(check, seen, (feeder, &seen.flow), need, words);
        }
    }
    if !seen.log.columns.flow {
        check.blind("column", NO_FLOW.to_owned());
    }
}

fn power_on_delay(seen: &Seen<'_>) -> Check {
    let need_ms = seen.bounds.power_on_delay_ms;
    let holds = format!(
        "the controller has had power for {} before a feed",
        seconds(need_ms)
    );
    let mut check = Check::new("power_on_delay", holds);
    check.applies();
    if !seen.log.columns.power {
        check.blind(
            "column",
            "the log has no column of the controller's power".to_owned(),
        );
        return check;
    }
    let powered = States::of(seen.log, |row| row.powered);
    let words = Words {
        what: "fed after power for",
        unknown: "power is not known in some rows",
    };
    for (feeder, _) in feeders(seen) {
        not_before(&mut check, seen, (feeder, &powered), (need_ms, 0.0), &words);
    }
    check
}

fn probe(probe: Probe) -> (&'static str, fn(&Row) -> Reading) {
    match probe {
        Probe::Ph => ("pH", |row| row.ph),
        Probe::Orp => ("ORP", |row| row.orp),
    }
}

fn columns(seen: &Seen<'_>, probe: Probe) -> ProbeColumns {
    match probe {
        Probe::Ph => seen.log.columns.ph,
        Probe::Orp => seen.log.columns.orp,
    }
}

fn probe_trusted(seen: &Seen<'_>) -> Check {
    let holds =
        "nothing is fed by a probe that is stale, stands still or is not trusted".to_owned();
    let mut check = Check::new("probe_trusted", holds);
    for (feeder, bound) in feeders(seen) {
        let Some(governor) = bound.governor else {
            continue;
        };
        check.applies();
        let (name, _) = probe(governor);
        let of = columns(seen, governor);
        if !(of.ok || of.age || of.flat_after_ms.is_some() && of.value) {
            let why = format!(
                "nothing in the log says whether the {name} probe can be believed: no column of its health or its \
                 age, and no `flat_after`"
            );
            check.blind("column", why);
            continue;
        }
        let words = Words {
            what: "driven by a probe that is not to be believed for",
            unknown: "a probe's health, age or reading is not known in some rows",
        };
        not_while(&mut check, seen, feeder, &doubtful(seen, governor), &words);
    }
    check
}

/// Whether a probe is not to be believed, by all that the log has of it.
fn doubtful(seen: &Seen<'_>, governor: Probe) -> States {
    let (of, (_, pick)) = (columns(seen, governor), probe(governor));
    let rows = &seen.log.rows;
    let age_max_ms = seen.bounds.probe_age_max_ms;
    let mut same_since = 0;
    let states = rows.iter().enumerate().map(|(at, row)| {
        let reading = pick(row);
        if at > 0 && reading.value != pick(&rows[at - 1]).value {
            same_since = at;
        }
        let flat = of.flat_after_ms.filter(|_| of.value).map(|after_ms| {
            let stood_ms = row.at_ms - rows[same_since].at_ms;
            reading.value.map(|_| stood_ms >= after_ms)
        });
        let bad = [
            of.ok.then(|| reading.ok.map(|ok| !ok)),
            of.age.then(|| reading.age_ms.map(|age| age > age_max_ms)),
            flat,
        ];
        let known: Vec<Option<bool>> = bad.into_iter().flatten().collect();
        match known.contains(&None) {
            _ if known.contains(&Some(true)) => Some(true),
            true => None,
            false => Some(false),
        }
    });
    let states = states.collect();
    States::from(seen.log, states)
}

fn inside_cutoff(seen: &Seen<'_>) -> Check {
    let holds = "nothing is fed past the product's cut-off".to_owned();
    let mut check = Check::new("inside_cutoff", holds);
    for (feeder, bound) in feeders(seen) {
        let cutoff = bound.cutoff;
        if let Some(ph) = cutoff.ph_above {
            let past = |_: &Row, value: f64, half: f64| past(value - ph, half, true);
            cut(&mut check, seen, feeder, Probe::Ph, past);
        }
        if let Some(ph) = cutoff.ph_floor {
            let past = |_: &Row, value: f64, half: f64| past(value - ph, half, false);
            cut(&mut check, seen, feeder, Probe::Ph, past);
        }
        if let Some(mv) = cutoff.orp_below_mv {
            let ph_half = seen.log.columns.ph.half_place;
            let past = |row: &Row, value: f64, half: f64| {
                past_falling(
                    (mv, cutoff.orp_falls),
                    (row.ph.value, ph_half),
                    (value, half),
                )
            };
            cut(&mut check, seen, feeder, Probe::Orp, past);
        }
    }
    check
}

/// Whether a reading is past its bound, by how far it is inside; `None`: too near for the places of the log.
fn past(inside_by: f64, half: f64, bound_itself: bool) -> Option<bool> {
    // Figures of a few places: a millionth is rounding.
    let half = half + 1e-6;
    match inside_by {
        by if by < -half => Some(true),
        by if by > half => Some(false),
        _ if half < 1e-5 => Some(bound_itself),
        _ => None,
    }
}

/// Whether an ORP is past a cut-off that falls with the pH. Past the cut-off of a low pH it is past that of any; without a pH
/// no more can be told.
fn past_falling(
    (mv, falls): (f64, Option<(f64, f64)>),
    (ph, ph_half): (Option<f64>, f64),
    (orp, half): (f64, f64),
) -> Option<bool> {
    let Some((from, per_ph)) = falls else {
        return past(mv - orp, half, true);
    };
    let Some(ph) = ph else {
        return past(mv - orp, half, true).filter(|past| *past);
    };
    let fall = (ph - from).max(0.0) * per_ph;
    // A controller that counts whole mV may have rounded the fall.
    let rounded = if fall > 0.0 { 0.5 } else { 0.0 };
    past(mv - fall - orp, half + ph_half * per_ph + rounded, true)
}

fn cut(
    check: &mut Check,
    seen: &Seen<'_>,
    feeder: usize,
    of: Probe,
    past: impl Fn(&Row, f64, f64) -> Option<bool>,
) {
    check.applies();
    let (name, pick) = probe(of);
    let columns = columns(seen, of);
    if !columns.value {
        check.blind(name, format!("the log has no column of {name}"));
        return;
    }
    let states = States::of(seen.log, |row| {
        past(row, pick(row).value?, columns.half_place)
    });
    let what = format!("driven past its cut-off of {name} for");
    let words = Words {
        what: &what,
        unknown: "a reading is empty, or too near the cut-off for the places that the log writes",
    };
    not_while(check, seen, feeder, &states, &words);
}

fn window_open(seen: &Seen<'_>) -> Check {
    let holds = "nothing is fed outside the operating hours".to_owned();
    let mut check = Check::new("window_open", holds);
    let Some((open, close)) = seen.bounds.hours else {
        return check;
    };
    check.applies();
    if !seen.log.columns.time_of_day {
        check.blind(
            "column",
            "the log's times do not say the time of the day".to_owned(),
        );
        return check;
    }
    let inside = |minute: u16| match open < close {
        true => (open..close).contains(&minute),
        // Over midnight.
        false => minute >= open || minute < close,
    };
    let closed = States::of(seen.log, |row| row.minute.map(|minute| !inside(minute)));
    let words = Words {
        what: "driven outside the hours for",
        unknown: "the time of the day is not known in some rows",
    };
    for (feeder, _) in feeders(seen) {
        not_while(&mut check, seen, feeder, &closed, &words);
    }
    check
}

fn stock_present(seen: &Seen<'_>) -> Check {
    let holds = "nothing is fed while the level switch sees no product".to_owned();
    let mut check = Check::new("stock_present", holds);
    for (feeder, bound) in feeders(seen).filter(|(_, bound)| bound.level_switch) {
        check.applies();
        if !seen.log.columns.feeders[feeder].level {
            let name = &bound.name;
            check.blind(
                "column",
                format!("the log has no column of the level switch of {name}"),
            );
            continue;
        }
        let none = States::of(seen.log, |row| {
            row.feeders[feeder].stock.map(|stock| !stock)
        });
        let words = Words {
            what: "driven with an empty drum for",
            unknown: "the level switch is not known in some rows",
        };
        not_while(&mut check, seen, feeder, &none, &words);
    }
    check
}

#[cfg(test)]
mod tests {
    use super::past_falling;

    #[test]
    fn a_cut_off_that_falls_needs_the_ph_to_hold_and_not_to_be_passed() {
        let falls = (780.0, Some((7.5, 60.0)));
        let at = |ph, orp| past_falling(falls, (ph, 0.0), (orp, 0.0));
        assert_eq!(at(Some(7.5), 779.0), Some(false));
        assert_eq!(at(Some(7.0), 780.0), Some(true));
        assert_eq!(
            (at(Some(8.5), 719.0), at(Some(8.5), 721.0)),
            (Some(false), Some(true))
        );
        // What a controller that counts whole mV rounds is not held against it.
        assert_eq!(at(Some(8.5), 720.2), None);
        assert_eq!((at(None, 700.0), at(None, 781.0)), (None, Some(true)));
        // A log that writes whole tenths of pH leaves 3 mV open.
        assert_eq!(past_falling(falls, (Some(8.5), 0.05), (717.0, 0.0)), None);
    }
}

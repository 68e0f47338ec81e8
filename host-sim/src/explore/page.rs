//! The page of a walk: one file that needs nothing else.

use minijinja::context;
use minijinja::value::{Serde, Value};
use serde::Serialize;

use super::{ALWAYS, Aim, Ended, PartSummary, Report, about, parts};
use crate::run::CAUTIONS;

const PAGE: &str = include_str!("../../templates/explore.html");

/// What no walk shows. `EXPLORE.md` has all of it with the reasons.
const LEFT_OUT: [&str; 8] = [
    "The length of a bucket: whether the hour's or the day's ends with a tick is an event. That a bucket is as long as it should be is held by the ledger's own tests.",
    "Caps in x2 and x3: the ledger is emptied after each tick there.",
    "Parts do not meet: no power cut in x2 and x3, no drive fault in x1, no valves with two products.",
    "Rare events come one at a time: a late tick, an action and a changed state each meet the common events of their part, not each other.",
    "Ticks, runs and feedback are whole: the rounding of doses is held by the laws of the guard.",
    "Two feeders of one product, a generator's cell, a flow meter, base, slices, off time by a clock, limits that are set anew, an older pair of records and the reduced stage are not walked.",
    "The guard's checksums are inputs here, and the record's handshake is followed by a store of the walk's own.",
    "The hardware dead man cuts a drive one tick after its permit; without one, a tick that never comes feeds on.",
];

/// Figures with a comma at each thousand.
fn grouped(number: u64) -> String {
    let digits = number.to_string();
    let mut out = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

#[derive(Serialize)]
struct Row {
    summary: PartSummary,
    site: &'static str,
    happens: &'static str,
    states: String,
    judgements: String,
    /// The file from which a way is told again.
    trail: Option<String>,
    /// From this tick on nothing is wrong any more.
    healthy_from: Option<usize>,
}

fn row(report: &Report) -> Row {
    let (site, happens) = about(report.part);
    let trail = report.broken.as_ref();
    Row {
        summary: PartSummary::from(report),
        site,
        happens,
        states: grouped(report.states as u64),
        judgements: grouped(report.judgements),
        trail: trail.map(super::Trail::file),
        healthy_from: trail
            .filter(|trail| !trail.healthy.is_empty())
            .map(|trail| trail.ticks.len()),
    }
}

/// Its class in the page's style.
fn class(reports: &[Report], wanted: usize) -> &'static str {
    if reports.iter().any(|report| !report.holds()) {
        return "broken";
    }
    let open = reports.iter().any(|report| report.ended != Ended::Closed);
    if open || reports.len() < wanted {
        return "mend";
    }
    ""
}

/// The page of these parts of a configuration. `command` is what walks them again.
///
/// # Errors
/// What the template engine has to say; never for a walk of this program.
pub fn page(config: &str, reports: &[Report], command: &str) -> Result<String, minijinja::Error> {
    let wanted = parts(config).unwrap_or_default();
    let rows: Vec<Row> = reports.iter().map(row).collect();
    let always = ALWAYS.iter().map(|one| (one.name, one.says));
    let at_last = Aim::ALL.iter().map(|aim| (aim.name(), aim.says()));
    let engine = crate::report::engine("explore.html", PAGE)?;
    engine.get_template("explore.html")?.render(context! {
        config,
        verdict => super::verdict(wanted, reports),
        class => class(reports, wanted.len()),
        rows => Value::from(Serde(&rows)),
        always => always.collect::<Vec<_>>(),
        at_last => at_last.collect::<Vec<_>>(),
        left_out => LEFT_OUT,
        cautions => CAUTIONS[1..].to_vec(),
        version => env!("CARGO_PKG_VERSION"),
        command,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::explore::{Seen, Trail, TrailTick, replay};

    fn report(part: &'static str, ended: Ended, broken: Option<Trail>) -> Report {
        Report {
            part,
            ended,
            states: 1_234_567,
            judgements: 89,
            depth: 4,
            events: 5,
            seen: Seen::default(),
            waits: Some([6, 2]),
            missing: Vec::new(),
            broken,
        }
    }

    #[test]
    fn a_way_stands_on_the_page_with_what_tells_it_again() {
        let mut trail = replay("x3-answers", &[0, 0]).unwrap();
        trail.healthy = vec![TrailTick::in_words("nothing <happens>", "feeder 0 idle")];
        trail.broken = Some(("SPREAD", "no cycle before the last has spread"));
        let file = trail.file();
        let page = page(
            "x3-answers",
            &[report("x3-answers", Ended::Broken, Some(trail))],
            "again",
        )
        .unwrap();
        for part in [
            "a property does not hold in x3-answers",
            "SPREAD",
            "1,234,567",
            "nothing &lt;happens&gt;",
            "explore --replay way.txt",
        ] {
            assert!(page.contains(part), "{part}: {page}");
        }
        for line in file.lines() {
            assert!(page.contains(line), "{line}");
        }
        assert!(crate::explore::replay_file("way.txt", &file).is_ok());
    }

    /// In words the page and the screen say the same, and name the parts.
    #[test]
    fn a_walk_that_did_not_end_is_no_closed_one() {
        let closed = || report("x2", Ended::Closed, None);
        let cut = || report("x3-answers", Ended::Cut, None);
        let mut missing = closed();
        missing
            .missing
            .push("hour_cap never refuses alone".to_owned());
        let trail = Trail {
            broken: Some(("SPREAD", "no cycle before the last has spread")),
            ..replay("x3-persons", &[0]).unwrap()
        };
        let broken = report("x3-persons", Ended::Broken, Some(trail));
        let x3 = parts("x3").unwrap();
        for (config, reports, words, style) in [
            (
                "x2",
                vec![closed()],
                "HELD in every state of 1 part, walked to the end",
                "",
            ),
            (
                "x3",
                vec![report("x3-persons", Ended::Closed, None), cut()],
                "HELD as far as it went; 1 of 3 parts walked to the end; cut at their largest number of states (--states-max), \
                 and not looked at beyond: x3-answers; not begun: x3-bodies",
                "mend",
            ),
            (
                "x2",
                vec![report("x2", Ended::Stopped, None)],
                "HELD as far as it went; 0 of 1 part walked to the end; stopped before the end: x2",
                "mend",
            ),
            (
                "x2",
                vec![missing],
                "BROKEN in 1 of 1 part; what should have happened never did in x2",
                "broken",
            ),
            (
                "x3",
                vec![broken],
                "BROKEN in 1 of 3 parts; a property does not hold in x3-persons; not begun: ",
                "broken",
            ),
        ] {
            let wanted = parts(config).unwrap();
            assert_eq!(class(&reports, wanted.len()), style, "{words}");
            let text = super::super::verdict(wanted, &reports);
            assert!(text.starts_with(words), "{text}");
            let page = page(config, &reports, "again").unwrap();
            let shown = format!(
                "<p class=\"verdict{}{style}\">Verdict: {text}.",
                if style.is_empty() { "" } else { " " }
            );
            assert!(page.contains(&shown), "{shown}\n{page}");
        }
        assert_eq!(x3.len(), 3);
    }

    #[test]
    fn each_part_says_what_it_walks() {
        let all = parts("all").unwrap();
        let mut said: Vec<&str> = all.iter().map(|part| about(part).0).collect();
        said.sort_unstable();
        said.dedup();
        assert_eq!(said.len(), all.len());
    }

    #[test]
    fn thousands_are_told_apart() {
        assert_eq!(
            [0, 999, 1000, 45_678_901].map(grouped),
            ["0", "999", "1,000", "45,678,901"]
        );
    }
}

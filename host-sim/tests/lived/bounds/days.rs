//! Days that a campaign drew once, each with the entries of the bounds that it needs: `tests/replay/days`. They stay
//! what they are when campaigns draw others.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use dosewarden_sim::campaign::{Planned, Subject, label, live};
use dosewarden_sim::fault::{Chosen, find};
use serde::Deserialize;

use super::trials::{judged, of_site, root};

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Day {
    /// A file of `examples/sites`, without its ending.
    site: String,
    /// The command and trial that found it.
    found: String,
    /// Entries without any one of which it would be outside.
    needs: Vec<String>,
    /// How long it is lived, h.
    hours: u64,
    /// When the unit's power goes for two seconds, s from midnight before day 1.
    reset_at_s: Option<u64>,
    fault: Vec<DayFault>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DayFault {
    id: String,
    /// Its part, as tables name it; none: the site.
    of: Option<String>,
    severity: f64,
    at_s: u64,
    /// How long it stands, s; none: as the catalogue says.
    for_s: Option<u64>,
}

fn days() -> BTreeMap<String, Day> {
    let folder = root().join("tests/replay/days");
    let mut days = BTreeMap::new();
    for file in std::fs::read_dir(folder).expect("tests/replay/days") {
        let path: PathBuf = file.expect("a file").path();
        let text = std::fs::read_to_string(&path).expect("text");
        let day = toml::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        days.insert(path.display().to_string(), day);
    }
    days
}

/// Entries that some day needs.
pub(crate) fn needs() -> BTreeSet<String> {
    days().into_values().flat_map(|day| day.needs).collect()
}

impl DayFault {
    fn chosen(&self, subject: &Subject) -> Chosen {
        let fault = find(&self.id).unwrap_or_else(|| panic!("no fault {}", self.id));
        let wanted = match &self.of {
            Some(of) => format!("{} {of}", self.id),
            None => self.id.clone(),
        };
        let mut parts = fault.parts_of(&subject.scenario).into_iter();
        let part = parts.find(|part| label(fault, *part, &subject.scenario) == wanted);
        Chosen {
            fault,
            part: part.unwrap_or_else(|| panic!("no part is called {wanted}")),
            severity: self.severity,
            at_ms: self.at_s * 1_000,
            for_ms: self.for_s.map(|s| s * 1_000),
        }
    }
}

#[test]
fn each_day_that_was_found_is_inside_and_needs_its_entries() {
    let days = days();
    assert!(days.len() >= 10, "{}", days.len());
    let mut subjects: BTreeMap<&str, Subject> = BTreeMap::new();
    for (file, day) in &days {
        let subject = subjects
            .entry(&day.site)
            .or_insert_with(|| of_site(&day.site));
        let planned = Planned {
            case: 0,
            chosen: day.fault.iter().map(|one| one.chosen(subject)).collect(),
            reset_at_ms: day.reset_at_s.map(|s| s * 1_000),
            for_ms: day.hours * 3_600_000,
        };
        let outcome = live(subject, &planned).expect("a sound plant");
        let (outside, needed) = judged(subject, &planned.chosen, &outcome);
        assert_eq!(outside, Vec::<String>::new(), "{file}, {}", day.found);
        let missing: Vec<_> = day.needs.iter().filter(|n| !needed.contains(*n)).collect();
        assert!(
            missing.is_empty(),
            "{file} needs {needed:?}, not {missing:?}"
        );
    }
}

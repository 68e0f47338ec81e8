//! A trial by name: a site, faults with their parts and sizes, a day.

use std::collections::BTreeSet;
use std::path::PathBuf;
use std::sync::LazyLock;

use dosewarden_sim::campaign::{Bounds, Outcome, Planned, Subject, live};
use dosewarden_sim::fault::{Chosen, Part, find};
use dosewarden_sim::plan::HOME_POOL;

/// The pool at a house, as planned.
pub(crate) static HOME: LazyLock<Subject> =
    LazyLock::new(|| Subject::of_site("home-pool.toml", HOME_POOL, None).expect("a sound site"));

/// The project's folder.
pub(crate) fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// A site of the examples, by its file's name without ending.
pub(crate) fn of_site(name: &str) -> Subject {
    let file = format!("{name}.toml");
    let text = std::fs::read_to_string(root().join("examples/sites").join(&file)).expect("a site");
    Subject::of_site(&file, &text, None).expect("a sound site")
}

/// A fault that begins so many minutes before the dose.
pub(crate) fn before_dose(
    subject: &Subject,
    id: &str,
    part: Part,
    severity: f64,
    minutes: u64,
) -> Chosen {
    Chosen {
        fault: find(id).expect("a fault"),
        part,
        severity,
        at_ms: subject.dose_from_ms - minutes * 60_000,
        for_ms: None,
    }
}

/// Some hours with these faults.
pub(crate) fn lived(subject: &Subject, chosen: &[Chosen], hours: u64) -> Outcome {
    let planned = Planned {
        case: 0,
        chosen: chosen.to_vec(),
        reset_at_ms: None,
        for_ms: hours * 3_600_000,
    };
    live(subject, &planned).expect("a sound plant")
}

/// What was past what these faults allow, and the entries that were needed for the rest.
pub(crate) fn judged(
    subject: &Subject,
    chosen: &[Chosen],
    outcome: &Outcome,
) -> (Vec<String>, BTreeSet<String>) {
    let bounds = Bounds::committed();
    let (mut outside, mut needed) = (Vec::new(), BTreeSet::new());
    for broken in &outcome.broken {
        if broken.oracle == "kept_in_range" {
            continue;
        }
        let (allowed, _) = bounds.allowed(broken, chosen, &subject.scenario);
        if !Bounds::holds(broken, allowed) {
            let (worst, bound) = (broken.worst, broken.bound);
            outside.push(format!(
                "{}: {worst} of {bound}: {}",
                broken.oracle, broken.words
            ));
        }
        needed.extend(bounds.needed(broken, chosen, &subject.scenario));
    }
    (outside, needed)
}

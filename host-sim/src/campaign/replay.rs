//! A failing trial as a scenario file, which `run` replays from its first day, and its timeline in words.
//!
//! A trial forks from a healthy run; the file lives that run's days first. Both give the same values, to the bit:
//! [`replays`] says so of each file that is written.

use core::fmt::{self, Write as _};

use super::live::{RESET_MS, onset_of, with_faults};
use super::shrink::Failure;
use super::subject::{Pool, Subject, label};
use super::trial::broken;
use crate::fault::Part;
use crate::plant::ProbeId;
use crate::run::{figure, for_people, log_entry};
use crate::scenario::clock::{DAY_MS, show_exactly};
use crate::scenario::{InputError, Scenario, edited};
use crate::unit::Canary;

/// Drive-on times nearer to each other than this are told as one.
const DOSE_GAP_MS: u64 = 60_000;
/// The timeline begins so long before the first fault, or before the break where that is sooner.
const BEFORE_MS: u64 = 900_000;

/// A failure to be replayed.
#[derive(Clone, Debug)]
pub struct Replay {
    /// Name of its file, without `.toml`.
    pub name: String,
    /// The file.
    pub text: String,
    /// What went wrong, in a line.
    pub what: String,
    /// What happened, in order.
    pub timeline: Vec<String>,
}

/// Why a file does not replay what was found.
#[derive(Debug)]
pub enum ReplayError {
    /// The subject has no text, or it cannot be read back.
    Input(InputError),
    /// It breaks something else.
    Differs {
        /// What the trial found.
        trial: String,
        /// What the file gives.
        file: String,
    },
}

impl fmt::Display for ReplayError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Input(error) => write!(f, "{error}"),
            Self::Differs { trial, file } => {
                write!(f, "the trial found {trial}, and its file gives {file}")
            }
        }
    }
}

impl std::error::Error for ReplayError {}

impl Replay {
    /// Of a failure. `found_by` says how it was found.
    ///
    /// # Errors
    /// The plant cannot be built with these faults.
    pub fn of(
        subject: &Subject,
        failure: &Failure,
        found_by: &str,
    ) -> Result<Self, super::CampaignError> {
        let name = name(subject, failure);
        let what = what(failure);
        let timeline = timeline(subject, failure)?;
        let text = text(subject, failure, &name, &[&what, found_by], &timeline);
        Ok(Self {
            name,
            text,
            what,
            timeline,
        })
    }
}

/// The name of the unit's canary.
fn canary_name(subject: &Subject) -> Option<&'static str> {
    let all = Canary::ALL.iter();
    all.clone()
        .find(|(_, canary)| Some(*canary) == subject.canary)
        .map(|(name, _)| *name)
}

fn name(subject: &Subject, failure: &Failure) -> String {
    let mut parts: Vec<String> = vec![failure.broken.oracle.to_owned()];
    for one in &failure.chosen {
        parts.push(label(one.fault, one.part, &subject.scenario));
    }
    if failure.reset_at_ms.is_some() {
        parts.push("reset".to_owned());
    }
    if let Some(canary) = canary_name(subject) {
        parts.push(canary.to_owned());
    }
    let plain = |c: char| {
        if c.is_ascii_alphanumeric() {
            c.to_ascii_lowercase()
        } else {
            '-'
        }
    };
    parts.join("-").chars().map(plain).collect()
}

fn what(failure: &Failure) -> String {
    let broken = &failure.broken;
    let (scale, unit) = for_people(broken.unit);
    let shown = |value: f64| figure(value / scale);
    let allowed = if (failure.allowed - broken.bound).abs() > 1e-9 {
        format!("; these faults allow {}", shown(failure.allowed))
    } else {
        String::new()
    };
    format!(
        "{}: {} against {} {unit}{allowed} ({})",
        broken.oracle,
        shown(broken.worst),
        shown(broken.bound),
        broken.words
    )
}

fn part_of(part: Part, names: &[String]) -> Option<String> {
    match part {
        Part::Site => None,
        Part::Feeder(at) => names.get(at).cloned(),
        Part::Probe(ProbeId::Ph) => Some("ph".to_owned()),
        Part::Probe(ProbeId::Orp) => Some("orp".to_owned()),
    }
}

/// What each feeder gives, told when it begins.
struct Doses {
    open: Vec<Option<(u64, u64, f64)>>,
    told: Vec<(u64, String)>,
}

impl Doses {
    fn look(&mut self, pool: &Pool, names: &[String]) {
        let now = pool.clock_ms();
        for (at, name) in names.iter().enumerate() {
            let feeder = &pool.truth().feeders[at];
            if let Some((from, last, amount)) = self.open[at]
                && now > last + DOSE_GAP_MS
            {
                self.tell(name, feeder.product.unit(), (from, last, amount));
                self.open[at] = None;
            }
            if feeder.fed > 0.0 {
                let (from, _, amount) = self.open[at].unwrap_or((now, now, 0.0));
                self.open[at] = Some((from, now, amount + feeder.fed));
            }
        }
    }

    fn tell(&mut self, name: &str, unit: &'static str, (from, last, amount): (u64, u64, f64)) {
        let unit = if unit == "uL" { "mL" } else { "g" };
        let words = format!(
            "{name} is fed: {} {unit} until {}",
            figure(amount / 1000.0),
            show_exactly(last)
        );
        self.told.push((from, words));
    }

    fn end(mut self, pool: &Pool, names: &[String]) -> Vec<(u64, String)> {
        for (at, name) in names.iter().enumerate() {
            if let Some(dose) = self.open[at].take() {
                self.tell(name, pool.truth().feeders[at].product.unit(), dose);
            }
        }
        self.told
    }
}

fn timeline(subject: &Subject, failure: &Failure) -> Result<Vec<String>, super::CampaignError> {
    let names = subject.scenario.feeder_names();
    let (chosen, reset) = (&failure.chosen, failure.reset_at_ms);
    let onset = onset_of(subject, chosen, reset);
    // From the origin on, for what was fed before.
    let mut pool = with_faults(subject.origin_of(chosen)?, subject, chosen, reset);
    let start_ms = u64::from(subject.scenario.plant.start_min) * 60_000;
    let broken_at = start_ms + failure.broken.first_at_ms;
    let origin_ms = pool.clock_ms();
    // What was so from the start is no moment to begin at.
    let first = if onset < origin_ms {
        broken_at
    } else {
        onset.min(broken_at)
    };
    let from = origin_ms.max(first.saturating_sub(BEFORE_MS));
    let mut doses = Doses {
        open: vec![None; names.len()],
        told: Vec::new(),
    };
    while pool.clock_ms() < failure.end_ms {
        pool.tick();
        doses.look(&pool, &names);
    }
    let mut lines: Vec<(u64, String)> = Vec::new();
    for one in &failure.chosen {
        let early = one.stands_from_the_start(&subject.scenario);
        let of = part_of(one.part, &names).map_or_else(String::new, |of| format!(" of {of}"));
        let when = if early { ", from the start" } else { "" };
        lines.push((
            if early { 0 } else { one.at_ms },
            format!(
                "fault {}: {}{of}, severity {}{when}",
                one.fault.id, one.fault.name, one.severity
            ),
        ));
    }
    let log = pool.log().iter().map(|line| log_entry(line, &names));
    lines.extend(log.map(|entry| (entry.clock_ms, entry.words)));
    lines.extend(doses.end(&pool, &names));
    lines.push((broken_at, format!("BROKEN {}", what(failure))));
    lines.push((failure.end_ms, "end of the run".to_owned()));
    lines.retain(|(at, words)| *at >= from || words.starts_with("fault "));
    lines.sort_by_key(|(at, _)| *at);
    Ok(lines
        .into_iter()
        .map(|(at, words)| format!("{:<18} {words}", show_exactly(at)))
        .collect())
}

fn text(
    subject: &Subject,
    failure: &Failure,
    name: &str,
    told: &[&str],
    timeline: &[String],
) -> String {
    let mut text = String::new();
    for line in told {
        let _ = writeln!(text, "# {line}");
    }
    let canary = canary_name(subject).map_or_else(String::new, |name| format!(" --canary {name}"));
    let _ = writeln!(
        text,
        "# Replay it with: dosewarden run {name}.toml{canary}\n#"
    );
    for line in timeline {
        let _ = writeln!(text, "#   {line}");
    }
    text.push_str("#\n# The site, with how well the water is kept left out.\n\n");
    let quoted = |text: &str| format!("\"{}\"", text.replace(['"', '\\'], "'"));
    let list: Vec<String> = failure.all_broken.iter().map(|one| quoted(one)).collect();
    let list: Vec<String> = list
        .into_iter()
        .filter(|one| one != "\"kept_in_range\"")
        .collect();
    let values = [
        (
            "name",
            quoted(&format!("{}, replayed", subject.scenario.name)),
        ),
        ("words", quoted(&what(failure))),
        ("days", failure.end_ms.div_ceil(DAY_MS).max(1).to_string()),
        ("ends_at", quoted(&show_exactly(failure.end_ms))),
        ("expect_broken", format!("[{}]", list.join(", "))),
    ];
    // How well the water is kept is no question while something is broken.
    text.push_str(&edited(&subject.text, &values, &["[held_to.kept]"]));
    let names = subject.scenario.feeder_names();
    for one in &failure.chosen {
        let at = show_exactly(one.at_ms);
        let _ = write!(text, "\n# {}\n[[event]]\nat = \"{at}\"\n", one.fault.name);
        let _ = writeln!(text, "inject = \"{}\"", one.fault.id);
        if let Some(of) = part_of(one.part, &names) {
            let _ = writeln!(text, "of = \"{of}\"");
        }
        let _ = writeln!(text, "severity = {:?}", one.severity);
        if let Some(for_ms) = one.for_ms {
            let _ = writeln!(text, "for = \"{} s\"", for_ms as f64 / 1000.0);
        }
    }
    if let Some(at_ms) = failure.reset_at_ms {
        let _ = write!(
            text,
            "\n# the reset\n[[event]]\nat = \"{}\"\npower_cut = \"{} s\"\nsupply = \"controller\"\n",
            show_exactly(at_ms),
            RESET_MS / 1000
        );
    }
    text
}

/// Whether the file, lived from its first day, breaks the oracle by just as much as the trial did.
///
/// # Errors
/// [`ReplayError`].
pub fn replays(subject: &Subject, failure: &Failure, replay: &Replay) -> Result<(), ReplayError> {
    let file = format!("{}.toml", replay.name);
    let scenario = Scenario::parse(&file, &replay.text).map_err(ReplayError::Input)?;
    let mut pool = subject
        .attached(&scenario)
        .map_err(|error| ReplayError::Input(InputError::of_file(&file, error.to_string())))?;
    pool.run_for_ms(scenario.run_ms());
    let all = broken(&mut pool);
    if all.contains(&failure.broken) {
        return Ok(());
    }
    let found = all.iter().find(|one| one.oracle == failure.broken.oracle);
    Err(ReplayError::Differs {
        trial: format!("{:?}", failure.broken),
        file: found.map_or_else(|| "nothing".to_owned(), |one| format!("{one:?}")),
    })
}

//! `dosewarden evidence`.

mod tried;

use std::error::Error;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use clap::Args;

use super::failed::Failed;
use super::output::{self, Output};
use super::{BROKEN, HELD, STOPPED, stop};
use crate::campaign::{self, Bounds, CampaignError, Mode, Shard, Subject, Trials};
use crate::evidence::{Index, Made, Piece, index};
use crate::explore::{self as walks, Walking};
use crate::plan::{self, Plan, Site};
use crate::report;
use crate::rules::{self, Shape};
use crate::run::{self as runs, Observer, RunError};
use crate::scenario::{Scenario, text_of};
use crate::unit::{Canary, DosewardenUnit};
use tried::{CAUGHT_BY, Tried};

/// What `evidence` is told.
#[derive(Debug, Args)]
pub(super) struct EvidenceArguments {
    /// A folder for it: empty, or one that is not there yet.
    #[arg(long, value_name = "FOLDER")]
    out: PathBuf,
    /// A site's file, as for `plan`, for the campaigns; without it the built-in pool at a house.
    #[arg(long, value_name = "FILE.toml")]
    site: Option<PathBuf>,
    /// Ticks of a dose at which each single fault sees a reset.
    #[arg(long, value_name = "N", default_value_t = 2)]
    #[arg(value_parser = clap::value_parser!(u64).range(1..=10_000))]
    resets: u64,
    /// Random days with several faults.
    #[arg(long, value_name = "N", default_value_t = 200)]
    #[arg(value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    days: u64,
    /// States after which a part of the walk is cut.
    #[arg(long, value_name = "N", default_value_t = 300_000)]
    #[arg(value_parser = clap::value_parser!(u32).range(1..=4_000_000_000))]
    states_max: u32,
    /// Writes the index as JSON too.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
}

/// Gathers, writes and tells; gives the exit status.
pub(super) fn evidence(arguments: &EvidenceArguments) -> u8 {
    match gather(arguments) {
        Ok(code) => code,
        Err(Failure::Stopped) => {
            eprintln!("stopped before the end; there is no index");
            STOPPED
        }
        Err(Failure::Input(failed)) => failed.tell(),
    }
}

enum Failure {
    Stopped,
    Input(Failed),
}

impl<E: Into<Box<dyn Error>>> From<E> for Failure {
    fn from(error: E) -> Self {
        Self::Input(error.into().into())
    }
}

struct Gathering<'a> {
    arguments: &'a EvidenceArguments,
    stop: &'static AtomicBool,
    pieces: Vec<Piece>,
    json: Option<Output>,
}

struct Watch<'a>(&'a AtomicBool);

impl Observer for Watch<'_> {
    fn progress(&mut self, _: f64) {}

    fn stop(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

fn gather(arguments: &EvidenceArguments) -> Result<u8, Failure> {
    let folder = &arguments.out;
    let text = site_text(arguments)?;
    fs::create_dir_all(folder).map_err(|error| format!("{}: {error}", folder.display()))?;
    let mut inside =
        fs::read_dir(folder).map_err(|error| format!("{}: {error}", folder.display()))?;
    if inside.next().is_some() {
        let folder = folder.display();
        return Err(format!("{folder}: is not empty; name a folder that is, or a new one").into());
    }
    let stop = stop::catch("");
    let mut all = Gathering {
        arguments,
        stop,
        pieces: Vec::new(),
        json: arguments.json.as_deref().map(output::begin).transpose()?,
    };
    all.rules()?;
    all.week()?;
    all.campaign(&text, Mode::Single, arguments.resets)?;
    all.campaign(&text, Mode::Random, arguments.days)?;
    all.canaries(&text)?;
    all.walk()?;
    all.finish()
}

fn site_text(arguments: &EvidenceArguments) -> Result<(String, String), Failure> {
    match &arguments.site {
        None => Ok(("home-pool.toml".into(), plan::HOME_POOL.into())),
        Some(path) => {
            let (file, text) = (path.display().to_string(), text_of(path)?);
            // Before there is a folder: a site that cannot be tried leaves nothing behind.
            let site = Site::parse(&file, &text)?;
            let plan = Plan::of(&site).map_err(|error| format!("{file}: {error}"))?;
            if plan.has_errors() {
                return Err(format!("{file}: {}", CampaignError::Unplanned).into());
            }
            Ok((file, text))
        }
    }
}

impl Gathering<'_> {
    fn add(&mut self, mut piece: Piece, text: &str, begun: Instant) -> Result<(), Failure> {
        if self.stop.load(Ordering::Relaxed) {
            return Err(Failure::Stopped);
        }
        piece.took_s = begun.elapsed().as_secs_f64();
        write(&self.arguments.out.join(&piece.file), text)?;
        eprintln!("{:.1} s  {}: {}", piece.took_s, piece.title, piece.verdict);
        self.pieces.push(piece);
        Ok(())
    }

    fn rules(&mut self) -> Result<(), Failure> {
        let begun = Instant::now();
        let pages = rules::all()?;
        let page = rules::shown(&pages, &rules::reasons(), Shape::Html)?;
        let piece = Piece {
            title: "The rules, a page each",
            shows: "Each rule with its hazard, source, limits, oracles, tests, and what breaks without it",
            command: "dosewarden rules --as html --out rules.html".into(),
            verdict: format!("{} rules", pages.len()),
            holds: pages.len() == dosewarden::guard::Rule::COUNT,
            file: "rules.html".into(),
            took_s: 0.0,
        };
        self.add(piece, &page, begun)
    }

    fn week(&mut self) -> Result<(), Failure> {
        let begun = Instant::now();
        let scenario = Scenario::first_pool();
        let unit = DosewardenUnit::for_scenario(&scenario);
        let ended = runs::run(&scenario, unit, None, &mut Watch(self.stop));
        let result = ended.map_err(|error| match error {
            RunError::Stopped => Failure::Stopped,
            other => Failure::from(other.to_string()),
        })?;
        let command = format!("dosewarden run --seed {} --report run.html", scenario.seed);
        let page = report::page(&scenario, &result, &command)?;
        let held = result.summary.held;
        let piece = Piece {
            title: "A simulated week with faults",
            shows: "What the oracles make of a new unit, a power cut in mid-dose and a stuck flow switch",
            command,
            verdict: (if held {
                "every oracle held"
            } else {
                "an oracle was broken"
            })
            .into(),
            holds: held,
            file: "run.html".into(),
            took_s: 0.0,
        };
        self.add(piece, &page, begun)
    }

    fn lived(&self, site: &(String, String), tried: &Tried) -> Result<campaign::Report, Failure> {
        let subject = Subject::of_site(&site.0, &site.1, tried.canary)?;
        let runs = (tried.mode != Mode::Pairs).then_some(tried.runs);
        let trials = Trials::new(tried.mode, 1, runs, tried.faults(), &subject);
        let stop = || self.stop.load(Ordering::Relaxed);
        let bounds = Bounds::committed();
        let mut report = campaign::run(&subject, &trials, &bounds, Shard::ALL, |_| !stop())?;
        report.command = tried.command(self.arguments.site.as_deref());
        Ok(report)
    }

    fn campaign(&mut self, site: &(String, String), mode: Mode, runs: u64) -> Result<(), Failure> {
        let begun = Instant::now();
        let report = self.lived(
            site,
            &Tried {
                mode,
                runs,
                only: &[],
                canary: None,
            },
        )?;
        let page = campaign::page(&report)?;
        let is_single = mode == Mode::Single;
        let piece = Piece {
            title: if is_single {
                "Every fault by itself"
            } else {
                "Days with several faults"
            },
            shows: if is_single {
                "What each fault does to the water, with resets in mid-dose, against bounds written down"
            } else {
                "The same for one to four faults of any kind at any time of a day"
            },
            command: report.command.clone(),
            verdict: format!(
                "{} trials, {}: {}",
                report.lived,
                campaign::simulated(report.simulated_s),
                if report.is_inside() {
                    "inside the bounds"
                } else {
                    "outside the bounds"
                }
            ),
            holds: report.is_inside(),
            file: format!("campaign-{}.html", mode.name()),
            took_s: 0.0,
        };
        self.add(piece, &page, begun)
    }

    /// Each has to be caught, or the evidence is worth little.
    fn canaries(&mut self, site: &(String, String)) -> Result<(), Failure> {
        let begun = Instant::now();
        let (mut text, mut missed) = (String::new(), Vec::new());
        for tried in &CAUGHT_BY {
            let name = tried.canary.map_or("", Canary::name);
            let sound = self.lived(
                site,
                &Tried {
                    canary: None,
                    ..*tried
                },
            )?;
            let report = self.lived(site, tried)?;
            if report.is_inside() || !sound.is_inside() {
                missed.push(name);
            }
            let inside = if sound.is_inside() {
                "inside"
            } else {
                "OUTSIDE"
            };
            let told = campaign::summary(&report);
            text.push_str(&format!(
                "== {name}\n{}\na sound unit with the same faults: {inside}\n{told}\n",
                report.command
            ));
        }
        let piece = Piece {
            title: "Units broken on purpose",
            shows: "That the campaign catches a controller which skips a hold, forgets a total or loses a lockout",
            command: "dosewarden campaign --canary NAME ... (each in the file)".into(),
            verdict: if missed.is_empty() {
                format!("all {} were caught", Canary::ALL.len())
            } else {
                format!("not caught: {}", missed.join(", "))
            },
            holds: missed.is_empty(),
            file: "canaries.txt".into(),
            took_s: 0.0,
        };
        self.add(piece, &text, begun)
    }

    fn walk(&mut self) -> Result<(), Failure> {
        let begun = Instant::now();
        let (mut text, mut holds, mut states) = (String::new(), true, 0);
        let mut reports = Vec::new();
        let parts = walks::parts("all").unwrap_or_default();
        for part in parts {
            let report = walks::explore(
                part,
                &mut Walking {
                    states_max: self.arguments.states_max as usize,
                    jobs: 2,
                    fed_only: false,
                    stop: self.stop,
                    progress: &mut |_| {},
                },
            )?;
            holds &= report.holds();
            states += report.states;
            text.push_str(&report.to_string());
            reports.push(report);
        }
        let verdict = walks::verdict(parts, &reports);
        text.push_str(&format!("Verdict: {verdict}.\n"));
        let piece = Piece {
            title: "The guard walked through its states",
            shows: "Named properties in every state that small sites can reach; a part that was cut says so",
            command: format!(
                "dosewarden explore --states-max {}",
                self.arguments.states_max
            ),
            verdict: format!("{states} states: {verdict}"),
            holds,
            file: "explore.txt".into(),
            took_s: 0.0,
        };
        self.add(piece, &text, begun)
    }

    fn finish(self) -> Result<u8, Failure> {
        let of = self.arguments;
        let site = of.site.as_ref();
        let site = site.map_or(String::new(), |path| format!(" --site {}", path.display()));
        let made = Made {
            version: env!("CARGO_PKG_VERSION"),
            on: format!("{} {}", std::env::consts::ARCH, std::env::consts::OS),
            command: format!(
                "dosewarden evidence --out FOLDER{site} --resets {} --days {} --states-max {}",
                of.resets, of.days, of.states_max
            ),
        };
        let path = of.out.join("index.html");
        write(&path, &index(&self.pieces, &made)?)?;
        output::print(&format!("Wrote {}\n", path.display()))?;
        let index = Index::of(self.pieces, made);
        if let Some(mut out) = self.json {
            out.write_all(output::json(&index)?.as_bytes())?;
            output::print(&format!("Wrote {}\n", out.keep()?.display()))?;
        }
        Ok(if index.holds { HELD } else { BROKEN })
    }
}

fn write(path: &Path, text: &str) -> Result<(), Failure> {
    let mut out = output::begin(path)?;
    out.write_all(text.as_bytes())?;
    out.keep()?;
    Ok(())
}

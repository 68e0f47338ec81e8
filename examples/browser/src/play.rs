//! A pool with its unit, what was done to it by hand, and its trace.
//!
//! Invariant: what is done by hand is an event of the scenario, read by the same reader, and happens in the tick in
//! which it would happen if it had stood in the file. So [`Play::saved`] is a file that replays all of it.

use dosewarden_sim::SimPool;
use dosewarden_sim::judge::Findings;
use dosewarden_sim::plant::MAX_FEEDERS;
use dosewarden_sim::run::Trace;
use dosewarden_sim::scenario::clock::{DAY_MS, show_exactly};
use dosewarden_sim::scenario::{FIRST_POOL, Scenario, edited};
use serde::Serialize;

use crate::digest::Digest;
use crate::seen::{self, Point, Seen};
use crate::since::Since;
use crate::tried::{self, Tried};

/// How the quiet pool is called in messages.
pub const QUIET_NAME: &str = "quiet-pool.toml";
/// A point of the curves each so often, ms.
const POINT_MS: u64 = 60_000;
/// Most points that wait for the page; a page that looks more seldom than once in two days loses the oldest.
const POINTS_MAX: usize = 2_880;

/// The built-in pool on a day on which nothing happens but that a technician begins the unit; it goes on for years.
pub(crate) fn quiet_text() -> String {
    let values = [
        ("name", "\"Otterbourne Mere, to play with\"".to_owned()),
        (
            "words",
            "\"A new unit at an invented pool of 95 m3. A technician begins it at 08:05. All else is up to you.\""
                .to_owned(),
        ),
        ("days", "3650".to_owned()),
        ("starts_at", "\"08:00\"".to_owned()),
    ];
    // How well the water is kept is no question while somebody plays with the pump.
    let mut text = edited(FIRST_POOL, &values, &["[held_to.kept]", "[[event]]"]);
    for (at, act) in [
        ("08:05", "person = \"initialise\"\nby = \"technician\""),
        ("08:06", "person = \"read_level\"\nfeeder = \"acid\""),
        ("08:07", "person = \"read_level\"\nfeeder = \"chlorine\""),
        ("08:08", "person = \"full_stage\"\nby = \"technician\""),
    ] {
        text.push_str(&format!("\n[[event]]\nat = \"day 1 {at}\"\n{act}\n"));
    }
    text
}

/// What was begun.
#[derive(Debug, Serialize)]
pub(crate) struct About {
    file: String,
    name: String,
    words: String,
    seed: String,
    unit: String,
    tick_ms: u32,
    end: String,
    expect_broken: Vec<String>,
    ph_band: (f64, f64),
    orp_band: (f64, f64),
    feeders: Vec<String>,
    bodies: Vec<String>,
}

/// A pool to play with.
pub struct Play {
    file: String,
    /// As it was loaded, with the seed that is played.
    text: String,
    unit: String,
    scenario: Scenario,
    pub(crate) pool: SimPool<Tried>,
    pub(crate) since: Since,
    trace: Trace<Digest>,
    digest: Digest,
    /// What was done by hand, as it stands in a file.
    by_hand: String,
    points: Vec<Point>,
    next_point_ms: u64,
    fed: [f64; MAX_FEEDERS],
    lines_told: usize,
    /// What the oracles found in all, once the scenario has ended.
    end: Option<Findings>,
}

/// With the seed that is played, and without an end that somebody wrote.
fn seeded(text: &str, seed: Option<u64>) -> String {
    match seed {
        None => text.to_owned(),
        // A number of TOML has 63 bits; the reader says so of a larger one.
        Some(seed) => edited(text, &[("seed", seed.to_string())], &[]),
    }
}

impl Play {
    /// The quiet pool.
    ///
    /// # Panics
    /// Never: a test begins it.
    #[must_use]
    pub fn quiet(seed: u32) -> Self {
        match Self::begin(QUIET_NAME, &quiet_text(), Some(u64::from(seed)), None) {
            Ok(play) => play,
            Err(error) => unreachable!("{error}"),
        }
    }

    /// The pool of a scenario file. Without a seed it is the file's, without a unit that which the file's comments
    /// name, as in a counterexample.
    ///
    /// # Errors
    /// What is wrong with the file, with its line, or that there is no such unit.
    pub fn begin(
        file: &str,
        text: &str,
        seed: Option<u64>,
        unit: Option<&str>,
    ) -> Result<Self, String> {
        let unit = unit.unwrap_or_else(|| tried::named_in(text)).to_owned();
        let text = seeded(text, seed);
        let scenario = Scenario::parse(file, &text).map_err(|error| error.to_string())?;
        let attached = Tried::named(&unit, &scenario)?;
        let pool = SimPool::attach(&scenario, attached).map_err(|error| error.to_string())?;
        let digest = Digest::default();
        let trace = Trace::begin(&scenario, digest.clone()).map_err(|error| error.to_string())?;
        Ok(Self {
            file: file.to_owned(),
            text,
            unit,
            since: Since::new(scenario.feeders.len()),
            trace,
            digest,
            by_hand: String::new(),
            points: Vec::new(),
            next_point_ms: 0,
            fed: [0.0; MAX_FEEDERS],
            lines_told: 0,
            end: None,
            scenario,
            pool,
        })
    }

    /// The scenario, with what was done by hand so far.
    #[must_use]
    pub const fn scenario(&self) -> &Scenario {
        &self.scenario
    }

    pub(crate) fn about(&self) -> About {
        let scenario = &self.scenario;
        let end_ms = u64::from(scenario.plant.start_min) * 60_000 + scenario.run_ms();
        About {
            file: self.file.clone(),
            name: scenario.name.clone(),
            words: scenario.words.trim().to_owned(),
            seed: scenario.seed.to_string(),
            unit: self.unit.clone(),
            tick_ms: scenario.tick_ms,
            end: show_exactly(end_ms),
            expect_broken: scenario.expect_broken.clone(),
            ph_band: scenario.ph_band(),
            orp_band: scenario.orp_band(),
            feeders: scenario.feeder_names(),
            bodies: scenario
                .bodies
                .iter()
                .map(|body| body.name.clone())
                .collect(),
        }
    }

    /// Lets so many ticks pass, or as many as there are to the end of the scenario; gives how many it were.
    pub fn ticks(&mut self, count: u32) -> u32 {
        for done in 0..count {
            if self.pool.now_ms() >= self.scenario.run_ms() {
                if self.end.is_none() {
                    self.end = Some(self.pool.finish());
                }
                return done;
            }
            self.pool.tick();
            self.watch();
        }
        count
    }

    fn watch(&mut self) {
        // A digest takes all that is written.
        let _ = self.trace.look(&self.pool);
        self.since.look(&self.pool);
        for (fed, feeder) in self.fed.iter_mut().zip(&self.pool.truth().feeders) {
            *fed += feeder.fed;
        }
        if self.pool.now_ms() < self.next_point_ms {
            return;
        }
        self.next_point_ms = self.pool.now_ms() + POINT_MS;
        if self.points.len() == POINTS_MAX {
            self.points.remove(0);
        }
        self.points.push(seen::point(&self.pool, &self.fed));
        self.fed = [0.0; MAX_FEEDERS];
    }

    /// Does something now: keys and values of one `[[event]]` of a scenario file without its `at`. Several stand with a
    /// line `[[event]]` between them.
    ///
    /// # Errors
    /// What is wrong with it. Nothing was done then.
    pub fn act(&mut self, event: &str) -> Result<(), String> {
        if self.end.is_some() {
            return Err("the scenario has ended; begin it anew".to_owned());
        }
        let at = show_exactly(self.pool.clock_ms());
        let mut more = String::new();
        for one in event.split("[[event]]").map(str::trim) {
            if !one.is_empty() {
                more.push_str(&format!("\n[[event]]\nat = \"{at}\"\n{one}\n"));
            }
        }
        let by_hand = format!("{}{more}", self.by_hand);
        let text = format!("{}\n{by_hand}", self.text);
        let scenario = Scenario::parse(&self.file, &text).map_err(|error| error.to_string())?;
        let mut before = scenario.clone();
        before.events.clone_from(&self.scenario.events);
        if before != self.scenario {
            let what =
                "that stands from the start of a run; write it into a scenario file and load that";
            return Err(what.to_owned());
        }
        self.pool.replace_events(scenario.events.clone());
        (self.scenario, self.by_hand) = (scenario, by_hand);
        Ok(())
    }

    /// A scenario file that `dosewarden run` replays up to now, with what was done by hand.
    #[must_use]
    pub fn saved(&mut self) -> String {
        // A digest takes all that is written.
        let _ = self.trace.flush();
        let clock_ms = self.pool.clock_ms();
        let mut values = vec![("ends_at", format!("\"{}\"", show_exactly(clock_ms)))];
        // The reader wants the end within the days.
        values.push(("days", clock_ms.div_ceil(DAY_MS).max(1).to_string()));
        let option = tried::option(&self.unit);
        let how = format!(
            "# Saved by the page at {}.\n# Replay it with: dosewarden run FILE{option} --trace t.csv\n# Digest: {}\n\n",
            show_exactly(clock_ms),
            self.digest_of_rows()
        );
        let (text, by_hand) = (edited(&self.text, &values, &[]), &self.by_hand);
        if by_hand.is_empty() {
            format!("{how}{text}")
        } else {
            format!("{how}{text}\n# --- By hand\n{by_hand}")
        }
    }

    /// SHA-256 of the trace so far, with whole minutes.
    fn digest_of_rows(&self) -> String {
        self.digest.hex()
    }

    /// What is to be shown now. Points of the curves and lines of the log come once.
    pub fn look(&mut self) -> Seen {
        // A digest takes all that is written.
        let _ = self.trace.flush();
        let findings = match &self.end {
            Some(findings) => findings.clone(),
            None => self.pool.findings(),
        };
        let names = self.scenario.feeder_names();
        let log = seen::lines(self.pool.log(), self.lines_told, &names);
        self.lines_told = self.pool.log().len();
        Seen {
            ended: self.end.is_some(),
            digest: self.digest_of_rows(),
            oracles: seen::oracles(&findings, &self.scenario),
            points: std::mem::take(&mut self.points),
            log,
            ..seen::now(&self.scenario, &self.pool, &self.since)
        }
    }
}

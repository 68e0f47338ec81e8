//! The day of a pool that the public uses: each test that was due, the probes beside the kit, what was
//! fed, what alarmed, and which published conditions for closing were met, from when to when.
//!
//! Invariant: your local code decides. Limits are those of [`dosewarden::day_log`], nothing is called
//! open, and what is not in the log or in the record is "cannot tell".
//!
//! ```
//! use dosewarden_sim::day::{Asked, DaySheet, Wanted};
//! use dosewarden_sim::plan::{COMMUNITY_POOL, Plan, Site};
//! use dosewarden_sim::visit::Log;
//!
//! let site = Site::parse("site.toml", COMMUNITY_POOL)?;
//! let plan = Plan::of(&site)?;
//! let text = "time,what,of,value,with\n\
//!     2031-05-02 07:00,test,ph,pH 7.9,\n\
//!     2031-05-02 07:00,test,free_chlorine,1.6 mg/L,\n";
//! let log = Log::parse("log.csv", text, &site, &plan)?;
//! let codes = ["delaware".to_owned()];
//! let wanted = Wanted { hours: "07:00-21:00", until: Some("10:00"), codes: &codes, ..Wanted::default() };
//! let asked = Asked::parse(&site, &log, &wanted)?;
//! let sheet = DaySheet::of(&site, &log, None, &asked);
//! let met: Vec<_> = sheet.conditions.iter().filter(|it| it.is_met).collect();
//! assert_eq!((met[0].what.as_str(), met[0].from.as_str()), ("pH at most 7.8", "07:00"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # What counts, and for how long
//! - A test of pH or free chlorine counts until the next one is due: 4 h, or 12 h while the unit's
//!   probes are recorded (Ohio OAC 3701-31-06). Where recording fails, the next test is due 4 h after
//!   the last one, or at once.
//! - A row of the record counts for 10 min; tests of alkalinity, hardness and cyanuric acid for the
//!   site's `next_test`; a temperature for 12 h (our choice).
//! - Disinfection counts as not running while the unit has no power, or while every feeder of chlorine
//!   is locked out, at an empty drum, asked for hours in vain, or held by a person for more than an
//!   hour (our choice).
//! - Of two bodies of water on one pump, one is looked at. While the valves send the water to the other, its
//!   probes are not recorded, it is not filtered, and nothing is fed to it.
//! - The required rate of recirculation is the site's `flow`; without a flow meter nobody can tell.
//! - What the codes have no figure for, as far as they were read, is asked of a person: [`BY_EYE`].

mod asked;
mod csv;
mod made;
mod page;
mod record;
mod sheet;
mod told;
mod walk;

pub use asked::{Asked, Wanted};
pub use made::TestMade;
pub use page::page;
pub use record::{Record, RecordDays};

use dosewarden::day_log::{Code, Figure, Judged};
use serde::Serialize;

use crate::plan::Site;
use crate::visit::{Log, What};
use made::Entered;
use record::Row;
use told::{alarms, fed, gap};
use walk::{DueFound, Found, Walk, kept_after, theirs};

/// What stands over everything that is shown.
pub const DECIDES: &str = "Your local code decides, and whoever answers for the pool. These are limits of published codes, \
    to compare with; no sheet calls a pool open, and none is a certified safety function.";

/// What stands over [`BY_EYE`].
pub const BY_EYE_DECIDES: &str =
    "no figure of it was read in a code, so your local code decides; common practice, no source";

/// What a person looks at, since no figure of it was read in a code (common practice, no source).
pub const BY_EYE: [&str; 4] = [
    "Clarity: is the floor at the deepest point seen clearly from the side, as the local code asks?",
    "Combined chlorine: inside of what the local code allows?",
    "Temperature of a spa: inside of what the local code allows?",
    "Rescue equipment, drain covers and signs in place?",
];

/// A code that was asked for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct CodeNamed {
    /// Its name.
    pub name: &'static str,
    /// The text that was read.
    pub source: &'static str,
}

/// A test that was due.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Due {
    /// pH or free chlorine.
    pub what: &'static str,
    /// When it was due.
    pub due: String,
    /// When it was made; `None`: it was not.
    pub made: Option<String>,
    /// Minutes after it was due; to the end of what is looked at, if it was not made.
    pub late_min: i64,
}

/// What a feeder gave.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Fed {
    /// The feeder.
    pub feeder: String,
    /// mL, or g of chlorine; `None`: not in the record.
    pub amount: Option<f64>,
    /// Unit of it.
    pub unit: &'static str,
}

/// Something that stood for a time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Stood {
    /// What.
    pub what: String,
    /// From this minute.
    pub from: String,
    /// To this minute.
    pub to: String,
}

/// A condition that was met, or that could not be told.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Condition {
    /// The code that says so.
    pub code: &'static str,
    /// What it is about.
    pub figure: &'static str,
    /// What has to hold.
    pub what: String,
    /// What is so where it was met.
    pub past: String,
    /// What is asked for past it.
    pub asks: &'static str,
    /// Nobody bathes meanwhile, by that code.
    pub closes: bool,
    /// It was met; else it could not be told.
    pub is_met: bool,
    /// From this minute.
    pub from: String,
    /// To this minute.
    pub to: String,
    /// It stood at the end of what is looked at.
    pub stands: bool,
    /// A test after it that is inside again.
    pub tested_after: Option<String>,
    /// What opening again wants.
    pub wants: &'static str,
}

/// A figure that was missing, for some codes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Unknown {
    /// The figure.
    pub figure: &'static str,
    /// The codes that ask for it.
    pub codes: Vec<&'static str>,
    /// From this minute.
    pub from: String,
    /// To this minute.
    pub to: String,
    /// It was missing at the end of what is looked at.
    pub stands: bool,
}

/// A day.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct DaySheet {
    /// Name of the site.
    pub site: String,
    /// The date.
    pub date: String,
    /// From when people may be in the water.
    pub from: String,
    /// Until then, or as far as was asked for.
    pub to: String,
    /// Codes that it is held to.
    pub codes: Vec<CodeNamed>,
    /// Whether the probes were recorded at all.
    pub is_recorded: bool,
    /// Tests that were made.
    pub tests: Vec<TestMade>,
    /// Tests that were due.
    pub dues: Vec<Due>,
    /// The next test of each figure.
    pub next: Vec<Due>,
    /// What was fed.
    pub fed: Vec<Fed>,
    /// Bathers, if they were entered.
    pub bathers: Option<f64>,
    /// Alarms; `None`: not in the record.
    pub alarms: Option<Vec<Stood>>,
    /// When no probe was recorded.
    pub gaps: Vec<Stood>,
    /// Conditions that were met, and then those that could not be told.
    pub conditions: Vec<Condition>,
}

/// Minutes of the day as `07:05`; the day before and after by name.
pub(crate) fn clock_of(at_min: i64) -> String {
    let (day, minute) = (at_min.div_euclid(1440), at_min.rem_euclid(1440));
    let time = format!("{:02}:{:02}", minute / 60, minute % 60);
    match day {
        0 => time,
        1 if minute == 0 => "24:00".to_owned(),
        1 => format!("{time} the day after"),
        _ => format!("{time} ({day} days)"),
    }
}

impl DaySheet {
    /// Works a day out.
    #[must_use]
    pub fn of(site: &Site, log: &Log, record: Option<&Record>, asked: &Asked) -> Self {
        let (site, name) = asked.of(site);
        let entries = made::entries(log, asked);
        let rows: &[Row] = record.map_or(&[], |record| &record.rows);
        let later = rows.partition_point(|row| row.at_min <= asked.last_min());
        let rows = &rows[..later];
        let walked = Walk::new(site, &entries, rows, asked).walk();
        let bathers: Vec<f64> = entries
            .iter()
            .filter(|entry| entry.at_min >= 0)
            .filter_map(|entry| match entry.what {
                What::Bathers(count) => Some(count),
                _ => None,
            })
            .collect();
        let named = |code: &Code| CodeNamed {
            name: code.name(),
            source: code.source(),
        };
        Self {
            site: name,
            date: asked.date.to_string(),
            from: clock_of(asked.from_min),
            to: clock_of(asked.to_min),
            codes: asked.codes.iter().map(named).collect(),
            is_recorded: record.is_some(),
            tests: made::tests(&entries, rows),
            dues: walked.dues.iter().map(|due| of_due(due, asked)).collect(),
            next: next(&walked.next, asked),
            fed: fed(site, rows),
            bathers: (!bathers.is_empty()).then(|| bathers.iter().sum()),
            alarms: record.and_then(|record| alarms(record, rows)),
            gaps: walked.gaps.iter().map(gap).collect(),
            conditions: conditions(site, &entries, &walked.found, asked),
        }
    }

    /// Whether something is to be asked or mended: a condition met, a test late or missing, or a
    /// condition for closing that cannot be told.
    #[must_use]
    pub fn has_something_wrong(&self) -> bool {
        let late = self.dues.iter().any(|due| due.late_min > 0);
        late || self.conditions.iter().any(|it| it.is_met || it.closes)
    }

    /// What could not be told, once for each figure and stretch.
    #[must_use]
    pub fn unknowns(&self) -> Vec<Unknown> {
        let mut all: Vec<Unknown> = Vec::new();
        for one in self.conditions.iter().filter(|it| !it.is_met) {
            let same = |it: &&mut Unknown| {
                (it.figure, &it.from, &it.to) == (one.figure, &one.from, &one.to)
            };
            match all.iter_mut().find(same) {
                Some(known) if known.codes.contains(&one.code) => {}
                Some(known) => known.codes.push(one.code),
                None => all.push(Unknown {
                    figure: one.figure,
                    codes: vec![one.code],
                    from: one.from.clone(),
                    to: one.to.clone(),
                    stands: one.stands,
                }),
            }
        }
        all
    }

    /// The day in one sentence.
    #[must_use]
    pub fn verdict(&self) -> &'static str {
        let any = |is_met| {
            let mut own = self.conditions.iter().filter(|it| it.closes);
            own.any(|it| it.is_met == is_met)
        };
        match (any(true), any(false)) {
            (true, _) => "A condition for closing was met.",
            (false, true) => "Cannot tell: a figure that a condition for closing needs is missing.",
            (false, false) => "No condition for closing was met in what was recorded.",
        }
    }
}

fn of_due(found: &DueFound, asked: &Asked) -> Due {
    let until = found.made_min.unwrap_or(asked.to_min);
    Due {
        what: found.figure.words(),
        due: clock_of(found.due_min),
        made: found.made_min.map(clock_of),
        late_min: (until - found.due_min).max(i64::from(found.is_missed)),
    }
}

fn next(found: &[(Figure, i64)], asked: &Asked) -> Vec<Due> {
    let own = found.iter().map(|(figure, due_min)| Due {
        what: figure.words(),
        // The next day's is due when that opens.
        due: if *due_min > asked.closes_min {
            "when it opens again".to_owned()
        } else {
            clock_of(*due_min)
        },
        made: None,
        late_min: 0,
    });
    own.collect()
}

const fn wants(figure: Figure) -> &'static str {
    match figure {
        Figure::Circulation => {
            "flow proven again, free chlorine tested; if anything was fed into standing water, nobody in the pool \
             before the pump starts (CDC MMWR 2017;66(19):498-501)"
        }
        Figure::Disinfection => "the unit feeding again, and free chlorine tested",
        Figure::FlowShare => "the rate back, by the flow meter",
        Figure::Orp => "the reading back, and free chlorine tested",
        _ => "the cause mended, and a test inside of the limit",
    }
}

fn conditions(site: &Site, entries: &[Entered], found: &[Found], asked: &Asked) -> Vec<Condition> {
    let mut own: Vec<&Found> = found
        .iter()
        .filter(|it| it.stretch.judged != Judged::Inside)
        .collect();
    own.sort_by_key(|it| {
        let is_met = it.stretch.judged == Judged::Met;
        (!is_met, !it.limit.asks.closes(), it.stretch.from_min)
    });
    let told = own.into_iter().map(|Found { limit, stretch }| {
        let (from, to) = (theirs(stretch.from_min), theirs(stretch.to_min));
        let is_met = stretch.judged == Judged::Met;
        let after = kept_after(site, entries, limit, to, asked.to_min).filter(|_| is_met);
        Condition {
            code: limit.code.name(),
            figure: limit.figure.words(),
            what: limit.to_string(),
            past: limit.past().to_string(),
            asks: limit.asks.words(),
            closes: limit.asks.closes(),
            is_met,
            from: clock_of(from),
            to: clock_of(to),
            stands: to >= asked.to_min,
            tested_after: after.map(clock_of),
            wants: wants(limit.figure),
        }
    });
    told.collect()
}

//! The day, minute by minute: what was known, what was due, which limits were kept.

use dosewarden::day_log::{
    Figure, Judged, LIMITS, Limit, Place, Seen, Stretch, TestEvent, TestsDue, Watch, When,
};
use dosewarden::guard::units::{MilliPh, Millivolts, Percent};
use dosewarden::probe::{CentiCelsius, MicrogramsPerL};

use super::Asked;
use super::made::{Entered, row_at};
use super::record::Row;
use crate::plan::{PoolKind, Site};
use crate::visit::{Tested, What};

/// Minutes of the core are counted from so long before the day, so that none is negative.
const BEFORE: i64 = 100 * 1440;
/// A temperature that was tested counts for so long, min. Our choice.
const TEMPERATURE_MIN: i64 = 12 * 60;

/// A figure that is due in the log of each day.
pub(super) const DAILY: [(Tested, Figure); 2] = [
    (Tested::Ph, Figure::Ph),
    (Tested::FreeChlorine, Figure::FreeChlorine),
];

/// What came of a limit.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found {
    pub(super) limit: Limit,
    pub(super) stretch: Stretch,
}

/// A test that was due.
#[derive(Clone, Copy, Debug)]
pub(super) struct DueFound {
    pub(super) figure: Figure,
    pub(super) due_min: i64,
    /// When it was made; `None`: not yet, or not at all.
    pub(super) made_min: Option<i64>,
    pub(super) is_missed: bool,
}

/// All that the walk found.
#[derive(Debug, Default)]
pub(super) struct Walked {
    pub(super) found: Vec<Found>,
    pub(super) dues: Vec<DueFound>,
    /// The next test of each figure, once the day is over.
    pub(super) next: Vec<(Figure, i64)>,
    /// From when to when nothing was recorded of the probes.
    pub(super) gaps: Vec<(i64, i64)>,
}

fn ours(at_min: i64) -> u32 {
    u32::try_from(at_min + BEFORE).unwrap_or(0)
}

/// Back to minutes of the day.
pub(super) fn theirs(at_min: u32) -> i64 {
    i64::from(at_min) - BEFORE
}

fn micro(mg_l: f64) -> MicrogramsPerL {
    MicrogramsPerL((mg_l * 1000.0).round().max(0.0) as u32)
}

/// The latest test of a figure that is not older than this.
fn latest(entries: &[Entered], which: Tested, at_min: i64, age_max: i64) -> Option<f64> {
    let past = entries.iter().rev().filter(|entry| entry.at_min <= at_min);
    let (when, value) = past
        .filter_map(|entry| match entry.what {
            What::Test(found, value, _) if found == which => Some((entry.at_min, value)),
            _ => None,
        })
        .next()?;
    (at_min - when <= age_max).then_some(value)
}

/// One walk through the hours of a day.
pub(super) struct Walk<'a> {
    site: &'a Site,
    entries: &'a [Entered],
    rows: &'a [Row],
    asked: &'a Asked,
    place: Place,
    dues: [TestsDue; DAILY.len()],
    watches: [Watch; LIMITS.len()],
    walked: Walked,
}

impl<'a> Walk<'a> {
    pub(super) fn new(
        site: &'a Site,
        entries: &'a [Entered],
        rows: &'a [Row],
        asked: &'a Asked,
    ) -> Self {
        let from = asked.from_min;
        let dues = DAILY.map(|(which, _)| {
            let before = entries.iter().rev().find(|entry| {
                let own = matches!(entry.what, What::Test(found, ..) if found == which);
                own && entry.at_min < from && entry.at_min > -BEFORE
            });
            let before = before.map(|entry| {
                let all =
                    (entry.at_min..from).all(|at| row_at(rows, at).is_some_and(Row::is_recorded));
                (ours(entry.at_min), all)
            });
            TestsDue::opening(ours(from), before)
        });
        Self {
            site,
            entries,
            rows,
            asked,
            place: Place {
                is_spa: site.kind == PoolKind::Spa,
                chlorine_min: micro(site.wanted.free_chlorine_min_mg_l),
            },
            dues,
            watches: [Watch::NEW; LIMITS.len()],
            walked: Walked::default(),
        }
    }

    /// Walks to the end.
    pub(super) fn walk(mut self) -> Walked {
        for at_min in self.asked.from_min..=self.asked.to_min {
            self.minute(at_min);
        }
        for (limit, watch) in LIMITS.iter().zip(&self.watches) {
            let limit = *limit;
            let standing = watch.standing();
            self.walked
                .found
                .extend(standing.map(|stretch| Found { limit, stretch }));
        }
        for ((_, figure), due) in DAILY.iter().zip(&self.dues) {
            let due_min = theirs(due.due_min());
            if due.is_late(ours(self.asked.to_min)) {
                self.walked.dues.push(DueFound {
                    figure: *figure,
                    due_min,
                    made_min: None,
                    is_missed: false,
                });
            } else {
                self.walked.next.push((*figure, due_min));
            }
        }
        self.walked
    }

    fn minute(&mut self, at_min: i64) {
        let held = row_at(self.rows, at_min);
        let is_recorded = held.is_some_and(Row::is_recorded);
        if !is_recorded {
            match self.walked.gaps.last_mut() {
                Some((_, to)) if *to == at_min - 1 => *to = at_min,
                _ => self.walked.gaps.push((at_min, at_min)),
            }
        }
        self.tests(at_min, is_recorded);
        // Rows of this minute, each of them; else the one that still counts.
        let own: Vec<&Row> = self
            .rows
            .iter()
            .filter(|row| row.at_min == at_min)
            .collect();
        if own.is_empty() {
            self.judge(at_min, held);
        }
        for row in own {
            self.judge(at_min, Some(row));
        }
    }

    fn tests(&mut self, at_min: i64, is_recorded: bool) {
        for ((which, figure), due) in DAILY.iter().zip(&mut self.dues) {
            let is_tested = self.entries.iter().any(|entry| {
                entry.at_min == at_min
                    && matches!(entry.what, What::Test(found, ..) if found == *which)
            });
            let Some(event) = due.step(ours(at_min), is_recorded, is_tested) else {
                continue;
            };
            let (due_min, made_min) = match event {
                TestEvent::InTime(due) | TestEvent::Late(due) => (due, Some(at_min)),
                TestEvent::Missed(due) => (due, None),
            };
            self.walked.dues.push(DueFound {
                figure: *figure,
                due_min: theirs(due_min),
                made_min,
                is_missed: made_min.is_none(),
            });
        }
    }

    fn judge(&mut self, at_min: i64, row: Option<&Row>) {
        let seen = self.seen(at_min, row);
        for (limit, watch) in LIMITS.iter().zip(&mut self.watches) {
            let is_asked = self.asked.codes.contains(&limit.code);
            if !is_asked || (limit.when == When::Spa && !self.place.is_spa) {
                continue;
            }
            let ended = watch.step(ours(at_min), limit.judge(&self.place, &seen));
            let limit = *limit;
            self.walked
                .found
                .extend(ended.map(|stretch| Found { limit, stretch }));
        }
    }

    fn seen(&self, at_min: i64, row: Option<&Row>) -> Seen {
        let slow_min = (self.site.next_test_days * 1440.0) as i64;
        let slow = |which| latest(self.entries, which, at_min, slow_min).map(micro);
        let [ph_due, chlorine_due] = &self.dues;
        let daily = |which, due: &TestsDue| {
            let value = latest(self.entries, which, at_min, i64::MAX);
            value.filter(|_| due.counts(ours(at_min)))
        };
        let flow = row
            .and_then(|row| row.flow_l_min)
            .filter(|_| self.site.flow.flow_meter);
        let share = flow.map(|flow| flow / self.site.flow.flow_l_min * 100.0);
        let temperature = latest(self.entries, Tested::Temperature, at_min, TEMPERATURE_MIN);
        Seen {
            ph_probe: row.and_then(|row| row.ph).map(milli_ph),
            ph_kit: daily(Tested::Ph, ph_due).map(milli_ph),
            free_chlorine: daily(Tested::FreeChlorine, chlorine_due).map(micro),
            orp: row
                .and_then(|row| row.orp_mv)
                .map(|mv| Millivolts(mv.round() as i32)),
            cyanurate: slow(Tested::Cyanurate),
            alkalinity: slow(Tested::Alkalinity),
            hardness: slow(Tested::Calcium),
            temperature: temperature.map(|c| CentiCelsius((c * 100.0).round() as i32)),
            flow_share: share.map(|percent| Percent(percent.clamp(0.0, 1e6) as u32)),
            circulates: row.and_then(|row| row.circulates),
            disinfects: row.and_then(|row| row.disinfects),
        }
    }
}

fn milli_ph(ph: f64) -> MilliPh {
    MilliPh((ph * 1000.0).round() as i32)
}

/// The first test of a figure at or after a minute that keeps a limit.
pub(super) fn kept_after(
    site: &Site,
    entries: &[Entered],
    limit: &Limit,
    from_min: i64,
    to_min: i64,
) -> Option<i64> {
    let place = Place {
        is_spa: site.kind == PoolKind::Spa,
        chlorine_min: micro(site.wanted.free_chlorine_min_mg_l),
    };
    let (judged_by, judged_by_limit) = match limit.figure {
        // What a standing pump or an empty drum left of the chlorine: the site's minimum.
        Figure::Circulation | Figure::Disinfection => (Tested::FreeChlorine, &LIMITS[2]),
        Figure::Ph => (Tested::Ph, limit),
        Figure::FreeChlorine => (Tested::FreeChlorine, limit),
        _ => return None,
    };
    let later = entries
        .iter()
        .filter(|entry| entry.at_min > from_min && entry.at_min <= to_min);
    later
        .filter_map(|entry| match entry.what {
            What::Test(found, value, _) if found == judged_by => Some((entry.at_min, value)),
            _ => None,
        })
        .find(|(_, value)| {
            let seen = Seen {
                ph_kit: Some(milli_ph(*value)),
                free_chlorine: Some(micro(*value)),
                ..Seen::NOTHING
            };
            judged_by_limit.judge(&place, &seen) == Judged::Inside
        })
        .map(|(at, _)| at)
}

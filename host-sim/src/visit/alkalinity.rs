//! Alkalinity used and expected, and acid that is not explained.

use dosewarden::guard::Product;
use dosewarden::guard::units::Dose;
use dosewarden::probe::MicrogramsPerL;
use dosewarden::visit::{AlkalinityBooks, AlkalinitySays, AlkalinityUse, Doubt};
use serde::Serialize;

use super::between::{Came, last_two, longest};
use super::drums::{Drum, level_error, total};
use super::entry::{Tested, What};
use super::errors;
use super::figure::{Figure, together};
use super::log::{Entry, Log};
use crate::plan::{FREE_ALKALI_EQ_L, Plan, Site};
use crate::water::units::CACO3_MG_PER_MEQ;

/// What two tests of alkalinity say of the acid.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct AlkalinityFound {
    /// Days between the tests.
    pub days: f64,
    /// How far it fell.
    pub fell: Figure,
    /// What is lost a day, what was poured against it taken off.
    pub lost_a_day: Figure,
    /// What the booked acid explains, less alkali that was added.
    pub by_booked: Figure,
    /// The same for what left the drum.
    pub by_drum: Option<Figure>,
    /// What fresh water explains.
    pub by_water: Figure,
    /// What holding the pH was expected to take.
    pub expected: Figure,
    /// What the booked acid leaves unexplained; positive: more acid came than was booked.
    pub unexplained: Figure,
    /// What the acid that left the drum leaves unexplained.
    pub unexplained_by_drum: Option<Figure>,
    /// The latter, or else the former, as litres of the site's acid.
    pub unexplained_acid: Option<Figure>,
    /// "closes", "more_acid" or "less_acid", by the drum where it was read.
    pub says: &'static str,
    /// The same by what was booked.
    pub says_booked: &'static str,
    /// A question.
    #[serde(skip)]
    pub(super) doubt: Option<(Doubt, String)>,
}

fn word(says: AlkalinitySays) -> &'static str {
    match says {
        AlkalinitySays::Closes => "closes",
        AlkalinitySays::MoreAcid => "more_acid",
        AlkalinitySays::LessAcid => "less_acid",
    }
}

fn ug(mg_l: f64) -> MicrogramsPerL {
    MicrogramsPerL((mg_l * 1000.0).round().clamp(0.0, 4e9) as u32)
}

fn mg_l(value: f64, error: f64, source: impl Into<String>) -> Figure {
    Figure::new(value, error, "mg/L", source)
}

/// Amount that a feeder booked between two visits.
pub(crate) fn booked(log: &Log, plan: &Plan, feeder: usize, from: usize, to: usize) -> Option<f64> {
    let at = |visit: usize| total(log.visits.get(visit)?, plan, feeder);
    let more = at(to)? - at(from)?;
    (more >= 0.0).then_some(more)
}

/// Feeders of a product.
pub(crate) fn feeder_of(site: &Site, product: Product) -> Option<usize> {
    site.feeders.iter().position(|one| one.product == product)
}

pub(crate) fn tested(which: Tested) -> impl Fn(&What) -> Option<f64> {
    move |what| match what {
        What::Test(of, value, _) if *of == which => Some(*value),
        _ => None,
    }
}

/// One end of what is balanced: number of the visit, alkalinity, row.
type End<'a> = (usize, f64, &'a Entry);

/// `None`: fewer than two tests, or the controller's totals were not entered beside them.
pub(super) fn found(
    log: &Log,
    site: &Site,
    plan: &Plan,
    drums: &[Drum],
) -> Option<AlkalinityFound> {
    let acid = feeder_of(site, Product::Acid);
    let fit = |at: usize| {
        let visit = log.visits.get(at);
        acid.is_none_or(|feeder| visit.is_some_and(|visit| total(visit, plan, feeder).is_some()))
    };
    let is = tested(Tested::Alkalinity);
    let ends = longest(log, &is, fit)?;
    let mut found = between(log, site, plan, drums, ends)?;
    // A rise is asked about on the visit that finds it.
    let last = last_two(log, &is).and_then(|ends| between(log, site, plan, drums, ends));
    found.doubt = last.and_then(|last| last.doubt);
    Some(found)
}

fn between(
    log: &Log,
    site: &Site,
    plan: &Plan,
    drums: &[Drum],
    [before, now]: [End<'_>; 2],
) -> Option<AlkalinityFound> {
    let days = (now.2.at_min - before.2.at_min) as f64 / 1440.0;
    let came = Came::between(log, before.2, now.2, site);
    let acid = feeder_of(site, Product::Acid);
    let acid_l = match acid {
        Some(feeder) => booked(log, plan, feeder, before.0, now.0)?,
        None => 0.0,
    };
    let strength = acid
        .and_then(|at| site.feeders.get(at))
        .map(|one| one.strength);
    let real = acid.and_then(|at| {
        let (drum, error) = (drums.get(at)?, level_error(plan, at));
        let of_ratio = |(ratio, spread): (f64, f64)| (acid_l * ratio, acid_l * spread);
        drum.ratio(error)
            .map(of_ratio)
            .or_else(|| drum.unbooked(error))
    });
    let hypochlorite_l = feeder_of(site, Product::Hypochlorite)
        .and_then(|at| booked(log, plan, at, before.0, now.0))
        .unwrap_or(0.0);
    let known_l = came.fresh_l - came.fresh_unknown_l;
    // Of water that nobody tested it is taken that it changes nothing.
    let fresh_mg_l = came.fresh_alkalinity(f64::midpoint(before.1, now.1));
    let test_error = errors::test(Tested::Alkalinity, now.1);
    let meq = |eq: f64| (eq * 1000.0).round().clamp(0.0, 4e9) as u32;
    let books = |acid_l: f64| AlkalinityBooks {
        volume_l: site.volume_l.round() as u32,
        before: ug(before.1),
        now: ug(now.1),
        test_error: ug(test_error),
        acid_meq: AlkalinityBooks::acid_meq(
            Dose((acid_l * 1e6).round().min(4e9) as u32),
            (strength.unwrap_or(0.0) * 1000.0).round() as u32,
        )
        .saturating_add(meq(came.acid_eq)),
        alkali_meq: meq(came.alkali_eq + hypochlorite_l * FREE_ALKALI_EQ_L),
        error_percent: (100.0 * together(&[errors::VOLUME, errors::STRENGTH])).round() as u8,
        fresh_l: came.fresh_l.round() as u32,
        fresh: ug(fresh_mg_l),
    };
    let own = Own {
        acid_l,
        came,
        known_l,
        volume_l: site.volume_l,
        days,
        test_error,
        loss_mg_l_day: plan.figures.alkalinity_loss_mg_l_day,
        strength,
    };
    own.figures(&books, real)
}

struct Own {
    acid_l: f64,
    came: Came,
    known_l: f64,
    volume_l: f64,
    days: f64,
    test_error: f64,
    loss_mg_l_day: f64,
    strength: Option<f64>,
}

/// One balance and how well it is known: by what was booked, or by the drum.
#[derive(Clone, Copy)]
struct Side {
    used: AlkalinityUse,
    error: f64,
    acid_error: f64,
}

fn part(of: i32) -> f64 {
    f64::from(of) / 1000.0
}

impl Side {
    fn new(books: &AlkalinityBooks, others: &[f64], spread: f64) -> Option<Self> {
        let share = together(&[errors::VOLUME, errors::STRENGTH]);
        let used = books.balance()?;
        let own = f64::from(used.error) / 1000.0;
        let error = together(&[own, together(others), spread]);
        Some(Self {
            used: AlkalinityUse {
                error: (error * 1000.0).round() as u32,
                ..used
            },
            error,
            acid_error: together(&[share * part(used.by_acid), spread]),
        })
    }

    fn by_acid(&self, source: &str) -> Figure {
        mg_l(part(self.used.by_acid), self.acid_error, source)
    }

    fn unexplained(&self, source: &str) -> Figure {
        mg_l(part(self.used.unexplained), self.error, source)
    }
}

impl Own {
    fn figures(
        &self,
        books: &impl Fn(f64) -> AlkalinityBooks,
        real: Option<(f64, f64)>,
    ) -> Option<AlkalinityFound> {
        let per_l = self.strength.unwrap_or(0.0) * CACO3_MG_PER_MEQ * 1000.0 / self.volume_l;
        let fresh_error = self.came.fresh_unknown_l / self.volume_l * errors::FRESH_ALKALINITY_MG_L;
        let by_books = books(self.acid_l);
        let plain = Side::new(&by_books, &[fresh_error], 0.0)?;
        let drum = match real {
            Some((acid_l, spread_l)) => {
                Some(Side::new(&books(acid_l), &[fresh_error], spread_l * per_l)?)
            }
            None => None,
        };
        let best = drum.unwrap_or(plain);
        let rest = best.unexplained("what the tests and the acid leave");
        let share = together(&[errors::VOLUME, errors::STRENGTH]);
        let by_water = part(plain.used.by_water);
        let (fresh_l, known_l) = (self.came.fresh_l, self.known_l);
        let expected = self.loss_mg_l_day * self.days;
        let fell = part(plain.used.fell);
        let two_tests = self.test_error * core::f64::consts::SQRT_2;
        let poured = self.came.bicarbonate_eq * 1000.0 * CACO3_MG_PER_MEQ / self.volume_l;
        let asked = by_books.doubt();
        Some(AlkalinityFound {
            days: self.days,
            fell: mg_l(fell, two_tests, "two tests"),
            lost_a_day: mg_l(
                (fell + poured) / self.days,
                two_tests / self.days,
                "two tests, and what was poured",
            ),
            by_booked: plain.by_acid("the controller's totals and what was poured"),
            by_drum: drum.map(|side| side.by_acid("the drum and what was poured")),
            by_water: mg_l(
                by_water,
                together(&[share * by_water, fresh_error]),
                format!("{fresh_l:.0} L of fresh water, {known_l:.0} of them tested"),
            ),
            expected: mg_l(
                expected,
                errors::CO2_LOSS * expected,
                "CO2 that leaves at the site's velocity",
            ),
            says: word(best.used.says()),
            says_booked: word(plain.used.says()),
            unexplained_acid: (per_l > 0.0).then(|| {
                let (value, error) = (rest.value / per_l, rest.error / per_l);
                Figure::new(value, error, "L", "as litres of the site's acid")
            }),
            unexplained: plain.unexplained("what the tests and the booked acid leave"),
            unexplained_by_drum: drum.map(|side| {
                side.unexplained("what the tests and the acid that left the drum leave")
            }),
            doubt: asked.map(|doubt| {
                let what = format!("it rose by {:.0} mg/L, and acid was fed", -fell);
                (doubt, what)
            }),
        })
    }
}

//! What has to be entered before a pool that was laid up is fed again.

use core::fmt;

use dosewarden::guard::Product;
use dosewarden::season::{STRENGTH_MAX, STRENGTH_MIN};
use serde::Serialize;

use super::{by_hand, cautions, left_out};
use crate::plan::{BEFORE_REDUCED, Plan, Site};
use crate::visit::{Log, Tested, Today, VisitResult, What};

/// The slope that a calibration may have, a share of Nernst's: what the controller accepts.
const SLOPE: (f64, f64) = (0.85, 1.05);

/// How far one item is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// Not in the log since the date that was given.
    Missing,
    /// Entered, as it stands there.
    Entered(String),
    /// Entered, and not accepted: why.
    Refused(String),
}

/// One thing that is owed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Item {
    /// What.
    pub what: String,
    /// The controller asks for it before it opens; else it is for the full stage, or for whoever
    /// balances the water.
    pub opens: bool,
    /// How far it is.
    pub state: State,
}

/// What has to be entered, and what to do by hand.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct OpeningSheet {
    /// Name of the site.
    pub site: String,
    /// Entries from then on count.
    pub since: String,
    /// What is owed.
    pub items: Vec<Item>,
    /// What to do by hand; `None` while the log has no visit since.
    pub by_hand: Option<Today>,
    /// Rows of another body of water that were left out: this looks at the pool alone. `None`: none were.
    pub left_out: Option<String>,
}

/// The log from a minute on.
struct Since<'a> {
    log: &'a Log,
    from_min: i64,
}

impl Since<'_> {
    fn last<T>(&self, pick: impl Fn(&What) -> Option<T>) -> Option<T> {
        let entries = self.log.visits.iter().flat_map(|visit| &visit.entries);
        let later = entries.filter(|entry| entry.at_min >= self.from_min);
        later.filter_map(|entry| pick(&entry.what)).last()
    }

    fn tested(&self, which: Tested, unit: &str) -> State {
        let pick = |what: &What| match what {
            What::Test(found, value, _) if *found == which => Some(*value),
            _ => None,
        };
        self.last(pick).map_or(State::Missing, |value| {
            State::Entered(format!("{value:.1}{unit}"))
        })
    }
}

impl OpeningSheet {
    /// Works it out; `since` as in the log, `2032-04-10` or `2032-04-10 09:00`.
    ///
    /// # Errors
    /// A time that is none.
    pub fn of(site: &Site, plan: &Plan, log: &Log, since: &str) -> Result<Self, String> {
        let minute = log.minute_of(since);
        let minute = minute.or_else(|| log.minute_of(&format!("{since} 00:00")));
        let Some(from_min) = minute else {
            let right = "write it as 2032-04-10 or \"2032-04-10 09:00\"";
            return Err(format!("--since is `{since}`; {right}"));
        };
        let since_then = Since { log, from_min };
        let mut items = water(site, &since_then);
        items.push(slope(&since_then));
        items.extend(drums(site, &since_then));
        items.extend(proofs(plan, &since_then));
        items.extend(catches(site, &since_then));
        let is_there = log.now().at_min >= from_min;
        Ok(Self {
            site: site.name.clone(),
            since: since.to_owned(),
            items,
            by_hand: is_there.then(|| VisitResult::of(site, plan, log).today),
            left_out: log.left_out.clone(),
        })
    }

    /// Whether the controller would still refuse to open.
    #[must_use]
    pub fn is_owed(&self) -> bool {
        let missing = |item: &Item| !matches!(item.state, State::Entered(_));
        self.items.iter().any(|item| item.opens && missing(item))
    }
}

fn water(site: &Site, log: &Since<'_>) -> Vec<Item> {
    let gives = |which: fn(Product) -> bool| site.feeders.iter().any(|one| which(one.product));
    let ph_fed = gives(|one| matches!(one, Product::Acid | Product::Base));
    let oxidised = gives(Product::is_oxidiser);
    let made = gives(|one| one == Product::GeneratedChlorine);
    let item = |what: &str, opens, which, unit| Item {
        what: format!("test of {what}"),
        opens,
        state: log.tested(which, unit),
    };
    let mut items = vec![
        item("alkalinity", ph_fed, Tested::Alkalinity, " mg/L"),
        item("cyanuric acid", oxidised, Tested::Cyanurate, " mg/L"),
    ];
    if made {
        items.push(item("salt", true, Tested::Salt, " mg/L"));
    }
    items.push(item("calcium", false, Tested::Calcium, " mg/L"));
    items.push(item("pH", false, Tested::Ph, ""));
    items.push(item("free chlorine", false, Tested::FreeChlorine, " mg/L"));
    items
}

fn slope(log: &Since<'_>) -> Item {
    let pick = |what: &What| match what {
        What::Calibrated(slope, _) => Some(*slope),
        _ => None,
    };
    let state = match log.last(pick) {
        None => State::Missing,
        Some(slope) if (SLOPE.0..=SLOPE.1).contains(&slope) => {
            State::Entered(format!("{:.1} %", slope * 100.0))
        }
        Some(slope) => State::Refused(format!(
            "{:.1} %: clean it, or another probe; right is 85 to 105 %",
            slope * 100.0
        )),
    };
    Item {
        what: "slope of the pH probe, by two buffers".to_owned(),
        opens: true,
        state,
    }
}

fn drums(site: &Site, log: &Since<'_>) -> Vec<Item> {
    let all = site.feeders.iter().enumerate();
    let kept = all.filter(|(_, one)| one.product == Product::Hypochlorite);
    kept.map(|(at, feeder)| {
        let pick = |what: &What| match what {
            What::Strength(of, mg_l) if *of == at => Some(*mg_l / 1000.0),
            _ => None,
        };
        let state = match log.last(pick) {
            None => State::Missing,
            Some(g_l) => {
                let percent = 100.0 * g_l / feeder.strength;
                let said = format!("{g_l:.0} g/L, {percent:.0} % of what its caps were made for");
                if percent < f64::from(STRENGTH_MIN) {
                    State::Refused(format!("{said}: replace it"))
                } else if percent > f64::from(STRENGTH_MAX) {
                    State::Refused(format!("{said}: plan the site anew"))
                } else {
                    State::Entered(said)
                }
            }
        };
        Item {
            what: format!("strength of what is in the drum of {}", feeder.name),
            opens: true,
            state,
        }
    })
    .collect()
}

fn proofs(plan: &Plan, log: &Since<'_>) -> Vec<Item> {
    let all = plan.proof_tests.iter().enumerate();
    all.map(|(at, proof)| {
        let pick = |what: &What| match what {
            What::Proved(which, passed) if *which == at => Some(*passed),
            _ => None,
        };
        Item {
            what: format!("proof test: {}", proof.interlock),
            opens: proof.before == BEFORE_REDUCED,
            state: match log.last(pick) {
                None => State::Missing,
                Some(true) => State::Entered("passed".to_owned()),
                Some(false) => State::Refused("failed: mend it, and test it again".to_owned()),
            },
        }
    })
    .collect()
}

fn catches(site: &Site, log: &Since<'_>) -> Vec<Item> {
    let all = site.feeders.iter().enumerate();
    let liquid = all.filter(|(_, one)| one.is_liquid());
    liquid
        .map(|(at, feeder)| {
            let pick = |what: &What| match what {
                What::Catch(of, litres, seconds) if *of == at => {
                    Some(format!("{:.0} mL in {seconds:.0} s", litres * 1000.0))
                }
                _ => None,
            };
            Item {
                what: format!("catch test of {}: its tube stood for months", feeder.name),
                opens: false,
                state: log.last(pick).map_or(State::Missing, State::Entered),
            }
        })
        .collect()
}

impl fmt::Display for OpeningSheet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "Opening: {}, with what was entered since {}\n",
            self.site, self.since
        )?;
        left_out(f, self.left_out.as_deref())?;
        let groups = [
            (true, "Asked for before it opens, into the reduced stage"),
            (false, "Before full caps, and for balancing the water"),
        ];
        for (opens, title) in groups {
            writeln!(f, "{title}")?;
            for item in self.items.iter().filter(|item| item.opens == opens) {
                let what = &item.what;
                match &item.state {
                    State::Missing => writeln!(f, "  [ ] {what}")?,
                    State::Entered(said) => writeln!(f, "  [x] {what}: {said}")?,
                    State::Refused(why) => writeln!(f, "  [!] {what}: {why}")?,
                }
            }
            writeln!(f)?;
        }
        writeln!(
            f,
            "At the unit: open up once, and it asks; enter each; open up once more. Then flush the lines with water, \
             one product at a time, before the drums are connected.\n"
        )?;
        writeln!(f, "By hand, in this order")?;
        match &self.by_hand {
            Some(today) => by_hand(f, today)?,
            None => writeln!(
                f,
                "  test the water first: the log has no visit since then\n"
            )?,
        }
        cautions(f)
    }
}

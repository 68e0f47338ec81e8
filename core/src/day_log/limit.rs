//! The limits of the codes, each as its text has it.

use super::code::{Asks, Code};
use crate::probe::CentiCelsius;

/// What a limit is about, and the unit of its bound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Figure {
    /// pH, thousandths.
    Ph,
    /// Free chlorine, ug/L.
    FreeChlorine,
    /// ORP, mV.
    Orp,
    /// Cyanuric acid, ug/L.
    Cyanurate,
    /// Total alkalinity, ug/L as CaCO3.
    Alkalinity,
    /// Calcium hardness, ug/L as CaCO3.
    Hardness,
    /// Recirculation, percent of the required rate.
    FlowShare,
    /// Water is circulated through the filter, or not.
    Circulation,
    /// Disinfection runs, or not.
    Disinfection,
}

impl Figure {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Ph => "pH",
            Self::FreeChlorine => "free chlorine",
            Self::Orp => "ORP",
            Self::Cyanurate => "cyanuric acid",
            Self::Alkalinity => "total alkalinity",
            Self::Hardness => "calcium hardness",
            Self::FlowShare => "recirculation",
            Self::Circulation => "filtration",
            Self::Disinfection => "disinfection",
        }
    }
}

/// How far a figure may go, in its unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Bound {
    /// At least so much.
    AtLeast(i32),
    /// At most so much.
    AtMost(i32),
    /// More than so much.
    Over(i32),
    /// At least what the site has as its least free chlorine: the text read names no figure.
    AtLeastSites,
    /// It runs.
    Runs,
}

/// Where or when a limit holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum When {
    /// Always.
    Always,
    /// In a spa.
    Spa,
    /// In water with cyanuric acid.
    WithCyanurate,
    /// In water that is warmer than this.
    Above(CentiCelsius),
}

/// One limit of one code.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limit {
    /// Whose.
    pub code: Code,
    /// What it is about.
    pub figure: Figure,
    /// How far.
    pub bound: Bound,
    /// Where or when.
    pub when: When,
    /// What is asked for past it.
    pub asks: Asks,
}

const fn limit(code: Code, figure: Figure, bound: Bound, asks: Asks) -> Limit {
    Limit {
        code,
        figure,
        bound,
        when: When::Always,
        asks,
    }
}

const fn only(when: When, limit: Limit) -> Limit {
    Limit { when, ..limit }
}

/// All limits. Ohio has none here: its text, as far as it was read, says how often the log is kept.
///
/// | code | figure | source |
/// |---|---|---|
/// | `mahc` | imminent hazards: pH < 6.5, pH > 8.0, below the minimum of disinfectant, filtration or disinfection not running: correct at once or close | US CDC Model Aquatic Health Code 6.6.3.1 |
/// | `california` | free chlorine 1.0 to 10.0 mg/L, at least 2.0 with cyanuric acid, in a spa at least 3.0 | California 22 CCR 65529(b) |
/// | | recirculation not below 75 % of the required rate | California 22 CCR 65525(b) |
/// | `delaware` | suspend use: pH < 7.2 or > 7.8, cyanuric acid > 100 mg/L, recirculation off | Delaware 4464-14.2.4 |
/// | `quebec` | pH 7.2 to 7.8, alkalinity 60 to 150 mg/L, hardness 150 to 400 mg/L; evacuate at free chlorine > 5.0 or < 0.3 mg/L; ORP > 750 mV above 35 C | Quebec Q-2 r. 39 s. 5, 6, 17 |
/// | `montana` | ORP at least 650 mV | Montana ARM 37.115.1308 table 6 (superseded) |
pub const LIMITS: [Limit; 24] = {
    use Asks::{CorrectOrClose, Evacuate, Keep, SuspendUse};
    use Bound::{AtLeast, AtLeastSites, AtMost, Over, Runs};
    use Code::{California, Delaware, Mahc, Montana, Quebec};
    use Figure::{
        Alkalinity, Circulation, Cyanurate, Disinfection, FlowShare, FreeChlorine, Hardness, Orp,
        Ph,
    };
    [
        limit(Mahc, Ph, AtLeast(6500), CorrectOrClose),
        limit(Mahc, Ph, AtMost(8000), CorrectOrClose),
        limit(Mahc, FreeChlorine, AtLeastSites, CorrectOrClose),
        limit(Mahc, Circulation, Runs, CorrectOrClose),
        limit(Mahc, Disinfection, Runs, CorrectOrClose),
        limit(California, FreeChlorine, AtLeast(1000), Keep),
        only(
            When::WithCyanurate,
            limit(California, FreeChlorine, AtLeast(2000), Keep),
        ),
        only(
            When::Spa,
            limit(California, FreeChlorine, AtLeast(3000), Keep),
        ),
        limit(California, FreeChlorine, AtMost(10_000), Keep),
        limit(California, FlowShare, AtLeast(75), Keep),
        limit(Delaware, Ph, AtLeast(7200), SuspendUse),
        limit(Delaware, Ph, AtMost(7800), SuspendUse),
        limit(Delaware, Cyanurate, AtMost(100_000), SuspendUse),
        limit(Delaware, Circulation, Runs, SuspendUse),
        limit(Quebec, FreeChlorine, AtMost(5000), Evacuate),
        limit(Quebec, FreeChlorine, AtLeast(300), Evacuate),
        limit(Quebec, Ph, AtLeast(7200), Keep),
        limit(Quebec, Ph, AtMost(7800), Keep),
        limit(Quebec, Alkalinity, AtLeast(60_000), Keep),
        limit(Quebec, Alkalinity, AtMost(150_000), Keep),
        limit(Quebec, Hardness, AtLeast(150_000), Keep),
        limit(Quebec, Hardness, AtMost(400_000), Keep),
        only(
            When::Above(CentiCelsius::from_whole(35)),
            limit(Quebec, Orp, Over(750), Keep),
        ),
        limit(Montana, Orp, AtLeast(650), Keep),
    ]
};

/// A figure of a bound in its own unit.
struct Shown(Figure, i32);

impl core::fmt::Display for Shown {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let Self(figure, value) = *self;
        match figure {
            Figure::Orp => write!(f, "{value} mV"),
            Figure::FlowShare => write!(f, "{value} % of the required rate"),
            Figure::Ph => write!(f, "{}.{}", value / 1000, value / 100 % 10),
            Figure::FreeChlorine => write!(f, "{}.{} mg/L", value / 1000, value / 100 % 10),
            _ => write!(f, "{} mg/L", value / 1000),
        }
    }
}

/// A limit that was passed, in words: `pH over 7.8`, `disinfection does not run`. Made by [`Limit::past`].
#[derive(Clone, Copy, Debug)]
pub struct Past<'a>(&'a Limit);

impl Limit {
    /// What is so past it.
    #[must_use]
    pub const fn past(&self) -> Past<'_> {
        Past(self)
    }
}

impl core::fmt::Display for Past<'_> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let Limit { figure, bound, .. } = *self.0;
        f.write_str(figure.words())?;
        match bound {
            Bound::AtLeast(value) => write!(f, " under {}", Shown(figure, value))?,
            Bound::AtMost(value) => write!(f, " over {}", Shown(figure, value))?,
            Bound::Over(value) => write!(f, " not over {}", Shown(figure, value))?,
            Bound::AtLeastSites => f.write_str(" under the site's own minimum")?,
            Bound::Runs => f.write_str(" does not run")?,
        }
        write!(f, "{}", self.0.when)
    }
}

impl core::fmt::Display for Limit {
    /// What has to hold: `pH at most 7.8`.
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.figure.words())?;
        match self.bound {
            Bound::AtLeast(value) => write!(f, " at least {}", Shown(self.figure, value))?,
            Bound::AtMost(value) => write!(f, " at most {}", Shown(self.figure, value))?,
            Bound::Over(value) => write!(f, " over {}", Shown(self.figure, value))?,
            Bound::AtLeastSites => f.write_str(" at least the site's own minimum")?,
            Bound::Runs => f.write_str(" runs")?,
        }
        write!(f, "{}", self.when)
    }
}

impl core::fmt::Display for When {
    /// Behind a limit: nothing, or ` in a spa`.
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Always => Ok(()),
            Self::Spa => f.write_str(" in a spa"),
            Self::WithCyanurate => f.write_str(" with cyanuric acid"),
            Self::Above(limit) => write!(f, " above {} C", limit.0 / 100),
        }
    }
}

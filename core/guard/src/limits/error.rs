//! What is wrong with a set of limits: one variant for each relation that can be broken. The text
//! names the field, its value and what would be right.

use core::fmt;

/// A relation between limits that does not hold. `feeder` and `body` are indices from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum LimitsError {
    /// A figure of the site is outside its range.
    SiteRange {
        /// Field of [`LimitsSpec`](crate::LimitsSpec).
        field: &'static str,
        /// Its value, in the field's unit.
        value: i64,
        /// Smallest value allowed.
        min: i64,
        /// Largest value allowed.
        max: i64,
    },
    /// A figure of a feeder is outside its range.
    FeederRange {
        /// Index of the feeder.
        feeder: usize,
        /// Field of [`FeederSpec`](crate::FeederSpec).
        field: &'static str,
        /// Its value, in the field's unit.
        value: u32,
        /// Smallest value allowed.
        min: u32,
        /// Largest value allowed.
        max: u32,
    },
    /// A figure of a feeder in a body is outside its range.
    BodyRange {
        /// Index of the feeder.
        feeder: usize,
        /// Index of the body.
        body: usize,
        /// Field of [`BodyLimits`](crate::BodyLimits).
        field: &'static str,
        /// Its value, in the field's unit.
        value: i64,
        /// Smallest value allowed.
        min: i64,
        /// Largest value allowed.
        max: i64,
    },
    /// Neither a flow switch nor a flow meter is fitted.
    NoFlowWitness,
    /// The longer delay for a new probe is shorter than the ordinary one.
    NewProbeWaitShorter {
        /// `power_on_delay_new_probe`, ms.
        value: u32,
        /// `power_on_delay`, ms.
        at_least: u32,
    },
    /// More bodies than one, and no valves to tell them apart.
    BodiesWithoutValves {
        /// Number of bodies.
        bodies: usize,
    },
    /// No body of water at all.
    NoBody,
    /// Operating hours open and close in the same minute.
    HoursEmpty {
        /// That minute.
        minute: u16,
    },
    /// The largest answer of the water is not above the smallest.
    AnswerRange {
        /// `answer_min`, pH x 1000.
        min: i32,
        /// `answer_max`, pH x 1000.
        max: i32,
    },
    /// A cap is 0. A cap of 0 is not "unlimited" and not "off": disable the feeder instead.
    CapZero {
        /// Index of the feeder.
        feeder: usize,
        /// Index of the body.
        body: usize,
        /// Which cap.
        field: &'static str,
    },
    /// A shorter period's cap is above a longer one's.
    CapAbove {
        /// Index of the feeder.
        feeder: usize,
        /// Index of the body.
        body: usize,
        /// The cap that is too large.
        field: &'static str,
        /// Its value.
        value: u32,
        /// The cap that it has to stay within.
        within: &'static str,
        /// That one's value.
        at_most: u32,
    },
    /// The hold between two cycles is 0.
    HoldZero {
        /// Index of the feeder.
        feeder: usize,
        /// Index of the body.
        body: usize,
    },
    /// The probe that governs the feeder is not fitted.
    GovernorNotFitted {
        /// Index of the feeder.
        feeder: usize,
    },
    /// The governor does not suit the product.
    GovernorMismatch {
        /// Index of the feeder.
        feeder: usize,
    },
    /// The cut-off is not of the kind that the product needs.
    CutoffMismatch {
        /// Index of the feeder.
        feeder: usize,
        /// Index of the body.
        body: usize,
    },
    /// The largest rate with any tube is below the rate with its tolerance.
    AnyTubeBelowRate {
        /// Index of the feeder.
        feeder: usize,
        /// `rate_any_tube`.
        value: u32,
        /// `rate` raised by `rate_tolerance`.
        at_least: u32,
    },
    /// The largest cycle is over before a tick and the drive's off delay have passed.
    CycleTooShort {
        /// Index of the feeder.
        feeder: usize,
        /// Index of the body.
        body: usize,
        /// Run that the largest single charge gives, ms.
        run_ms: u32,
        /// It has to be longer than this, ms.
        more_than_ms: u32,
    },
    /// The smallest dose is over before a tick and the drive's off delay have passed.
    DoseTooShort {
        /// Index of the feeder.
        feeder: usize,
        /// Run that the smallest dose gives, ms.
        run_ms: u32,
        /// It has to be at least this, ms.
        at_least_ms: u32,
    },
    /// A cell's flow switch on a feeder that is not a generator.
    CellSwitchWithoutCell {
        /// Index of the feeder.
        feeder: usize,
    },
    /// Fallback caps on a feeder that is not an oxidiser governed by ORP, or without `fallback`.
    FallbackNotPossible {
        /// Index of the feeder.
        feeder: usize,
        /// Index of the body.
        body: usize,
    },
    /// Two feeders of one product do not agree on its limits in the bodies.
    ProductDisagrees {
        /// Index of the first feeder of that product.
        first: usize,
        /// Index of the one that differs.
        feeder: usize,
    },
}

impl fmt::Display for LimitsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::SiteRange {
                field,
                value,
                min,
                max,
            } => {
                write!(f, "{field} is {value}; it has to be {min} to {max}")
            }
            Self::FeederRange {
                feeder,
                field,
                value,
                min,
                max,
            } => {
                write!(
                    f,
                    "feeder {feeder}: {field} is {value}; it has to be {min} to {max}"
                )
            }
            Self::BodyRange {
                feeder,
                body,
                field,
                value,
                min,
                max,
            } => write!(
                f,
                "feeder {feeder}, body {body}: {field} is {value}; it has to be {min} to {max}"
            ),
            Self::CapZero {
                feeder,
                body,
                field,
            } => write!(
                f,
                "feeder {feeder}, body {body}: {field} is 0; it has to be at least 1 (to feed \
                 nothing, disable the feeder)"
            ),
            Self::CapAbove {
                feeder,
                body,
                field,
                value,
                within,
                at_most,
            } => write!(
                f,
                "feeder {feeder}, body {body}: {field} is {value}, above {within}; it has to be \
                 at most {at_most}"
            ),
            Self::HoldZero { feeder, body } => write!(
                f,
                "feeder {feeder}, body {body}: spread_hold is 0; it has to be at least 1 ms"
            ),
            _ => self.fmt_relation(f),
        }
    }
}

impl LimitsError {
    fn fmt_relation(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::NoFlowWitness => f.write_str(
                "neither flow_switch nor flow_meter is fitted; at least one has to be, the pump \
                 contact alone shows no flow",
            ),
            Self::NewProbeWaitShorter { value, at_least } => write!(
                f,
                "power_on_delay_new_probe is {value} ms; it has to be at least power_on_delay, \
                 {at_least} ms"
            ),
            Self::BodiesWithoutValves { bodies } => write!(
                f,
                "body_valves is not fitted with {bodies} bodies; without valves there can be one"
            ),
            Self::NoBody => f.write_str("there is no body of water; there has to be at least one"),
            Self::HoursEmpty { minute } => write!(
                f,
                "hours open and close at minute {minute}; they have to differ (for no hours, say \
                 not fitted)"
            ),
            Self::AnswerRange { min, max } => write!(
                f,
                "response.answer_max is {max}; it has to be above answer_min, {min}"
            ),
            _ => self.fmt_feeder(f),
        }
    }

    fn fmt_feeder(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::GovernorNotFitted { feeder } => write!(
                f,
                "feeder {feeder}: the probe that governs it is not fitted; fit it, or choose \
                 TimedShare with caps made for it"
            ),
            Self::GovernorMismatch { feeder } => write!(
                f,
                "feeder {feeder}: governor does not suit the product; acid and base go by Ph, \
                 oxidisers by Orp, any by TimedShare"
            ),
            Self::CutoffMismatch { feeder, body } => write!(
                f,
                "feeder {feeder}, body {body}: cutoff does not suit the product; acid needs \
                 AbovePh, base BelowPh, an oxidiser Oxidiser"
            ),
            Self::AnyTubeBelowRate {
                feeder,
                value,
                at_least,
            } => write!(
                f,
                "feeder {feeder}: rate_any_tube is {value}; it has to be at least {at_least}, the \
                 rate with its tolerance"
            ),
            Self::CycleTooShort {
                feeder,
                body,
                run_ms,
                more_than_ms,
            } => write!(
                f,
                "feeder {feeder}, body {body}: the largest charge runs {run_ms} ms; it has to \
                 run more than {more_than_ms} ms (a tick and the drive's off delay)"
            ),
            Self::DoseTooShort {
                feeder,
                run_ms,
                at_least_ms,
            } => write!(
                f,
                "feeder {feeder}: dose_min runs {run_ms} ms; it has to run at least {at_least_ms} ms \
                 (a tick and the drive's off delay)"
            ),
            Self::CellSwitchWithoutCell { feeder } => write!(
                f,
                "feeder {feeder}: cell_flow_switch is fitted, but the product is not \
                 GeneratedChlorine; it has to be not fitted"
            ),
            Self::FallbackNotPossible { feeder, body } => write!(
                f,
                "feeder {feeder}, body {body}: fallback caps need an oxidiser governed by Orp and \
                 the site's fallback limits; otherwise say not fitted"
            ),
            Self::ProductDisagrees { first, feeder } => write!(
                f,
                "feeder {feeder}: bodies differ from those of feeder {first}, which gives the same \
                 product; they share caps and holds and have to agree"
            ),
            _ => f.write_str("limits out of range"),
        }
    }
}

impl core::error::Error for LimitsError {}

//! Settings of what stands around the guard: alarms and drums. They bound no dose; the limits do.

use crate::guard::units::{DAY_MS, Dose, Fitted, HOUR_MS, Millis};
use crate::response::{BufferingWater, ExpectedResponse};

/// How fast a value may move.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct RateLimit {
    /// Largest change in either direction within `within`, pH x 1000 or mV.
    pub change_max: i32,
    /// The time, 1 min to 24 h.
    pub within: Millis,
}

/// Alarms on one measured value, pH x 1000 or mV.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct ValueAlarms {
    /// Alarm below this.
    pub low: i32,
    /// Alarm above this.
    pub high: i32,
    /// How far back inside the value has to come before the alarm may go.
    pub dead_band: i32,
    /// Alarm on a fast change, if wanted.
    pub rate: Option<RateLimit>,
}

/// When alarms come and go. All times up to 7 days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct AlarmSettings {
    /// On pH.
    pub ph: ValueAlarms,
    /// On ORP.
    pub orp: ValueAlarms,
    /// How long a value is past a threshold, or a probe not healthy, before its alarm comes.
    pub on_delay: Millis,
    /// How long that is gone before the alarm goes.
    pub off_delay: Millis,
    /// How long a demand may stand and not be fed.
    pub demand_unmet_after: Millis,
    /// How long water may stand still; where the timetable says that the pump should run, the
    /// on-delay counts in its place.
    pub flow_absent_after: Millis,
}

/// One feeder's drum.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct DrumSettings {
    /// What it holds when full.
    pub size: Dose,
    /// Alarm when less is left.
    pub low: Dose,
    /// Alarm when what is left lasts for less than this many days at the last day's feed; 0: no
    /// alarm by days.
    pub low_days: u32,
}

/// All settings, as somebody writes them down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct SettingsSpec<const N: usize> {
    /// Alarms.
    pub alarms: AlarmSettings,
    /// Drums, one for each feeder. Not fitted for a generator, and where nobody enters refills.
    #[cfg_attr(feature = "serde", serde(with = "crate::serial::array"))]
    pub drums: [Fitted<DrumSettings>; N],
    /// How far a person may misread each drum's level, up or down. Where it is not fitted, no level
    /// judges the feeder's rate.
    #[cfg_attr(feature = "serde", serde(with = "crate::serial::array"))]
    pub level_errors: [Fitted<Dose>; N],
    /// How the water should answer the acid or base of one feeder. Not fitted: nothing is called.
    pub response: Fitted<ExpectedResponse>,
}

/// What is wrong with settings: field, value and what would be right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SettingsError {
    /// Outside its range.
    Range {
        /// Field.
        field: &'static str,
        /// Its value.
        value: i64,
        /// Least that is right.
        min: i64,
        /// Most that is right.
        max: i64,
    },
    /// A low threshold is not below its high one, dead band counted on both.
    Crossed {
        /// Field of the low threshold.
        field: &'static str,
        /// Low.
        low: i32,
        /// High.
        high: i32,
        /// Dead band.
        dead_band: i32,
    },
}

impl core::fmt::Display for SettingsError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Range {
                field,
                value,
                min,
                max,
            } => write!(f, "{field} is {value}; right is {min} to {max}"),
            Self::Crossed {
                field,
                low,
                high,
                dead_band,
            } => write!(
                f,
                "{field}: low {low} and high {high} have to be more than two dead bands of \
                 {dead_band} apart"
            ),
        }
    }
}

impl core::error::Error for SettingsError {}

/// Checked settings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(
    feature = "serde",
    serde(try_from = "SettingsSpec<N>", into = "SettingsSpec<N>")
)]
pub struct Settings<const N: usize> {
    spec: SettingsSpec<N>,
}

pub(crate) type Checked = Result<(), SettingsError>;

/// Seven days.
const WEEK_MS: u32 = DAY_MS * 7;

impl<const N: usize> Settings<N> {
    /// Checks every relation. `const`, so that settings fixed at build time fail the build.
    ///
    /// # Errors
    /// The first that does not hold.
    pub const fn try_new(spec: SettingsSpec<N>) -> Result<Self, SettingsError> {
        match check(&spec) {
            Ok(()) => Ok(Self { spec }),
            Err(error) => Err(error),
        }
    }

    /// The settings as written down.
    #[must_use]
    pub const fn spec(&self) -> &SettingsSpec<N> {
        &self.spec
    }
}

impl<const N: usize> TryFrom<SettingsSpec<N>> for Settings<N> {
    type Error = SettingsError;

    fn try_from(spec: SettingsSpec<N>) -> Result<Self, SettingsError> {
        Self::try_new(spec)
    }
}

impl<const N: usize> From<Settings<N>> for SettingsSpec<N> {
    fn from(settings: Settings<N>) -> Self {
        settings.spec
    }
}

/// `?` cannot be used in a `const fn`.
macro_rules! held {
    ($($check:expr;)*) => {
        $(if let Err(error) = $check { return Err(error); })*
    };
}
pub(crate) use held;

const fn time(field: &'static str, value: Millis, min: u32, max: u32) -> Checked {
    if value.0 < min || value.0 > max {
        return Err(SettingsError::Range {
            field,
            value: wide(value.0),
            min: wide(min),
            max: wide(max),
        });
    }
    Ok(())
}

/// Exact. (`i64::from` cannot be called in a `const fn`.)
const fn wide(value: u32) -> i64 {
    let [a, b, c, d] = value.to_le_bytes();
    i64::from_le_bytes([a, b, c, d, 0, 0, 0, 0])
}

const fn check<const N: usize>(spec: &SettingsSpec<N>) -> Checked {
    let alarms = &spec.alarms;
    held! {
        check_value("ph", &alarms.ph);
        check_value("orp", &alarms.orp);
        time("on_delay", alarms.on_delay, 0, WEEK_MS);
        time("off_delay", alarms.off_delay, 0, WEEK_MS);
        time("demand_unmet_after", alarms.demand_unmet_after, 60_000, WEEK_MS);
        time("flow_absent_after", alarms.flow_absent_after, HOUR_MS, WEEK_MS);
    }
    let mut feeders: u32 = 0;
    let mut rest: &[Fitted<DrumSettings>] = &spec.drums;
    while let [first, tail @ ..] = rest {
        feeders = feeders.saturating_add(1);
        if let Fitted::Fitted(drum) = first {
            held! { check_drum(drum); }
        }
        rest = tail;
    }
    match &spec.response {
        Fitted::Fitted(expected) => check_expected(expected, feeders),
        Fitted::NotFitted => Ok(()),
    }
}

const fn check_expected(expected: &ExpectedResponse, feeders: u32) -> Checked {
    let water = match expected.water {
        Fitted::Fitted(water) => water,
        // One that is right.
        Fitted::NotFitted => BufferingWater {
            alkalinity_mg_l: 100,
            cyanuric_acid_mg_l: 0,
            borate_mg_l: 0,
            tds_mg_l: 1000,
            temperature_c: 25,
        },
    };
    let last = wide(feeders.saturating_sub(1));
    held! {
        ranged("response.feeder", short(expected.feeder, 0), 0, last);
        ranged("response.dose", wide(expected.dose.0), 1, wide(u32::MAX));
        ranged("response.moves", of_u16(expected.moves), 1, 2000);
        ranged("response.at", of_u16(expected.at), 6100, 8900);
        ranged("response.more_per_tenth_percent", short(expected.more_per_tenth_percent, 0), 0, 25);
        ranged("response.error_percent", short(expected.error_percent, 0), 5, 40);
        ranged("response.settle_s", of_u16(expected.settle_s), 60, 7200);
        ranged("response.other_dose", wide(expected.other_dose.0), 1, wide(u32::MAX));
        ranged("response.other_raises", of_u16(expected.other_raises), 0, 2000);
        ranged("water.alkalinity_mg_l", of_u16(water.alkalinity_mg_l), 10, 500);
        ranged("water.cyanuric_acid_mg_l", of_u16(water.cyanuric_acid_mg_l), 0, 300);
        ranged("water.borate_mg_l", of_u16(water.borate_mg_l), 0, 100);
        ranged("water.tds_mg_l", of_u16(water.tds_mg_l), 0, 10_000);
        ranged("water.temperature_c", short(water.temperature_c, 0), 0, 45);
    }
    Ok(())
}

pub(crate) const fn of_u16(value: u16) -> i64 {
    let [low, high] = value.to_le_bytes();
    short(low, high)
}

const fn short(low: u8, high: u8) -> i64 {
    i64::from_le_bytes([low, high, 0, 0, 0, 0, 0, 0])
}

pub(crate) const fn ranged(field: &'static str, value: i64, min: i64, max: i64) -> Checked {
    if value < min || value > max {
        return Err(SettingsError::Range {
            field,
            value,
            min,
            max,
        });
    }
    Ok(())
}

const fn check_value(field: &'static str, value: &ValueAlarms) -> Checked {
    if value.dead_band < 0 || value.dead_band > 2000 {
        return Err(SettingsError::Range {
            field: "dead_band",
            value: narrow(value.dead_band),
            min: 0,
            max: 2000,
        });
    }
    let low_gone = value.low.saturating_add(value.dead_band);
    if low_gone >= value.high.saturating_sub(value.dead_band) {
        return Err(SettingsError::Crossed {
            field,
            low: value.low,
            high: value.high,
            dead_band: value.dead_band,
        });
    }
    if let Some(rate) = value.rate {
        held! { time("rate.within", rate.within, 60_000, DAY_MS); }
        if rate.change_max < 1 || rate.change_max > 14_000 {
            return Err(SettingsError::Range {
                field: "rate.change_max",
                value: narrow(rate.change_max),
                min: 1,
                max: 14_000,
            });
        }
    }
    Ok(())
}

/// Exact, sign and all. (`i64::from` cannot be called in a `const fn`.)
pub(crate) const fn narrow(value: i32) -> i64 {
    let magnitude = wide(value.unsigned_abs());
    if value < 0 {
        magnitude.saturating_neg()
    } else {
        magnitude
    }
}

const fn check_drum(drum: &DrumSettings) -> Checked {
    if drum.size.0 == 0 {
        return Err(SettingsError::Range {
            field: "drum.size",
            value: 0,
            min: 1,
            max: wide(u32::MAX),
        });
    }
    if drum.low.0 >= drum.size.0 {
        return Err(SettingsError::Range {
            field: "drum.low",
            value: wide(drum.low.0),
            min: 0,
            max: wide(drum.size.0).saturating_sub(1),
        });
    }
    if drum.low_days > 365 {
        return Err(SettingsError::Range {
            field: "drum.low_days",
            value: wide(drum.low_days),
            min: 0,
            max: 365,
        });
    }
    Ok(())
}

#[cfg(test)]
mod tests;

//! `[feeder.regulator]`, `[alarms]` and `[held_to]`: what asks for feed, what calls for attention,
//! and what the water is held to. Regulators and settings are those of the controller, made by its
//! own constructors; what these find wrong is told at the key that it is about.

use dosewarden::guard::units::{Dose, Millis, Percent};
use dosewarden::guard::{Fitted, Product};
use dosewarden::regulate::{
    Band, Direction, RegulatorError, Share, SizedDose, Standard, TimedShare,
};
use dosewarden::settings::{
    AlarmSettings, DrumSettings, RateLimit, Settings, SettingsError, SettingsSpec, ValueAlarms,
};

use super::check::{self, Checks};
use super::error::InputError;
use super::feeder::ReadFeeder;
use super::limits::Amounts;
use super::quantity::Kind;
use super::table::Table;
use crate::oracle::KeptBounds;
use crate::plant::MAX_FEEDERS;

type Read<T> = Result<T, InputError>;

/// What the oracles hold the water to, besides what the limits say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeldTo {
    /// Least free chlorine, mg/L.
    pub chlorine_min_mg_l: f64,
    /// Most chlorine gas that the line may release in the whole run, g.
    pub line_gas_max_g: f64,
    /// pH over which the water needs acid; `None`: not judged.
    pub acid_wanted_above_ph: Option<f64>,
    /// Free chlorine under which it needs chlorine, mg/L; `None`: not judged.
    pub chlorine_wanted_below_mg_l: Option<f64>,
    /// All is well and the water needs it: fed, or a person told, within this, ms.
    pub fed_within_ms: u64,
    /// The same while a fault stands, ms.
    pub told_within_ms: u64,
    /// How near the water is to be kept from the second day on; `None`: not judged.
    pub kept: Option<KeptBounds>,
}

#[derive(Clone, Copy)]
enum Kinds {
    SizedDose,
    TimedShare,
    Band,
}

const KINDS: [(&str, Kinds); 3] = [
    ("sized_dose", Kinds::SizedDose),
    ("timed_share", Kinds::TimedShare),
    ("band", Kinds::Band),
];

/// A measured value in the guard's whole numbers.
fn measured(t: &Table<'_, '_>, key: &'static str, ph: bool) -> Read<i32> {
    Ok(if ph {
        (t.quantity(key, Kind::Ph, "pH 6", "pH 9")? * 1000.0).round() as i32
    } else {
        t.quantity(key, Kind::Potential, "200 mV", "900 mV")?
            .round() as i32
    })
}

/// A difference of measured values.
fn distance(t: &Table<'_, '_>, key: &'static str, ph: bool) -> Read<i32> {
    Ok(if ph {
        (t.quantity(key, Kind::Ph, "pH 0.001", "pH 2")? * 1000.0).round() as i32
    } else {
        t.quantity(key, Kind::Potential, "1 mV", "300 mV")?.round() as i32
    })
}

fn time(t: &Table<'_, '_>, key: &'static str, min: &str, max: &str) -> Read<Millis> {
    Ok(Millis(
        (t.quantity(key, Kind::Time, min, max)? * 1000.0).round() as u32,
    ))
}

fn percent(t: &Table<'_, '_>, key: &'static str) -> Read<Percent> {
    Ok(Percent(
        (t.quantity(key, Kind::Share, "1 %", "100 %")? * 100.0).round() as u32,
    ))
}

/// Reads `[feeder.regulator]`.
pub(super) fn regulator(feeder: &Table<'_, '_>, of: &ReadFeeder) -> Read<Standard> {
    let t = feeder.table("regulator")?;
    let amounts = Amounts::of(of.product);
    let ph = !of.product.is_oxidiser();
    let direction = if of.product == Product::Acid {
        Direction::Lowers
    } else {
        Direction::Raises
    };
    let made = match t.choice("kind", &KINDS)? {
        Kinds::SizedDose => {
            let set_point = measured(&t, "set_point", ph)?;
            let dead_band = distance(&t, "dead_band", ph)?;
            let dose = amounts.dose_at(&t, "dose")?;
            let moves = distance(&t, "moves", ph)?;
            match SizedDose::try_new(direction, set_point, dead_band, dose, moves) {
                Ok(sized) => Ok(check::cure(
                    &t,
                    of.product,
                    of.limits.bodies[0].day_cap,
                    sized,
                )?),
                Err(error) => Err(error),
            }
        }
        Kinds::TimedShare => {
            let share = share(&t, direction, ph)?;
            let period = time(&t, "period", "1 min", "1 day")?;
            let on_min = time(&t, "on_min", "1 s", "1 h")?;
            let off_min = time(&t, "off_min", "1 s", "1 h")?;
            TimedShare::try_new(share, period, on_min, off_min).map(Standard::from)
        }
        Kinds::Band => {
            let (start, stop) = (measured(&t, "start", ph)?, measured(&t, "stop", ph)?);
            let dose = amounts.dose_at(&t, "dose")?;
            Band::try_new(direction, start, stop, dose).map(Standard::from)
        }
    };
    let regulator = made.map_err(|error| {
        let key = match error {
            RegulatorError::Range { field, .. } => field,
            RegulatorError::BandReversed { .. } => "stop",
            RegulatorError::PeriodTooShort { .. } => "period",
            #[allow(unreachable_patterns)]
            _ => "kind",
        };
        t.error_at(key, error.to_string())
    })?;
    t.close()?;
    Ok(regulator)
}

/// A fixed share, or one by the deficit.
fn share(t: &Table<'_, '_>, direction: Direction, ph: bool) -> Read<Share> {
    if t.find("share").is_some() {
        return Ok(Share::Fixed(percent(t, "share")?));
    }
    Ok(Share::Deficit {
        direction,
        set_point: measured(t, "set_point", ph)?,
        full_at: distance(t, "full_at", ph)?,
        share_max: percent(t, "share_max")?,
    })
}

fn rate(alarms: &Table<'_, '_>, key: &'static str, ph: bool) -> Read<Option<RateLimit>> {
    let Some(t) = alarms.find_table(key)? else {
        return Ok(None);
    };
    let limit = RateLimit {
        change_max: distance(&t, "change_max", ph)?,
        within: time(&t, "within", "1 min", "1 day")?,
    };
    t.close()?;
    Ok(Some(limit))
}

/// What is wrong with a feeder's drum is told at its own table; this is what was read there.
pub(super) fn drum(t: &Table<'_, '_>, size_l: f64) -> Read<DrumSettings> {
    let low = t.quantity("drum_low", Kind::Volume, "0 L", "100 m3")?;
    if low >= size_l {
        return Err(t.error_at("drum_low", "`drum_low` has to be below `drum`".to_owned()));
    }
    let days = t.whole("drum_low_days", 0, 365)?;
    Ok(DrumSettings {
        size: litres(size_l),
        low: litres(low),
        low_days: u32::try_from(days).unwrap_or(0),
    })
}

fn litres(l: f64) -> Dose {
    Dose((l * 1e6).round() as u32)
}

/// Reads `[alarms]`; drums were read with their feeders.
pub(super) fn settings(
    root: &Table<'_, '_>,
    drums: [Fitted<DrumSettings>; MAX_FEEDERS],
    checks: &Checks,
) -> Read<Settings<MAX_FEEDERS>> {
    let t = root.table("alarms")?;
    let alarms = AlarmSettings {
        ph: ValueAlarms {
            low: measured(&t, "ph_low", true)?,
            high: measured(&t, "ph_high", true)?,
            dead_band: distance(&t, "ph_dead_band", true)?,
            rate: rate(&t, "ph_rate", true)?,
        },
        orp: ValueAlarms {
            low: measured(&t, "orp_low", false)?,
            high: measured(&t, "orp_high", false)?,
            dead_band: distance(&t, "orp_dead_band", false)?,
            rate: rate(&t, "orp_rate", false)?,
        },
        on_delay: time(&t, "on_delay", "0 s", "7 days")?,
        off_delay: time(&t, "off_delay", "0 s", "7 days")?,
        demand_unmet_after: time(&t, "demand_unmet_after", "1 min", "7 days")?,
        flow_absent_after: time(&t, "flow_absent_after", "1 h", "7 days")?,
    };
    let spec = SettingsSpec {
        alarms,
        drums,
        level_errors: checks.level_errors,
        response: checks.response,
    };
    let settings = Settings::try_new(spec).map_err(|error| {
        let key = match error {
            SettingsError::Crossed { field: "ph", .. } => "ph_high",
            SettingsError::Crossed { .. } => "orp_high",
            SettingsError::Range { .. } => "ph_low",
        };
        t.error_at(key, error.to_string())
    })?;
    t.close()?;
    Ok(settings)
}

/// Reads the table `kept`, if it is there.
pub(super) fn kept(of: &Table<'_, '_>) -> Read<Option<KeptBounds>> {
    let Some(t) = of.find_table("kept")? else {
        return Ok(None);
    };
    let share = |key| t.quantity(key, Kind::Share, "1 %", "100 %");
    let kept = KeptBounds {
        ph_set_point: t.quantity("ph", Kind::Ph, "pH 6.8", "pH 8")?,
        ph_within: t.quantity("within", Kind::Ph, "pH 0.01", "pH 1")?,
        ph_share_min: share("ph_share")?,
        chlorine_share_min: share("chlorine_share")?,
    };
    t.close()?;
    Ok(Some(kept))
}

/// Reads `[held_to]`.
pub(super) fn held_to(root: &Table<'_, '_>) -> Read<HeldTo> {
    let t = root.table("held_to")?;
    let judged = |key: &'static str, kind, min: &str, max: &str| -> Read<Option<f64>> {
        let entry = t.need(key, "\"not judged\"")?;
        if entry.says("not judged") {
            return Ok(None);
        }
        entry.quantity(kind, min, max).map(Some)
    };
    let ms = |key: &'static str| -> Read<u64> {
        Ok((t.quantity(key, Kind::Time, "1 min", "7 days")? * 1000.0).round() as u64)
    };
    let held = HeldTo {
        kept: kept(&t)?,
        chlorine_min_mg_l: t.quantity("chlorine_min", Kind::Concentration, "0 mg/L", "10 mg/L")?,
        line_gas_max_g: t.quantity("line_gas_max", Kind::Mass, "0 g", "100 g")?,
        acid_wanted_above_ph: judged("acid_wanted_above", Kind::Ph, "pH 6", "pH 9")?,
        chlorine_wanted_below_mg_l: judged(
            "chlorine_wanted_below",
            Kind::Concentration,
            "0 mg/L",
            "10 mg/L",
        )?,
        fed_within_ms: ms("fed_within")?,
        told_within_ms: ms("told_within")?,
    };
    if held.told_within_ms < held.fed_within_ms {
        let what = "`told_within` is shorter than `fed_within`; it has to be at least that";
        return Err(t.error_at("told_within", what.to_owned()));
    }
    t.close()?;
    Ok(held)
}

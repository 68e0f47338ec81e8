//! `[feeder.regulator]` and `[alarms]`: what asks for feed, and what calls for attention.

use dosewarden::guard::Product;
use dosewarden::guard::units::{Dose, Millis, Percent};

use super::error::InputError;
use super::feeder::ReadFeeder;
use super::limits::Amounts;
use super::quantity::Kind;
use super::table::Table;

type Read<T> = Result<T, InputError>;

/// Whether a product raises or lowers what its probe measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Feed is asked for below the set point.
    Raises,
    /// Feed is asked for above the set point.
    Lowers,
}

/// How a feeder's dose is asked for. Measured values are pH x 1000, or mV.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RegulatorSettings {
    /// A dose in proportion to how far the water is from the set point.
    SizedDose {
        /// Whether the product raises or lowers the value.
        direction: Direction,
        /// Wanted value.
        set_point: i32,
        /// No dose while the value is nearer than this.
        dead_band: i32,
        /// This dose ...
        dose: Dose,
        /// ... moves the value by this.
        moves: i32,
    },
    /// A share of a fixed period, in proportion to how far the water is from the set point.
    TimedShare {
        /// Whether the product raises or lowers the value.
        direction: Direction,
        /// Wanted value.
        set_point: i32,
        /// Distance from the set point at which the share is at its largest.
        full_at: i32,
        /// Period.
        period: Millis,
        /// Largest share of it.
        share_max: Percent,
        /// Shortest run.
        on_min: Millis,
        /// Shortest pause.
        off_min: Millis,
    },
    /// On at one value, off at another.
    Band {
        /// Whether the product raises or lowers the value.
        direction: Direction,
        /// Feed begins past this.
        start: i32,
        /// Feed ends past this.
        stop: i32,
        /// Dose of one cycle.
        dose: Dose,
    },
}

/// Thresholds of the alarms, pH x 1000 and mV.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AlarmSettings {
    /// Low and high pH.
    pub ph: (i32, i32),
    /// Dead band of both.
    pub ph_dead_band: i32,
    /// Low and high ORP.
    pub orp: (i32, i32),
    /// Dead band of both.
    pub orp_dead_band: i32,
    /// How long past a threshold before the alarm comes.
    pub on_delay: Millis,
    /// How long back inside before it goes.
    pub off_delay: Millis,
    /// How long a demand may stand unmet before the alarm comes.
    pub demand_unmet_after: Millis,
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

/// Reads `[feeder.regulator]`.
pub(super) fn regulator(feeder: &Table<'_, '_>, of: &ReadFeeder) -> Read<RegulatorSettings> {
    let t = feeder.table("regulator")?;
    let amounts = Amounts::of(of.product);
    let ph = !of.product.is_oxidiser();
    let direction = if of.product == Product::Acid {
        Direction::Lowers
    } else {
        Direction::Raises
    };
    let settings = match t.choice("kind", &KINDS)? {
        Kinds::SizedDose => RegulatorSettings::SizedDose {
            direction,
            set_point: measured(&t, "set_point", ph)?,
            dead_band: distance(&t, "dead_band", ph)?,
            dose: amounts.dose_at(&t, "dose")?,
            moves: distance(&t, "moves", ph)?,
        },
        Kinds::TimedShare => RegulatorSettings::TimedShare {
            direction,
            set_point: measured(&t, "set_point", ph)?,
            full_at: distance(&t, "full_at", ph)?,
            period: time(&t, "period", "1 min", "1 day")?,
            share_max: Percent(
                (t.quantity("share_max", Kind::Share, "1 %", "100 %")? * 100.0).round() as u32,
            ),
            on_min: time(&t, "on_min", "1 s", "1 h")?,
            off_min: time(&t, "off_min", "1 s", "1 h")?,
        },
        Kinds::Band => {
            let (start, stop) = (measured(&t, "start", ph)?, measured(&t, "stop", ph)?);
            let apart = if direction == Direction::Lowers {
                start - stop
            } else {
                stop - start
            };
            if apart <= 0 {
                let side = if direction == Direction::Lowers {
                    "below"
                } else {
                    "above"
                };
                let what = format!("`stop` has to be {side} `start`: this product works that way");
                return Err(t.need("stop", "\"720 mV\"")?.error(what));
            }
            RegulatorSettings::Band {
                direction,
                start,
                stop,
                dose: amounts.dose_at(&t, "dose")?,
            }
        }
    };
    t.close()?;
    Ok(settings)
}

/// Reads `[alarms]`.
pub(super) fn alarms(root: &Table<'_, '_>) -> Read<AlarmSettings> {
    let t = root.table("alarms")?;
    let pair = |low: &'static str, high: &'static str, ph: bool| -> Read<(i32, i32)> {
        let read = (measured(&t, low, ph)?, measured(&t, high, ph)?);
        if read.0 >= read.1 {
            let what = format!("`{high}` has to be above `{low}`");
            return Err(t.need(high, "\"...\"")?.error(what));
        }
        Ok(read)
    };
    let settings = AlarmSettings {
        ph: pair("ph_low", "ph_high", true)?,
        ph_dead_band: distance(&t, "ph_dead_band", true)?,
        orp: pair("orp_low", "orp_high", false)?,
        orp_dead_band: distance(&t, "orp_dead_band", false)?,
        on_delay: time(&t, "on_delay", "0 s", "1 day")?,
        off_delay: time(&t, "off_delay", "0 s", "1 day")?,
        demand_unmet_after: time(&t, "demand_unmet_after", "1 min", "7 days")?,
    };
    t.close()?;
    Ok(settings)
}

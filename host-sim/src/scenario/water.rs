//! `[pool]` and `[probes]`: what the plant is made of.

use super::error::InputError;
use super::quantity::Kind;
use super::table::Table;
use crate::plant::{
    BasinSpec, CornerSpec, MakeUpSpec, PlasterSpec, ProbeSpec, TemperatureSpec, WaterSpec,
};

type Read<T> = Result<T, InputError>;

/// `[pool]`, the one body of water.
pub(super) fn pool(root: &Table<'_, '_>) -> Read<BasinSpec> {
    let t = root.table("pool")?;
    let spec = body(&t)?;
    t.close()?;
    Ok(spec)
}

/// One body of water, by the ranges that [`BasinSpec`] states; the caller closes the table.
pub(super) fn body(t: &Table<'_, '_>) -> Read<BasinSpec> {
    let daylight = t.need("daylight", "\"06:00-20:00\"")?.window()?;
    let bathers = t.need("bathers", "12")?.number(0.0, 10_000.0)?;
    let bathing = t.need("bathing", "\"17:00-20:00\"")?.window()?;
    let spec = BasinSpec {
        volume_m3: t.quantity("volume", Kind::Volume, "0.2 m3", "10000 m3")? / 1000.0,
        depth_m: t.quantity("depth", Kind::Length, "0.2 m", "10 m")?,
        water: at_start(t)?,
        temperature: temperature(t)?,
        corner: corner(t)?,
        co2_transfer_cm_h: t.quantity("co2_transfer", Kind::Speed, "0 cm/h", "20 cm/h")? * 100.0,
        sun_peak_per_h: t.quantity("sun_loss", Kind::ShareRate, "0 %/h", "500 %/h")?,
        daylight,
        background_per_h: t.quantity("other_loss", Kind::ShareRate, "0 %/h", "100 %/h")?,
        bathers_per_day: bathers,
        bathing,
        make_up: make_up(t)?,
        plaster: plaster(t)?,
        orp_at_1_mg_l_mv: t.quantity("orp_at_1_mg_l", Kind::Potential, "300 mV", "900 mV")?,
        orp_per_decade_mv: t.quantity("orp_per_decade", Kind::Potential, "10 mV", "200 mV")?,
    };
    Ok(spec)
}

fn at_start(pool: &Table<'_, '_>) -> Read<WaterSpec> {
    let t = pool.table("water")?;
    let spec = water(&t)?;
    t.close()?;
    Ok(spec)
}

/// What a water holds, all of it stated.
pub(crate) fn water(t: &Table<'_, '_>) -> Read<WaterSpec> {
    let mg_l = |key, min, max| t.quantity(key, Kind::Concentration, min, max);
    let spec = WaterSpec {
        ph: t.quantity("ph", Kind::Ph, "pH 5", "pH 9.5")?,
        alkalinity_mg_l: mg_l("alkalinity", "5 mg/L", "500 mg/L")?,
        calcium_mg_l: mg_l("calcium", "0 mg/L", "2000 mg/L")?,
        dissolved_mg_l: mg_l("dissolved", "10 mg/L", "15000 mg/L")?,
        cyanuric_acid_mg_l: mg_l("cyanuric_acid", "0 mg/L", "300 mg/L")?,
        borate_mg_l: mg_l("borate", "0 mg/L", "100 mg/L")?,
        free_chlorine_mg_l: mg_l("free_chlorine", "0 mg/L", "50 mg/L")?,
    };
    Ok(spec)
}

fn temperature(pool: &Table<'_, '_>) -> Read<TemperatureSpec> {
    let t = pool.table("temperature")?;
    let swing = |key, max| t.quantity(key, Kind::Temperature, "0 C", max);
    let warmest_day = t.whole("warmest_day", 0, 365)?;
    let spec = TemperatureSpec {
        mean_c: t.quantity("mean", Kind::Temperature, "1 C", "45 C")?,
        day_swing_c: swing("day_swing", "10 C")?,
        warmest_min: t.need("warmest_at", "\"16:00\"")?.time_of_day()?,
        year_swing_c: swing("year_swing", "25 C")?,
        warmest_day: u16::try_from(warmest_day).unwrap_or(0),
    };
    t.close()?;
    Ok(spec)
}

fn corner(pool: &Table<'_, '_>) -> Read<Option<CornerSpec>> {
    let Some(t) = pool.find_table("corner")? else {
        return Ok(None);
    };
    let minutes = |key, max: &str| {
        let seconds = t.quantity(key, Kind::Time, "1 min", max);
        seconds.map(|seconds| seconds / 60.0)
    };
    let spec = CornerSpec {
        share: t.quantity("share", Kind::Share, "0.1 %", "50 %")?,
        exchange_min: minutes("exchange", "160 h")?,
        standing_min: minutes("standing", "1600 h")?,
    };
    if spec.standing_min < spec.exchange_min {
        let what = "`standing` is shorter than `exchange`; it has to be at least that".to_owned();
        return Err(t.error_at("standing", what));
    }
    t.close()?;
    Ok(Some(spec))
}

fn make_up(pool: &Table<'_, '_>) -> Read<Option<MakeUpSpec>> {
    let Some(t) = pool.find_table("make_up")? else {
        return Ok(None);
    };
    let mains = t.table("water")?;
    let spec = MakeUpSpec {
        water: water(&mains)?,
        // Metres an hour.
        evaporation_mm_day: t.quantity("evaporation", Kind::Speed, "0 mm/day", "30 mm/day")?
            * 24_000.0,
        lost_l_day: t.quantity("lost", Kind::LiquidRate, "0 L/day", "100 m3/day")? * 24.0,
    };
    mains.close()?;
    t.close()?;
    Ok(Some(spec))
}

/// Equivalents of alkalinity in a gram of calcium hydroxide (74.09 g/mol, two a mole).
const LIME_EQ_PER_G: f64 = 2.0 / 74.093;

fn plaster(pool: &Table<'_, '_>) -> Read<Option<PlasterSpec>> {
    let Some(t) = pool.find_table("plaster")? else {
        return Ok(None);
    };
    let grams = t.quantity("lime_on_first_day", Kind::Mass, "0 g", "300 kg")?;
    let spec = PlasterSpec {
        first_eq_day: grams * LIME_EQ_PER_G,
        days: t.quantity("cures_in", Kind::Time, "1 day", "365 days")? / 86_400.0,
    };
    t.close()?;
    Ok(Some(spec))
}

/// The two probes and the lag of the sample cell that they sit in.
pub(super) struct Probes {
    pub(super) ph: ProbeSpec,
    pub(super) orp: ProbeSpec,
    pub(super) sample_delay_s: f64,
    pub(super) sample_lag_s: f64,
}

pub(super) fn probes(root: &Table<'_, '_>) -> Read<Probes> {
    let t = root.table("probes")?;
    let sample_delay_s = t.quantity("sample_delay", Kind::Time, "0 s", "1 h")?;
    let sample_lag_s = t.quantity("sample_lag", Kind::Time, "0 s", "1 h")?;
    let probe = |key, kind, noise_max: &str, off: (&str, &str)| -> Read<ProbeSpec> {
        let p = t.table(key)?;
        let zero = if kind == Kind::Ph { "pH 0" } else { "0 mV" };
        let spec = ProbeSpec {
            lag_s: p.quantity("lag", Kind::Time, "0 s", "1 h")?,
            noise: p.quantity("noise", kind, zero, noise_max)?,
            offset: p.quantity("offset", kind, off.0, off.1)?,
        };
        p.close()?;
        Ok(spec)
    };
    let ph = probe("ph", Kind::Ph, "pH 2", ("pH -3", "pH 3"))?;
    let orp = probe("orp", Kind::Potential, "200 mV", ("-300 mV", "300 mV"))?;
    t.close()?;
    Ok(Probes {
        ph,
        orp,
        sample_delay_s,
        sample_lag_s,
    })
}

/// What cuts feed besides the controller.
pub(super) struct Safety {
    pub(super) master: bool,
    pub(super) dead_man_ms: Option<u32>,
}

pub(super) fn safety(root: &Table<'_, '_>) -> Read<Safety> {
    let t = root.table("outputs")?;
    let dead_man = t.need("dead_man", "\"6 s\"")?;
    let safety = Safety {
        master: t.choice("master", &[("fitted", true), ("not fitted", false)])?,
        dead_man_ms: dead_man.fitted(|entry| {
            Ok((entry.quantity(Kind::Time, "1 ms", "10 min")? * 1000.0).round() as u32)
        })?,
    };
    t.close()?;
    Ok(safety)
}

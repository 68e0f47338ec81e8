//! What was measured at a site, out of its file.

use std::path::Path;

use dosewarden::day_log::Code;
use toml::de::DeTable;

use super::basin::{basin, corner};
use super::feeder::{self, SiteFeeder};
use super::second::{self, SecondBody};
use crate::plant::{CornerSpec, DayWindow, WaterSpec};
use crate::scenario::error::InputError;
use crate::scenario::quantity::Kind;
use crate::scenario::table::{Source, Table};
use crate::scenario::text_of;
use crate::scenario::water::water as water_of;

pub(super) type Read<T> = Result<T, InputError>;

/// What sort of pool it is: defaults differ.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PoolKind {
    /// A pool at a house.
    Home,
    /// A hot tub or spa: small, warm, busy.
    Spa,
    /// A pool that the public uses.
    Public,
}

/// What is wanted of the water.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// pH.
    pub ph: f64,
    /// Free chlorine, mg/L.
    pub free_chlorine_mg_l: f64,
    /// Least free chlorine, mg/L.
    pub free_chlorine_min_mg_l: f64,
    /// Alkalinity, mg/L.
    pub alkalinity_mg_l: f64,
    /// Calcium hardness, mg/L.
    pub calcium_mg_l: f64,
    /// Cyanuric acid, mg/L; 0: none is wanted.
    pub cyanuric_acid_mg_l: f64,
    /// Dissolved solids, mg/L; what a chlorine generator needs. 0: it does not matter.
    pub dissolved_mg_l: f64,
    /// ORP at which a DPD test found the wanted chlorine, mV; `None`: not found yet.
    pub orp_mv: Option<f64>,
}

/// Circulation.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteFlow {
    /// When the pump runs.
    pub runs: Vec<DayWindow>,
    /// Usual flow, L/min.
    pub flow_l_min: f64,
    /// Slowest flow at which feed is allowed, L/min.
    pub slowest_l_min: f64,
    /// Volume from the injectors to the basin, L.
    pub line_volume_l: f64,
    /// A pump-run contact is wired.
    pub pump_contact: bool,
    /// A flow meter is fitted.
    pub flow_meter: bool,
    /// A contact in series with all feeders is fitted.
    pub master: bool,
}

/// Probes and the way to them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SiteProbes {
    /// Time constant of the pH probe, s.
    pub ph_lag_s: f64,
    /// Time constant of the ORP probe, s.
    pub orp_lag_s: f64,
    /// Way of the water to the sample cell, s.
    pub sample_delay_s: f64,
    /// Time constant of the sample cell, s.
    pub sample_lag_s: f64,
}

/// A site as it was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Site {
    /// Its name.
    pub name: String,
    /// What sort it is.
    pub kind: PoolKind,
    /// In the sun.
    pub outdoors: bool,
    /// Bathers on a busy day.
    pub bathers_per_day: f64,
    /// Velocity at which CO2 leaves, cm/h.
    pub co2_transfer_cm_h: f64,
    /// Days to the next test of alkalinity.
    pub next_test_days: f64,
    /// Hours a day with power for the controller.
    pub powered_h: f64,
    /// The controller has a real-time clock that goes on without power.
    pub clock: bool,
    /// Volume, L, rounded down.
    pub volume_l: f64,
    /// Mean depth, m.
    pub depth_m: f64,
    /// A part that mixes slowly.
    pub corner: Option<CornerSpec>,
    /// The water as tested.
    pub water: WaterSpec,
    /// Its temperature, C.
    pub temperature_c: f64,
    /// What is wanted.
    pub wanted: Wanted,
    /// Circulation.
    pub flow: SiteFlow,
    /// Probes.
    pub probes: SiteProbes,
    /// Feeders.
    pub feeders: Vec<SiteFeeder>,
    /// Published codes that its day is held to; empty: the file names none.
    pub codes: Vec<Code>,
    /// Another body of water on the same pump.
    pub second: Option<SecondBody>,
}

impl Site {
    /// Reads a site from the text of a file; `file` is only for messages.
    ///
    /// # Errors
    /// The first mistake, with its place and what would be right.
    pub fn parse(file: &str, text: &str) -> Result<Self, InputError> {
        let source = Source::new(file, text);
        let parsed = DeTable::parse(text).map_err(|error| {
            let span = error.span().unwrap_or(0..0);
            source.error(&span, error.message().replace('\n', "; "))
        })?;
        read(&Table::root(&source, parsed.get_ref()))
    }

    /// Reads a site from a file of at most 1 MB.
    ///
    /// # Errors
    /// As [`Site::parse`], or that the file cannot be read.
    pub fn load(path: &Path) -> Result<Self, InputError> {
        let text = text_of(path)?;
        Self::parse(&path.display().to_string(), &text)
    }

    /// Names of its bodies of water, one or two.
    #[must_use]
    pub fn bodies(&self) -> Vec<&str> {
        let second = self.second.iter().map(|second| second.name.as_str());
        core::iter::once(second::FIRST).chain(second).collect()
    }

    /// Hours a day in which the pump runs.
    #[must_use]
    pub fn pump_h(&self) -> f64 {
        let minutes: u32 = self.flow.runs.iter().map(|w| u32::from(w.minutes())).sum();
        f64::from(minutes.min(1440)) / 60.0
    }
}

/// Words for the sorts.
pub(super) const KINDS: [(&str, PoolKind); 3] = [
    ("home", PoolKind::Home),
    ("spa", PoolKind::Spa),
    ("public", PoolKind::Public),
];

fn read(root: &Table<'_, '_>) -> Read<Site> {
    let t = root.table("site")?;
    let hours = |key| {
        let seconds = t.quantity(key, Kind::Time, "1 h", "24 h");
        seconds.map(|seconds| seconds / 3600.0)
    };
    let in_basin = root.table("basin")?;
    let (volume_l, depth_m) = basin(&in_basin, "basin")?;
    let (water, temperature_c) = water(root)?;
    let site = Site {
        name: t.words("name")?.to_owned(),
        kind: t.choice("kind", &KINDS)?,
        outdoors: t.need("outdoors", "true")?.yes_or_no()?,
        bathers_per_day: t.need("bathers", "12")?.number(0.0, 10_000.0)?,
        co2_transfer_cm_h: t.quantity("co2_transfer", Kind::Speed, "0 cm/h", "20 cm/h")? * 100.0,
        next_test_days: t.quantity("next_test", Kind::Time, "1 day", "365 days")? / 86_400.0,
        powered_h: hours("powered")?,
        clock: t.choice("clock", &[("fitted", true), ("not fitted", false)])?,
        volume_l,
        depth_m,
        corner: corner(&in_basin)?,
        water,
        temperature_c,
        wanted: wanted(root)?,
        flow: flow(root)?,
        probes: probes(root)?,
        feeders: feeder::read(root)?,
        codes: codes(&t)?,
        second: None,
    };
    in_basin.close()?;
    t.close()?;
    second::with(root, site)
}

/// Word for every published code that this program knows.
pub const ALL_CODES: &str = "all";

/// `code` of a site: the name of one, a list of several, or "all".
fn codes(site: &Table<'_, '_>) -> Read<Vec<Code>> {
    let Some(entry) = site.find("code") else {
        return Ok(Vec::new());
    };
    let mut known: Vec<(&str, Option<Code>)> = Code::ALL
        .iter()
        .map(|code| (code.name(), Some(*code)))
        .collect();
    known.push((ALL_CODES, None));
    let named = match entry.list() {
        Ok(several) if several.is_empty() => {
            return Err(entry.error("`code` is an empty list; name a code, or leave `code` out"));
        }
        Ok(several) => several,
        Err(_) => vec![entry],
    };
    let mut codes = Vec::new();
    for one in named {
        match one.choice(&known)? {
            Some(code) => codes.push(code),
            None => codes.extend(Code::ALL),
        }
    }
    codes.sort_unstable();
    codes.dedup();
    Ok(codes)
}

/// The table `water`, and the temperature in it.
pub(super) fn water(of: &Table<'_, '_>) -> Read<(WaterSpec, f64)> {
    let t = of.table("water")?;
    let spec = water_of(&t)?;
    let celsius = t.quantity("temperature", Kind::Temperature, "2 C", "42 C")?;
    t.close()?;
    Ok((spec, celsius))
}

fn wanted(root: &Table<'_, '_>) -> Read<Wanted> {
    let t = root.table("wanted")?;
    let mg_l = |key, min, max| t.quantity(key, Kind::Concentration, min, max);
    let spec = Wanted {
        ph: t.quantity("ph", Kind::Ph, "pH 7", "pH 7.9")?,
        free_chlorine_mg_l: mg_l("free_chlorine", "0.2 mg/L", "10 mg/L")?,
        free_chlorine_min_mg_l: mg_l("free_chlorine_min", "0.1 mg/L", "10 mg/L")?,
        alkalinity_mg_l: mg_l("alkalinity", "40 mg/L", "200 mg/L")?,
        calcium_mg_l: mg_l("calcium", "0 mg/L", "1000 mg/L")?,
        cyanuric_acid_mg_l: mg_l("cyanuric_acid", "0 mg/L", "100 mg/L")?,
        dissolved_mg_l: mg_l("dissolved", "0 mg/L", "8000 mg/L")?,
        orp_mv: {
            let entry = t.need("orp", "\"not known\"")?;
            if entry.says("not known") {
                None
            } else {
                Some(entry.quantity(Kind::Potential, "400 mV", "850 mV")?)
            }
        },
    };
    if spec.free_chlorine_min_mg_l > spec.free_chlorine_mg_l {
        let what = "`free_chlorine_min` is above `free_chlorine`; it has to be at most that";
        return Err(t.error_at("free_chlorine_min", what.to_owned()));
    }
    t.close()?;
    Ok(spec)
}

fn flow(root: &Table<'_, '_>) -> Read<SiteFlow> {
    let t = root.table("circulation")?;
    let mut runs = Vec::new();
    for entry in t.need("runs", "[\"08:00-20:00\"]")?.list()? {
        runs.push(entry.window()?);
    }
    let l_min = |key| {
        let read = t.quantity(key, Kind::LiquidRate, "1 L/min", "100000 L/min");
        read.map(|per_hour| per_hour / 60.0)
    };
    let fitted = |key| t.choice(key, &[("fitted", true), ("not fitted", false)]);
    let flow = SiteFlow {
        runs,
        flow_l_min: l_min("flow")?,
        slowest_l_min: l_min("slowest")?,
        line_volume_l: t.quantity("line_volume", Kind::Volume, "0.1 L", "10 m3")?,
        pump_contact: fitted("pump_contact")?,
        flow_meter: fitted("flow_meter")?,
        master: fitted("master")?,
    };
    if flow.slowest_l_min > flow.flow_l_min {
        let what = "`slowest` is above `flow`; it has to be at most that".to_owned();
        return Err(t.error_at("slowest", what));
    }
    t.close()?;
    Ok(flow)
}

fn probes(root: &Table<'_, '_>) -> Read<SiteProbes> {
    let t = root.table("probes")?;
    let time = |key| t.quantity(key, Kind::Time, "0 s", "1 h");
    let probes = SiteProbes {
        ph_lag_s: time("ph_lag")?,
        orp_lag_s: time("orp_lag")?,
        sample_delay_s: time("sample_delay")?,
        sample_lag_s: time("sample_lag")?,
    };
    t.close()?;
    Ok(probes)
}

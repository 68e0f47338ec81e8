//! What was measured at a site, out of its file.

use std::path::Path;

use dosewarden::commission::{CommissionError, Shape, volume_by_salt_l_floor};
use toml::de::DeTable;

use super::feeder::{self, SiteFeeder};
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

    /// Hours a day in which the pump runs.
    #[must_use]
    pub fn pump_h(&self) -> f64 {
        let minutes: u32 = self.flow.runs.iter().map(|w| u32::from(w.minutes())).sum();
        f64::from(minutes.min(1440)) / 60.0
    }
}

fn read(root: &Table<'_, '_>) -> Read<Site> {
    let t = root.table("site")?;
    let kinds = [
        ("home", PoolKind::Home),
        ("spa", PoolKind::Spa),
        ("public", PoolKind::Public),
    ];
    let hours = |key| {
        let seconds = t.quantity(key, Kind::Time, "1 h", "24 h");
        seconds.map(|seconds| seconds / 3600.0)
    };
    let (volume_l, depth_m) = basin(root)?;
    let site = Site {
        name: t.words("name")?.to_owned(),
        kind: t.choice("kind", &kinds)?,
        outdoors: t.need("outdoors", "true")?.yes_or_no()?,
        bathers_per_day: t.need("bathers", "12")?.number(0.0, 10_000.0)?,
        co2_transfer_cm_h: t.quantity("co2_transfer", Kind::Speed, "0 cm/h", "20 cm/h")? * 100.0,
        next_test_days: t.quantity("next_test", Kind::Time, "1 day", "365 days")? / 86_400.0,
        powered_h: hours("powered")?,
        clock: t.choice("clock", &[("fitted", true), ("not fitted", false)])?,
        volume_l,
        depth_m,
        corner: corner(root)?,
        water: water(root)?,
        temperature_c: root.table("water")?.quantity(
            "temperature",
            Kind::Temperature,
            "2 C",
            "42 C",
        )?,
        wanted: wanted(root)?,
        flow: flow(root)?,
        probes: probes(root)?,
        feeders: feeder::read(root)?,
    };
    t.close()?;
    Ok(site)
}

fn mm(t: &Table<'_, '_>, key: &'static str, max: &str) -> Read<u32> {
    Ok((t.quantity(key, Kind::Length, "1 mm", max)? * 1000.0).round() as u32)
}

fn shape(t: &Table<'_, '_>) -> Read<Shape> {
    #[derive(Clone, Copy)]
    enum Form {
        Rectangle,
        Round,
        Oval,
        LShape,
        Free,
    }
    let forms = [
        ("rectangle", Form::Rectangle),
        ("round", Form::Round),
        ("oval", Form::Oval),
        ("l_shape", Form::LShape),
        ("free", Form::Free),
    ];
    let long = |key| mm(t, key, "1000 m");
    let deep = |key| mm(t, key, "50 m");
    Ok(match t.choice("shape", &forms)? {
        Form::Rectangle => Shape::Rectangle {
            length_mm: long("length")?,
            width_mm: long("width")?,
            shallow_mm: deep("shallow")?,
            deep_mm: deep("deep")?,
        },
        Form::Round => Shape::Round {
            diameter_mm: long("diameter")?,
            shallow_mm: deep("shallow")?,
            deep_mm: deep("deep")?,
        },
        Form::Oval => Shape::Oval {
            length_mm: long("length")?,
            width_mm: long("width")?,
            shallow_mm: deep("shallow")?,
            deep_mm: deep("deep")?,
        },
        Form::LShape => Shape::LShape {
            length_mm: long("length")?,
            width_mm: long("width")?,
            notch_length_mm: long("notch_length")?,
            notch_width_mm: long("notch_width")?,
            shallow_mm: deep("shallow")?,
            deep_mm: deep("deep")?,
        },
        Form::Free => Shape::Free {
            surface_dm2: (t.need("surface_m2", "42.5")?.number(0.1, 100_000.0)? * 100.0) as u32,
            depth_mm: deep("depth")?,
        },
    })
}

/// Volume in L and mean depth in m.
fn basin(root: &Table<'_, '_>) -> Read<(f64, f64)> {
    let t = root.table("basin")?;
    let what = |table: &Table<'_, '_>, error: CommissionError| table.error(error.to_string());
    let (mut volume_l, mut surface_m2) = (0.0, 0.0);
    for part in t.tables("part")? {
        let shape = shape(&part)?;
        let litres = shape.volume_l_floor().map_err(|error| what(&part, error))?;
        let mm2 = shape.surface_mm2().map_err(|error| what(&part, error))?;
        volume_l += f64::from(litres);
        surface_m2 += mm2 as f64 / 1e6;
        part.close()?;
    }
    if let Some(salt) = t.find_table("dilution")? {
        if volume_l > 0.0 {
            return Err(
                salt.error("the volume is told twice; keep [[basin.part]] or [basin.dilution]")
            );
        }
        let added = salt.quantity("salt", Kind::Mass, "10 g", "4000 kg")?;
        let rise = salt.quantity("rise", Kind::Concentration, "10 mg/L", "10000 mg/L")?;
        let litres = volume_by_salt_l_floor(added.round() as u32, rise.round() as u32)
            .map_err(|error| what(&salt, error))?;
        volume_l = f64::from(litres);
        let depth = salt.quantity("mean_depth", Kind::Length, "0.2 m", "10 m")?;
        surface_m2 = volume_l / 1000.0 / depth;
        salt.close()?;
    }
    if volume_l < 200.0 {
        return Err(t.error(
            "the basin has under 0.2 m3; write [[basin.part]] with its shape, or [basin.dilution]",
        ));
    }
    t.find_table("corner")?;
    t.close()?;
    Ok((volume_l, volume_l / 1000.0 / surface_m2))
}

fn corner(root: &Table<'_, '_>) -> Read<Option<CornerSpec>> {
    let Some(t) = root.table("basin")?.find_table("corner")? else {
        return Ok(None);
    };
    let minutes = t.quantity("exchange", Kind::Time, "1 min", "160 h")? / 60.0;
    let corner = CornerSpec {
        share: t.quantity("share", Kind::Share, "0.1 %", "50 %")?,
        exchange_min: minutes,
        // Without circulation it mixes by heat alone; ten times as slow is our choice.
        standing_min: 10.0 * minutes,
    };
    t.close()?;
    Ok(Some(corner))
}

fn water(root: &Table<'_, '_>) -> Read<WaterSpec> {
    let t = root.table("water")?;
    let spec = water_of(&t)?;
    // Read by the caller.
    t.find("temperature");
    t.close()?;
    Ok(spec)
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

//! `[[feeder]]`: a feeder as it really is, and the limits that stand for it.

use dosewarden::guard::{Fitted, Product};
use dosewarden::settings::DrumSettings;

use super::control;
use super::error::InputError;
use super::limits;
use super::quantity::Kind;
use super::table::Table;
use crate::plant::{DrumDecay, FeederKind, FeederSpec};

type Read<T> = Result<T, InputError>;

/// A feeder of a scenario.
pub(super) struct ReadFeeder {
    pub(super) name: String,
    pub(super) product: Product,
    pub(super) plant: FeederSpec,
    pub(super) limits: dosewarden::guard::FeederSpec<1>,
    /// What binds in the second body, where there is one with limits of its own.
    pub(super) second: Option<dosewarden::guard::BodyLimits>,
    pub(super) drum: Fitted<DrumSettings>,
}

const PRODUCTS: [(&str, Product); 3] = [
    ("acid", Product::Acid),
    ("hypochlorite", Product::Hypochlorite),
    ("generator", Product::GeneratedChlorine),
];

/// Longest name: it heads columns and lanes.
const NAME_CHARS_MAX: usize = 24;

fn millis(t: &Table<'_, '_>, key: &'static str) -> Read<u32> {
    Ok((t.quantity(key, Kind::Time, "0 ms", "10 s")? * 1000.0).round() as u32)
}

/// Free alkali, eq/L, and decay of hypochlorite; other products have neither.
fn spoils(t: &Table<'_, '_>, product: Product) -> Read<(f64, Option<DrumDecay>)> {
    if product != Product::Hypochlorite {
        return Ok((0.0, None));
    }
    let alkali = t.quantity("free_alkali", Kind::Molarity, "0 mol/L", "5 mol/L")?;
    Ok((alkali, decay(t)?))
}

/// How the product loses strength in its drum, or that it keeps.
fn decay(t: &Table<'_, '_>) -> Read<Option<DrumDecay>> {
    let half = t.need("half_life", "\"100 days\"")?;
    if half.says("none") {
        return Ok(None);
    }
    let seconds = half
        .quantity(Kind::Time, "1 day", "10000 days")
        .map_err(|mut error| {
            error.what.push_str(" (or \"none\")");
            error
        })?;
    Ok(Some(DrumDecay {
        half_life_days: seconds / 86_400.0,
        drum_c: t.quantity("drum_temperature", Kind::Temperature, "0 C", "60 C")?,
    }))
}

/// A name: of a feeder, or of a body of water.
pub(crate) fn name(t: &Table<'_, '_>) -> Read<String> {
    let name = t.words("name")?.to_owned();
    let plain = |c: char| c.is_alphanumeric() || c == '_' || c == '-';
    if name.is_empty() || name.chars().count() > NAME_CHARS_MAX || !name.chars().all(plain) {
        let what = format!(
            "`name` is \"{name}\"; it has to be 1 to {NAME_CHARS_MAX} letters, digits, `_` or `-`"
        );
        return Err(t.error_at("name", what));
    }
    Ok(name)
}

/// Reads all of a feeder's table but `[feeder.regulator]`; the caller closes it. `bodies` are those for which it has
/// limits of their own.
pub(super) fn read(t: &Table<'_, '_>, bodies: &[String]) -> Read<ReadFeeder> {
    let name = name(t)?;
    let product = t.choice("product", &PRODUCTS)?;
    let liquid = product != Product::GeneratedChlorine;
    let level_switch_l = if liquid {
        let entry = t.need("level_switch", "\"not fitted\"")?;
        entry.fitted(|entry| entry.quantity(Kind::Volume, "0 L", "100 m3"))?
    } else {
        None
    };
    let cell_switch =
        !liquid && t.choice("cell_switch", &[("fitted", true), ("not fitted", false)])?;
    let (limits, second) =
        limits::feeder(t, product, (level_switch_l.is_some(), cell_switch), bodies)?;
    // The amounts of the guard are microlitres or milligrams an hour.
    let per_hour = f64::from(limits.rate.0);
    let kind = match product {
        Product::GeneratedChlorine => FeederKind::Generator {
            g_per_h: per_hour / 1e3,
            cell_switch,
            co2_strip_cm_h: t.quantity("co2_strip", Kind::Speed, "0 cm/h", "20 cm/h")? * 100.0,
        },
        Product::Hypochlorite => FeederKind::Hypochlorite {
            ml_per_min: per_hour / 6e4,
            g_per_l: t.quantity("strength", Kind::Concentration, "1 g/L", "250 g/L")? / 1e3,
        },
        Product::Acid | Product::Base => FeederKind::Acid {
            ml_per_min: per_hour / 6e4,
            mol_per_l: t.quantity("strength", Kind::Molarity, "0.1 mol/L", "12.5 mol/L")?,
        },
    };
    let drum_l = if liquid {
        t.quantity("drum", Kind::Volume, "0 L", "100 m3")?
    } else {
        0.0
    };
    let drum = if liquid {
        Fitted::Fitted(control::drum(t, drum_l)?)
    } else {
        Fitted::NotFitted
    };
    let (free_alkali_eq_l, decay) = spoils(t, product)?;
    let plant = FeederSpec {
        kind,
        rate_factor: t.need("true_rate", "1.0")?.number(0.0, 100.0)?,
        on_delay_ms: millis(t, "pulls_in")?,
        off_delay_ms: millis(t, "drops_out")?,
        feedback: limits.feedback.is_fitted(),
        drum_l,
        level_switch_l,
        free_alkali_eq_l,
        decay,
    };
    Ok(ReadFeeder {
        name,
        product,
        plant,
        limits,
        second,
        drum,
    })
}

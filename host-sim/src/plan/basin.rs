//! Volume and depth of a basin, out of its shapes or a dilution with salt.

use dosewarden::commission::{CommissionError, Shape, volume_by_salt_l_floor};

use super::site::Read;
use crate::plant::CornerSpec;
use crate::scenario::quantity::Kind;
use crate::scenario::table::Table;

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

/// Volume in L and mean depth in m of what `[basin]` or another table tells; the caller closes it.
pub(super) fn basin(t: &Table<'_, '_>, called: &str) -> Read<(f64, f64)> {
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
            return Err(salt.error(format!(
                "the volume is told twice; keep [[{called}.part]] or [{called}.dilution]"
            )));
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
        return Err(t.error(format!(
            "the basin has under 0.2 m3; write [[{called}.part]] with its shape, or [{called}.dilution]"
        )));
    }
    Ok((volume_l, volume_l / 1000.0 / surface_m2))
}

/// A part of it that mixes slowly.
pub(super) fn corner(basin: &Table<'_, '_>) -> Read<Option<CornerSpec>> {
    let Some(t) = basin.find_table("corner")? else {
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

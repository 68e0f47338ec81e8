//! `[circulation]`: the pump, its timetable and speeds, and the flow switch.
//!
//! A `[[circulation.speed]]` may say what the flow switch does at it: `flow_switch = "makes"` or `"does not make"`. It
//! is held against the flow. Where the unit knows the timetable, it then awaits no flow at a speed at which the
//! switch does not make, and ends feed before the pump slows down to it.
//!
//! `[circulation.frost]`: while the water is colder than `below` the pump runs for `runs` each `every` from midnight,
//! besides its timetable, and also while that is off. No unit is told.

use super::entry::Entry;
use super::error::InputError;
use super::quantity::Kind;
use super::table::Table;
use crate::plant::{CirculationSpec, DayWindow, FrostSpec, SpeedWindow};

type Read<T> = Result<T, InputError>;

/// What a file says of the circulation.
pub(super) struct ReadCirculation {
    pub(super) spec: CirculationSpec,
    pub(super) timetable_known: bool,
    /// When the pump runs too slowly for the flow switch, as the file says.
    pub(super) without_flow: Vec<DayWindow>,
}

/// When the switch does not make, as was said of each speed.
fn without_flow(
    spec: &CirculationSpec,
    said: &[(Entry<'_, '_>, bool, SpeedWindow)],
) -> Read<Vec<DayWindow>> {
    let (makes_at, breaks_at) = (spec.switch_make_l_min, spec.switch_break_l_min);
    let mut windows = Vec::new();
    for (entry, says_makes, speed) in said {
        let flow = speed.flow_l_min;
        let (makes, breaks) = (flow >= makes_at, flow < breaks_at);
        if !makes && !breaks {
            return Err(entry.error(format!(
                "at {flow} L/min the switch may make or not: it closes at {makes_at} L/min and opens under {breaks_at} \
                 L/min; a speed has to be clearly above or below"
            )));
        }
        if makes != *says_makes {
            let (does, other) = if makes {
                ("makes", "closes at")
            } else {
                ("does not make", "opens under")
            };
            let bound = if makes { makes_at } else { breaks_at };
            return Err(entry.error(format!(
                "at {flow} L/min the switch {does}, since it {other} {bound} L/min; say \"{does}\" or another flow"
            )));
        }
        if !makes {
            windows.push(speed.window);
        }
    }
    Ok(windows)
}

/// Runs against frost, if the file has them.
fn frost(circulation: &Table<'_, '_>) -> Read<Option<FrostSpec>> {
    let Some(t) = circulation.find_table("frost")? else {
        return Ok(None);
    };
    let minutes = |key, min: &str| -> Read<u16> {
        let minutes = t.quantity(key, Kind::Time, min, "1 day")? / 60.0;
        if minutes.fract() != 0.0 {
            let what = format!("`{key}` is {minutes} min; it has to be whole minutes");
            return Err(t.error_at(key, what));
        }
        Ok(minutes as u16)
    };
    let (runs_min, every_min) = (minutes("runs", "1 min")?, minutes("every", "1 min")?);
    if runs_min > every_min {
        let what = format!(
            "`runs` is {runs_min} min, above `every`, {every_min} min; it has to be at most that"
        );
        return Err(t.error_at("runs", what));
    }
    let below_c = t.quantity("below", Kind::Temperature, "0 C", "15 C")?;
    t.close()?;
    Ok(Some(FrostSpec {
        below_c,
        runs_min,
        every_min,
    }))
}

/// Circulation. Whether a flow meter and a pump contact are fitted is said once, in `[limits]`.
pub(super) fn read(root: &Table<'_, '_>) -> Read<ReadCirculation> {
    let t = root.table("circulation")?;
    let runs = t.need("runs", "[\"08:00-20:00\"]")?;
    let mut timetable = Vec::new();
    for entry in runs.list()? {
        timetable.push(entry.window()?);
    }
    let timetable_known = t.need("unit_knows_timetable", "true")?.yes_or_no()?;
    let l_min = |key| {
        let read = t.quantity(key, Kind::LiquidRate, "1 L/min", "100000 L/min");
        read.map(|per_hour| per_hour / 60.0)
    };
    let (mut speeds, mut said) = (Vec::new(), Vec::new());
    for one in t.tables("speed")? {
        let flow = one.quantity("flow", Kind::LiquidRate, "1 L/min", "100000 L/min")?;
        let speed = SpeedWindow {
            window: one.need("at", "\"22:00-06:00\"")?.window()?,
            flow_l_min: flow / 60.0,
        };
        speeds.push(speed);
        if let Some(entry) = one.find("flow_switch") {
            let makes = entry.choice(&[("makes", true), ("does not make", false)])?;
            said.push((entry, makes, speed));
        }
        one.close()?;
    }
    let spec = CirculationSpec {
        timetable,
        frost: frost(&t)?,
        flow_l_min: l_min("flow")?,
        speeds,
        spin_up_s: t.quantity("spin_up", Kind::Time, "0 s", "10 min")?,
        run_down_s: t.quantity("run_down", Kind::Time, "0 s", "10 min")?,
        feed_min_l_min: l_min("standing_below")?,
        line_volume_l: t.quantity("line_volume", Kind::Volume, "0.1 L", "10 m3")?,
        switch_make_l_min: l_min("switch_closes_at")?,
        switch_break_l_min: l_min("switch_opens_at")?,
        flow_meter: false,
        pump_contact: false,
    };
    let too_much = [
        (
            "standing_below",
            spec.feed_min_l_min,
            "flow",
            spec.flow_l_min,
        ),
        (
            "switch_opens_at",
            spec.switch_break_l_min,
            "switch_closes_at",
            spec.switch_make_l_min,
        ),
    ];
    for (key, value, other, most) in too_much {
        if value > most {
            let entry = t.need(key, "\"90 L/min\"")?;
            return Err(entry.error(format!(
                "`{key}` is {value} L/min, above `{other}`, {most} L/min; it has to be at most that"
            )));
        }
    }
    let without_flow = without_flow(&spec, &said)?;
    t.close()?;
    Ok(ReadCirculation {
        spec,
        timetable_known,
        without_flow,
    })
}

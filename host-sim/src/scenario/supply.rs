//! `[unit]`, where a site has one: what feeds the controller, and its clock.
//!
//! | key | what |
//! |---|---|
//! | `power` | `"always"`, or `"with the pump"`: it has power only while the timetable lets the pump run |
//! | `clock` | `"fitted"`: a real-time clock goes on without power; `"not fitted"`: it knows no time of the day |
//!
//! Without the table it always has power and knows the minute of the day, but no date.

use super::error::InputError;
use super::table::Table;

/// What the controller knows of time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UnitClock {
    /// The minute of the day, and not how long it was without power.
    Minute,
    /// A real-time clock that goes on without power.
    Fitted,
    /// Nothing.
    NotFitted,
}

/// What feeds the controller, and its clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct UnitSupply {
    /// It has power only while the circulation pump is due.
    pub with_pump: bool,
    /// Its clock.
    pub clock: UnitClock,
}

impl UnitSupply {
    /// Always power, and the minute of the day.
    pub const USUAL: Self = Self {
        with_pump: false,
        clock: UnitClock::Minute,
    };
}

pub(super) fn read(root: &Table<'_, '_>, timetable_known: bool) -> Result<UnitSupply, InputError> {
    let Some(t) = root.find_table("unit")? else {
        return Ok(UnitSupply::USUAL);
    };
    let clocks = [
        ("fitted", UnitClock::Fitted),
        ("not fitted", UnitClock::NotFitted),
    ];
    let supply = UnitSupply {
        with_pump: t.choice("power", &[("always", false), ("with the pump", true)])?,
        clock: t.choice("clock", &clocks)?,
    };
    if supply.clock == UnitClock::NotFitted && timetable_known {
        let what = "without a clock the unit cannot know the pump's timetable; say unit_knows_timetable = false in \
                    [circulation], or clock = \"fitted\"";
        return Err(t.error_at("clock", what.to_owned()));
    }
    t.close()?;
    Ok(supply)
}

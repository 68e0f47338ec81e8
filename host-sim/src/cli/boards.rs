//! Boards around a run: the image that a unit takes up before it, and the one that it gives away after it.

use std::path::Path;

use dosewarden::guard::Authority;
use dosewarden::guard::units::ClockSeconds;
use dosewarden::store::DayUsed;

use crate::board::BoardSheet;
use crate::pool::SimPool;
use crate::scenario::InputError;
use crate::scenario::quantity::{self, Kind};
use crate::unit::DosewardenUnit;

/// A technician changes boards.
const BY: Authority = Authority::Technician;
/// No image is older, s: ten years.
const AWAY_S_MAX: f64 = 3650.0 * 86_400.0;
/// For the act to be done and what is kept of it to be written, ms.
const GIVEN_AWAY_MS: u64 = 15_000;

/// How long the image was away, s.
fn away_s(text: &str) -> Result<u32, String> {
    let read = quantity::parse(text).ok();
    let read = read.filter(|one| one.kind == Kind::Time && (0.0..=AWAY_S_MAX).contains(&one.value));
    let seconds = read.ok_or_else(|| {
        format!("--away is `{text}`; write how long ago the image was written, such as \"2 h\", at most 3650 days")
    })?;
    Ok(seconds.value.round() as u32)
}

/// Has a new unit take up an image before it gets power; says what became of the day's total.
pub(super) fn take_up(
    unit: &mut DosewardenUnit,
    path: &Path,
    away: Option<&str>,
) -> Result<String, InputError> {
    let file = path.display().to_string();
    let wrong = |why: String| InputError::of_file(&file, why);
    let sheet = BoardSheet::load(path)?;
    let bytes = std::fs::read(path).map_err(|error| wrong(format!("cannot be read: {error}")))?;
    let away_s = away.map(away_s).transpose().map_err(wrong)?;
    let now = sheet.sealed_s.zip(away_s);
    let now = now.map(|(sealed_s, away_s)| ClockSeconds(sealed_s.saturating_add(away_s)));
    let used = unit.take_up(&bytes, BY, now).map_err(|error| {
        wrong(format!(
            "the unit of this scenario does not take it up: {error}"
        ))
    })?;
    let day = match used {
        None => "the day's total goes on from what stands in it",
        Some(DayUsed::TimeOffUnknown) if sheet.sealed_s.is_none() => {
            "the day counts as used: its board had no clock that it trusted"
        }
        Some(DayUsed::TimeOffUnknown) => {
            "the day counts as used: nobody says how long ago it was written (--away)"
        }
        Some(DayUsed::NotFresh) => "the day counts as used: it is more than a day old",
        Some(DayUsed::NotNewer) => "the day counts as used: this board has taken it up before",
        Some(DayUsed::OwnRecordLost) => "the day counts as used: this board's own record is lost",
    };
    Ok(format!(
        "Took up {file}: {day}\nLimits, alarms and care are the image's, calibrations and tests of the water keep their dates; every proof \
         test is due anew, since the terminals were wired anew"
    ))
}

/// Gives the board away at the end of a run; its image.
pub(super) fn give_away(pool: &mut SimPool<DosewardenUnit>) -> Result<Vec<u8>, String> {
    pool.unit_mut().hand_over(BY, false);
    pool.run_for_ms(GIVEN_AWAY_MS);
    pool.unit_mut().export().map_err(|error| {
        format!("--board: {error}: the unit has to have power at the end of the run; end it at another moment")
    })
}

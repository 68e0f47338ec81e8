//! The figures of a kept record that no type of theirs bounds.

use super::{KeptError, KeptRecord};
use crate::guard::units::DAY_MS;
use crate::probe::{
    ANCHOR_PH, Anchor, MicrogramsPerL, NOT_THIS_SOLUTION, ORP_MIN, WATER_TEMPERATURE,
};
use crate::restraint::{PAUSE_MAX, Restraints};
use crate::settings::{narrow, ranged};
use crate::water_tests::{TestRange, TestedValue, WaterTests};

/// Most that a probe of ORP shows in water, mV. Our choice: past what chlorine gives.
const ORP_MAX: i64 = 1200;
/// Most free chlorine at which anybody anchors. Our choice.
const CHLORINE_MAX: MicrogramsPerL = MicrogramsPerL::from_mg_l(50);

type Checked = Result<(), KeptError>;

fn within(field: &'static str, value: i64, min: i64, max: i64) -> Checked {
    ranged(field, value, min, max).map_err(KeptError::Figure)
}

pub(super) fn all<const N: usize>(record: &KeptRecord<N>) -> Checked {
    let own = &record.upkeep;
    within("trend", i64::from(own.trend.is_sound()), 1, 1)?;
    if let Some(check) = own.check {
        let most = narrow(NOT_THIS_SOLUTION.0);
        within(
            "check.error",
            narrow(check.error.0),
            most.saturating_neg(),
            most,
        )?;
    }
    if let Some(anchor) = &own.anchor {
        of_anchor(anchor)?;
    }
    of_tests(&own.tests)?;
    of_restraints(&record.restraints)?;
    for answers in record.answers.iter().flatten() {
        within("answers", i64::from(answers.found.is_sound()), 1, 1)?;
    }
    Ok(())
}

fn of_anchor(anchor: &Anchor) -> Checked {
    let test = &anchor.test;
    let (ph, warm) = (ANCHOR_PH, WATER_TEMPERATURE);
    let cyanurate = i64::from(TestedValue::Cyanurate.most().0);
    within(
        "anchor.orp",
        narrow(anchor.orp.0),
        narrow(ORP_MIN.0),
        ORP_MAX,
    )?;
    within(
        "anchor.ph",
        narrow(test.ph.0),
        narrow(ph.0.0),
        narrow(ph.1.0),
    )?;
    within(
        "anchor.chlorine",
        i64::from(test.chlorine.0),
        0,
        i64::from(CHLORINE_MAX.0),
    )?;
    within(
        "anchor.cyanurate",
        i64::from(test.cyanurate.0),
        0,
        cyanurate,
    )?;
    within(
        "anchor.temperature",
        narrow(test.temperature.0),
        narrow(warm.0.0),
        narrow(warm.1.0),
    )
}

fn of_tests(tests: &WaterTests) -> Checked {
    for value in TestedValue::ALL {
        let (found, max) = (tests.of(value).map(|test| test.found), value.most());
        if let Some(found) = found.filter(|found| *found > max) {
            return Err(KeptError::Test(TestRange { found, max }));
        }
    }
    Ok(())
}

fn of_restraints<const N: usize>(own: &Restraints<N>) -> Checked {
    let day = i64::from(DAY_MS);
    within("paused", i64::from(own.paused.0), 0, i64::from(PAUSE_MAX.0))?;
    for by_hand in &own.by_hand {
        within(
            "by_hand.counts_for",
            i64::from(by_hand.counts_for.0),
            0,
            day,
        )?;
        within(
            "by_hand.spreads_for",
            i64::from(by_hand.spreads_for.0),
            0,
            day,
        )?;
    }
    Ok(())
}

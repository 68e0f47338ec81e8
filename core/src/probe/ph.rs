//! A pH probe: filter and checks, calibration, trim, temperature.

use core::convert::Infallible;

use super::calibrate::{BufferReading, Calibration, CalibrationRefused, Line};
use super::care::{ProbeAct, ProbeKind, ProbeLog, ProbeRefused, Trying};
use super::condition::{ConditionLimits, Conditioner};
use super::conditioned::Conditioned;
use super::finding::Finding;
use super::raw::FrontReading;
use super::trend::Trend;
use super::trim::{KitTest, Trim, TrimRefused};
use super::units::CentiCelsius;
use crate::guard::units::{Fitted, MilliPh, Millis};
use crate::guard::{Authority, Reading};

/// What a probe can measure at all: past it the water is anywhere. Our choice.
pub const PH_SCALE: (MilliPh, MilliPh) = (MilliPh(4000), MilliPh(10_000));
/// Temperatures at which water can flow past a probe. Our choice.
pub const WATER_TEMPERATURE: (CentiCelsius, CentiCelsius) =
    (CentiCelsius(-100), CentiCelsius::from_whole(50));
/// Oldest temperature that counts. Our choice: water changes slowly.
pub const TEMPERATURE_AGE_MAX: Millis = Millis::from_mins(5);
/// A change of temperature over this, hundredths of a degree, makes a new line: less is under
/// 0.001 pH from 4 to 10.
const NEW_LINE_AT: u32 = 10;

/// What a pH probe is told about its site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PhSetup {
    /// Of the checks.
    pub limits: ConditionLimits,
    /// Whether there is a sensor of temperature.
    pub sensor: Fitted<()>,
    /// The water's temperature where there is no sensor, or none that can be right. 10 K off is
    /// 0.017 pH at 7.5, and 0.034 at 8 or 6.
    pub assumed: CentiCelsius,
    /// Oldest calibration, days. Common practice, no source: 30 in public, 90 at home.
    pub calibration_days_max: u16,
    /// Oldest trim, days.
    pub trim_days_max: u16,
}

/// What comes to a probe in a tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ProbeInput {
    /// From the front end, or a converter of the maker's own.
    pub seen: FrontReading,
    /// Of the water at the probe; unknown where there is no sensor. ORP takes no notice.
    pub temperature: Reading<CentiCelsius>,
    /// Water has moved past the probe for a while, and from the same body: what jumps then is not
    /// the water. The guard's `probe_settle` is long enough a while.
    pub is_steady: bool,
}

/// A pH probe.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PhProbe {
    conditioner: Conditioner,
    calibration: Option<Calibration>,
    line: Option<Line>,
    trim: Trim,
    is_in_work: bool,
}

impl PhProbe {
    /// As it was kept; `None`: never calibrated.
    #[must_use]
    pub const fn new(calibration: Option<Calibration>, trim: Trim) -> Self {
        Self {
            conditioner: Conditioner::NEW,
            calibration,
            line: None,
            trim,
            is_in_work: false,
        }
    }

    /// One tick. `elapsed` since the last.
    pub fn tick(
        &mut self,
        setup: &PhSetup,
        elapsed: Millis,
        input: &ProbeInput,
    ) -> Conditioned<MilliPh> {
        if let Some(calibration) = &mut self.calibration {
            calibration.age.pass(elapsed);
        }
        self.trim.age.pass(elapsed);
        // From one buffer to the next is no jump.
        let is_steady = input.is_steady && !self.is_in_work;
        let found = self
            .conditioner
            .tick(&setup.limits, elapsed, &input.seen, is_steady);
        let temperature = temperature(setup, &input.temperature);
        let untrimmed = self.untrimmed(temperature.unwrap_or(setup.assumed));
        let trim = self.trim.now(setup.trim_days_max);
        let value = MilliPh(untrimmed.0.saturating_add(trim.0));
        let finding = if self.is_in_work {
            Finding::InWork
        } else {
            found
                .gravest(self.of_calibration(setup))
                .gravest(of_value(value))
                .gravest(temperature.map_or(Finding::Temperature, |_| Finding::Fine))
        };
        let reading = Reading {
            value,
            age: self.conditioner.age(),
            health: finding.health(),
        };
        Conditioned::new(reading, finding)
    }

    fn of_calibration(&self, setup: &PhSetup) -> Finding {
        match self.calibration {
            None => Finding::NotCalibrated,
            Some(it) if it.age.is_over_days(setup.calibration_days_max) => Finding::CalibrationOld,
            Some(_) if self.trim.is_expired(setup.trim_days_max) => Finding::TrimExpired,
            Some(_) => Finding::Fine,
        }
    }

    /// pH by the calibration alone; by a perfect electrode's line where there is none.
    fn untrimmed(&mut self, at: CentiCelsius) -> MilliPh {
        let kept = self
            .line
            .filter(|line| line.temperature().apart(at) < NEW_LINE_AT);
        let line =
            kept.unwrap_or_else(|| self.calibration.unwrap_or(Calibration::PERFECT).line(at));
        self.line = Some(line);
        line.ph(self.conditioner.value())
    }

    /// The power was off; `None`: for nobody knows how long.
    pub const fn pass_off(&mut self, hours: Option<u16>) {
        if let Some(calibration) = &mut self.calibration {
            calibration.age.pass_off(hours);
        }
        self.trim.age.pass_off(hours);
    }

    /// Someone takes the probe out of the water, or has put it back. Until it is back its status
    /// is check function.
    pub const fn set_in_work(&mut self, is_in_work: bool) {
        if self.is_in_work && !is_in_work {
            self.conditioner.restart();
        }
        self.is_in_work = is_in_work;
    }

    /// A calibration in two buffers. It ends the trim.
    ///
    /// # Errors
    /// Why it was refused; all is as before then.
    pub fn calibrate(
        &mut self,
        by: Authority,
        buffers: (&BufferReading, &BufferReading),
        trend: &mut Trend,
        log: &mut ProbeLog,
    ) -> Result<Calibration, ProbeRefused<CalibrationRefused>> {
        let slope = |it: &Calibration| i32::try_from(it.slope_ppm()).unwrap_or(i32::MAX);
        let before = self.calibration.as_ref().map_or(0, slope);
        let made = trying(ProbeAct::Calibrate, by, before)
            .run(log, slope, || Calibration::two_point(buffers.0, buffers.1))?;
        trend.push(&made, self.calibration.map_or(0, |last| last.age.hours()));
        self.calibration = Some(made);
        self.line = None;
        self.trim = Trim::NONE;
        Ok(made)
    }

    /// A trim to a kit's test. `shown` is what the last tick gave.
    ///
    /// # Errors
    /// Why it was refused; all is as before then.
    pub fn trim(
        &mut self,
        by: Authority,
        kit: KitTest,
        shown: &Conditioned<MilliPh>,
        setup: &PhSetup,
        log: &mut ProbeLog,
    ) -> Result<Trim, ProbeRefused<TrimRefused>> {
        let now = self.trim.now(setup.trim_days_max);
        let untrimmed = MilliPh(shown.reading.value.0.saturating_sub(now.0));
        let in_order = matches!(shown.finding, Finding::Fine | Finding::TrimExpired);
        let made = trying(ProbeAct::Trim, by, now.0).run(
            log,
            |made: &Trim| made.by().0,
            || {
                if in_order {
                    Trim::take(untrimmed, kit)
                } else {
                    Err(TrimRefused::ProbeNotTrusted)
                }
            },
        )?;
        self.trim = made;
        Ok(made)
    }

    /// Takes the trim off.
    ///
    /// # Errors
    /// For want of authority.
    pub fn clear_trim(
        &mut self,
        by: Authority,
        log: &mut ProbeLog,
    ) -> Result<(), ProbeRefused<Infallible>> {
        trying(ProbeAct::ClearTrim, by, self.trim.by().0).run(log, |()| 0, || Ok(()))?;
        self.trim = Trim::NONE;
        Ok(())
    }

    /// A person has found that a jump is true: the water was tested.
    ///
    /// # Errors
    /// For want of authority.
    pub fn confirm(
        &mut self,
        by: Authority,
        log: &mut ProbeLog,
    ) -> Result<(), ProbeRefused<Infallible>> {
        trying(ProbeAct::Confirm, by, 0).run(log, |()| 0, || Ok(()))?;
        self.conditioner.confirm();
        Ok(())
    }

    /// The probe is another: nothing that was measured of the old one counts. The guard wants to
    /// know too (`Action::NewProbe`).
    ///
    /// # Errors
    /// For want of authority.
    pub fn replace(
        &mut self,
        by: Authority,
        trend: &mut Trend,
        log: &mut ProbeLog,
    ) -> Result<(), ProbeRefused<Infallible>> {
        trying(ProbeAct::Replace, by, 0).run(log, |()| 0, || Ok(()))?;
        *trend = Trend::NEW;
        *self = Self::new(None, Trim::NONE);
        Ok(())
    }

    /// Its calibration, for the settings that are kept.
    #[must_use]
    pub const fn calibration(&self) -> Option<&Calibration> {
        self.calibration.as_ref()
    }

    /// Its trim, expired or not.
    #[must_use]
    pub const fn trim_kept(&self) -> &Trim {
        &self.trim
    }

    /// Its filter, for noise and the potential.
    #[must_use]
    pub const fn conditioner(&self) -> &Conditioner {
        &self.conditioner
    }
}

const fn trying(act: ProbeAct, by: Authority, before: i32) -> Trying {
    Trying {
        probe: ProbeKind::Ph,
        act,
        by,
        before,
    }
}

/// `None`: there is a sensor, and what it says cannot be right.
fn temperature(setup: &PhSetup, seen: &Reading<CentiCelsius>) -> Option<CentiCelsius> {
    if !setup.sensor.is_fitted() {
        return Some(setup.assumed);
    }
    seen.trusted(TEMPERATURE_AGE_MAX)
        .filter(|at| (WATER_TEMPERATURE.0..=WATER_TEMPERATURE.1).contains(at))
}

fn of_value(value: MilliPh) -> Finding {
    if (PH_SCALE.0..=PH_SCALE.1).contains(&value) {
        Finding::Fine
    } else {
        Finding::OffScale
    }
}

//! Upkeep: what persons do to probes and find out about the water, and what is kept of it.
//!
//! It lives beside the controller, not inside: a unit whose probes come with a reading of their own
//! does without, and keeps its memory. Acts go through
//! [`Controller::upkeep`](crate::Controller::upkeep), which logs each, done or refused.
//!
//! # Invariants
//! - What is refused changes nothing and says why.
//! - A probe that is out of the water, or was put back less than [`BACK_SETTLES`] ago, is never
//!   Normal: the guard feeds nothing by it. One probe is out at a time.
//! - Nothing here raises a cap or grants a feed.
//!
//! ```
//! use dosewarden::guard::Authority;
//! use dosewarden::probe::MicrogramsPerL;
//! use dosewarden::upkeep::{Kept, Upkeep, UpkeepAct, UpkeepRefused, UpkeepSetup};
//! use dosewarden::water_tests::TestedValue;
//! # fn with(controller: &mut dosewarden::PoolController, setup: &UpkeepSetup) {
//! let mut upkeep = Upkeep::restore(Kept::NOTHING); // or what was kept
//! let found = MicrogramsPerL::from_mg_l(80);
//! let act = UpkeepAct::Test(TestedValue::Alkalinity, found);
//! let told = controller.upkeep(&mut upkeep, setup, Authority::Owner, act);
//! assert_eq!(told, Err(UpkeepRefused::NeedsAuthority(Authority::Operator)));
//! controller.upkeep(&mut upkeep, setup, Authority::Operator, act).expect("in range");
//! let test = upkeep.tests().of(TestedValue::Alkalinity).expect("was entered");
//! assert_eq!(test.found, found);
//! # }
//! ```

mod act;
mod kept;
#[cfg(test)]
pub(crate) mod tests;

pub use act::{UpkeepAct, UpkeepKind, UpkeepRefused};
pub use kept::{Kept, UpkeepSetup};

use crate::guard::Authority;
use crate::guard::Reading;
use crate::guard::units::{MilliPh, Millis, Millivolts};
use crate::probe::{
    Anchor, AnchorDue, Beside, BufferReading, CentiCelsius, Conditioned, Finding, OrpProbe,
    PhProbe, ProbeInput, ProbeKind, ProbeLog, ProbeRefused, Settling, Trend,
};
use crate::water_tests::{TestedValue, WaterTests};

/// How long after it was put back a probe is not believed yet: out of a buffer of 10 it shows the
/// water too high at first, and acid would be fed by that. Our choice: eight lags of 15 s.
pub const BACK_SETTLES: Millis = Millis::from_secs(120);

/// Both probes and what persons found.
#[derive(Clone, Debug)]
pub struct Upkeep {
    ph: PhProbe,
    orp: OrpProbe,
    trend: Trend,
    anchor: Option<Anchor>,
    tests: WaterTests,
    out: Option<ProbeKind>,
    /// Time until a probe that was put back is believed; 0: it is still out.
    back_in: Millis,
    settling: Settling,
    first: Option<BufferReading>,
    shown_ph: Conditioned<MilliPh>,
    shown_orp: Conditioned<Millivolts>,
}

impl Upkeep {
    /// From what was kept. Say next how long the power was off ([`Upkeep::pass_off`]).
    #[must_use]
    pub fn restore(kept: Kept) -> Self {
        let mut ph = PhProbe::new(kept.calibration, kept.trim);
        let mut orp = OrpProbe::new(kept.check);
        match kept.out {
            Some(ProbeKind::Ph) => ph.set_in_work(true),
            Some(ProbeKind::Orp) => orp.set_in_work(true),
            None => {}
        }
        Self {
            ph,
            orp,
            trend: kept.trend,
            anchor: kept.anchor,
            tests: kept.tests,
            out: kept.out,
            back_in: Millis(0),
            settling: Settling::NEW,
            first: None,
            shown_ph: never(MilliPh(0)),
            shown_orp: never(Millivolts(0)),
        }
    }

    /// What has to survive the power, as it is now.
    #[must_use]
    pub fn kept(&self) -> Kept {
        Kept {
            calibration: self.ph.calibration().copied(),
            trim: *self.ph.trim_kept(),
            trend: self.trend,
            check: self.orp.last_check().copied(),
            anchor: self.anchor,
            tests: self.tests,
            out: self.out,
        }
    }

    /// The power was off; `None`: for nobody knows how long.
    pub fn pass_off(&mut self, hours: Option<u16>) {
        self.ph.pass_off(hours);
        self.orp.pass_off(hours);
        if let Some(anchor) = &mut self.anchor {
            anchor.age.pass_off(hours);
        }
        self.tests.pass_off(hours);
    }

    /// One tick: gives the readings for the guard's facts, and why.
    pub fn tick(
        &mut self,
        setup: &UpkeepSetup,
        elapsed: Millis,
        ph: &ProbeInput,
        orp: &ProbeInput,
    ) -> (Conditioned<MilliPh>, Conditioned<Millivolts>) {
        if let Some(anchor) = &mut self.anchor {
            anchor.age.pass(elapsed);
        }
        self.tests.pass(elapsed);
        self.settle_back(elapsed);
        self.shown_ph = self.ph.tick(&setup.ph, elapsed, ph);
        self.shown_orp = self.orp.tick(&setup.orp, elapsed, orp);
        let value = match self.out {
            Some(ProbeKind::Ph) => self.ph.conditioner().value(),
            Some(ProbeKind::Orp) => self.orp.conditioner().value(),
            None => return (self.shown_ph, self.shown_orp),
        };
        self.settling.push(value, elapsed);
        (self.shown_ph, self.shown_orp)
    }

    fn settle_back(&mut self, elapsed: Millis) {
        if self.back_in.0 == 0 {
            return;
        }
        self.back_in.0 = self.back_in.0.saturating_sub(elapsed.0);
        if self.back_in.0 == 0 {
            self.set_in_work(false);
            self.out = None;
        }
    }

    fn set_in_work(&mut self, is_in_work: bool) {
        match self.out {
            Some(ProbeKind::Ph) => self.ph.set_in_work(is_in_work),
            Some(ProbeKind::Orp) => self.orp.set_in_work(is_in_work),
            None => {}
        }
    }

    /// Does what a person does, or says why not. Gives the figure for the log, too.
    pub(crate) fn take(
        &mut self,
        setup: &UpkeepSetup,
        by: Authority,
        act: UpkeepAct,
    ) -> (i32, Result<(), UpkeepRefused>) {
        let needed = act.authority();
        if by < needed {
            return (0, Err(UpkeepRefused::NeedsAuthority(needed)));
        }
        match act {
            UpkeepAct::TakeOut(probe) => (0, self.take_out(probe)),
            UpkeepAct::PutBack(probe) => (0, self.put_back(probe)),
            UpkeepAct::InBuffer(buffer, temperature) => {
                let taken = BufferReading::try_new(buffer, &self.settling, temperature);
                match (self.is_out(ProbeKind::Ph), taken) {
                    (Err(refused), _) => (0, Err(refused)),
                    (Ok(()), Err(refused)) => (0, Err(UpkeepRefused::Calibration(refused))),
                    (Ok(()), Ok(reading)) => self.in_buffer(by, reading),
                }
            }
            UpkeepAct::CheckReference(solution, temperature) => {
                if let Err(refused) = self.is_out(ProbeKind::Orp) {
                    return (0, Err(refused));
                }
                let (log, settling) = (&mut ProbeLog::new(), &self.settling);
                let done = self
                    .orp
                    .check(by, solution, settling, temperature, &setup.orp, log);
                logged(log, done, UpkeepRefused::Check)
            }
            UpkeepAct::Test(value, found) => {
                let figure = i32::try_from(found.0).unwrap_or(i32::MAX);
                let entered = self.tests.enter(value, found);
                (figure, entered.map_err(UpkeepRefused::TestRange))
            }
            other => self.in_water(setup, by, other),
        }
    }

    /// Acts on a probe that stays where it is.
    fn in_water(
        &mut self,
        setup: &UpkeepSetup,
        by: Authority,
        act: UpkeepAct,
    ) -> (i32, Result<(), UpkeepRefused>) {
        let log = &mut ProbeLog::new();
        match act {
            UpkeepAct::Trim(kit) => {
                let done = self.ph.trim(by, kit, &self.shown_ph, &setup.ph, log);
                logged(log, done, UpkeepRefused::Trim)
            }
            UpkeepAct::Anchor(test, fed_last_day) => {
                let beside = Beside {
                    orp: self.shown_orp,
                    fed_last_day,
                    wanted: setup.wanted,
                };
                let last = self.anchor.as_ref();
                let done = self.orp.anchor(by, test, &beside, last, log);
                if let Ok(made) = &done {
                    self.anchor = Some(*made);
                }
                logged(log, done, UpkeepRefused::Anchor)
            }
            UpkeepAct::ClearTrim => {
                let done = self.ph.clear_trim(by, log);
                logged(log, done, |never| match never {})
            }
            UpkeepAct::Confirm(probe) => {
                let done = match probe {
                    ProbeKind::Ph => self.ph.confirm(by, log),
                    ProbeKind::Orp => self.orp.confirm(by, log),
                };
                logged(log, done, |never| match never {})
            }
            UpkeepAct::Replace(probe) => {
                let done = match probe {
                    ProbeKind::Ph => self.ph.replace(by, &mut self.trend, log),
                    ProbeKind::Orp => self.orp.replace(by, &mut self.anchor, log),
                };
                // Out of the water it stays so.
                self.set_in_work(true);
                self.first = None;
                logged(log, done, |never| match never {})
            }
            // Taken before.
            _ => (0, Ok(())),
        }
    }

    fn is_out(&self, probe: ProbeKind) -> Result<(), UpkeepRefused> {
        if self.out == Some(probe) && self.back_in.0 == 0 {
            Ok(())
        } else {
            Err(UpkeepRefused::NotOut(probe))
        }
    }

    fn take_out(&mut self, probe: ProbeKind) -> Result<(), UpkeepRefused> {
        match self.out {
            Some(other) if other != probe => return Err(UpkeepRefused::OtherIsOut(other)),
            // In the next solution, or again before it was believed.
            Some(_) => {}
            None => self.first = None,
        }
        self.out = Some(probe);
        self.back_in = Millis(0);
        self.set_in_work(true);
        self.settling = match probe {
            ProbeKind::Ph => Settling::NEW,
            ProbeKind::Orp => Settling::NEW_ORP,
        };
        Ok(())
    }

    fn put_back(&mut self, probe: ProbeKind) -> Result<(), UpkeepRefused> {
        self.is_out(probe)?;
        self.back_in = BACK_SETTLES;
        self.first = None;
        Ok(())
    }

    /// The first reading is kept, the second makes a calibration of both. Where that is refused,
    /// the first stays: the second buffer may be tried again.
    fn in_buffer(
        &mut self,
        by: Authority,
        reading: BufferReading,
    ) -> (i32, Result<(), UpkeepRefused>) {
        let Some(first) = self.first else {
            self.first = Some(reading);
            return (0, Ok(()));
        };
        let log = &mut ProbeLog::new();
        let buffers = (&first, &reading);
        let done = self.ph.calibrate(by, buffers, &mut self.trend, log);
        if done.is_ok() {
            self.first = None;
        }
        logged(log, done, UpkeepRefused::Calibration)
    }

    /// Whether a calibration has its first reading and waits for the second.
    pub(crate) const fn is_between_buffers(&self) -> bool {
        self.first.is_some()
    }

    /// What the pH probe showed in the last tick.
    #[must_use]
    pub const fn ph(&self) -> &Conditioned<MilliPh> {
        &self.shown_ph
    }

    /// What the ORP probe showed in the last tick.
    #[must_use]
    pub const fn orp(&self) -> &Conditioned<Millivolts> {
        &self.shown_orp
    }

    /// The anchor: its reading is the set point of what is governed by ORP.
    #[must_use]
    pub const fn anchor(&self) -> Option<&Anchor> {
        self.anchor.as_ref()
    }

    /// Why the anchor is due again, if there is one and it is: by its age, by the pH that is shown,
    /// by cyanurate as last tested, by a temperature, if it is known.
    #[must_use]
    pub fn anchor_due(
        &self,
        setup: &UpkeepSetup,
        temperature: Option<CentiCelsius>,
    ) -> Option<AnchorDue> {
        let cyanurate = self.tests.of(TestedValue::Cyanurate);
        let (days, ph) = (setup.anchor_days_max, self.shown_ph.trusted());
        self.anchor?
            .due(days, ph, cyanurate.map(|test| test.found), temperature)
    }

    /// Tests of the water.
    #[must_use]
    pub const fn tests(&self) -> &WaterTests {
        &self.tests
    }

    /// The pH probe's calibrations, for a forecast.
    #[must_use]
    pub const fn trend(&self) -> &Trend {
        &self.trend
    }

    /// The probe that is out of the water or not believed yet.
    #[must_use]
    pub const fn out(&self) -> Option<ProbeKind> {
        self.out
    }
}

const fn never<T: Copy>(value: T) -> Conditioned<T> {
    Conditioned {
        reading: Reading::unknown(value),
        finding: Finding::NeverRead,
    }
}

/// The figure that was logged, and what became of it.
fn logged<T, E>(
    log: &mut ProbeLog,
    done: Result<T, ProbeRefused<E>>,
    because: fn(E) -> UpkeepRefused,
) -> (i32, Result<(), UpkeepRefused>) {
    let figure = log.take().map_or(0, |entry| entry.after);
    let refused = |refused| match refused {
        ProbeRefused::NeedsAuthority(needed) => UpkeepRefused::NeedsAuthority(needed),
        ProbeRefused::Because(reason) => because(reason),
    };
    (figure, done.map(drop).map_err(refused))
}

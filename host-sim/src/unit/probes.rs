//! The unit's probes: converter, check of the lead, the controller's own chain from potential to a
//! reading, and what persons do about them.

use dosewarden::guard::units::{Fitted, MilliPh, Millis, Millivolts};
use dosewarden::guard::{Authority, Governor, Health, Limits, Reading};
use dosewarden::probe::{
    Age, Calibration, CentiCelsius, ChlorineTest, ConditionLimits, ConditionSpec, Conditioned,
    FrontReading, KitTest, Lead, MicrogramsPerL, Microvolts, OrpSetup, PhSetup, ProbeInput,
    ReferenceElectrode,
};
use dosewarden::regulate::Standard;
use dosewarden::upkeep::{Kept, Upkeep, UpkeepAct, UpkeepRefused, UpkeepSetup};
use dosewarden::water_tests::{TestedValue, WaterTests};

use super::ours::Ours;
use crate::plant::ProbeSense;
use crate::scenario::Work;

/// One count of a converter of 16 bits and 2.048 V full scale, uV.
const COUNT_UV: f64 = 62.5;
/// From one check of the leads to the next, ms.
const CHECK_MS: u32 = 10_000;

/// Limits that do not contradict each other: checked when this is built.
const fn limits(spec: ConditionSpec) -> ConditionLimits {
    match ConditionLimits::try_new(spec) {
        Ok(limits) => limits,
        Err(_) => panic!("limits that contradict each other"),
    }
}

const PH_LIMITS: ConditionLimits = limits(ConditionSpec::PH);
const ORP_LIMITS: ConditionLimits = limits(ConditionSpec::ORP);

const ORP_SETUP: OrpSetup = OrpSetup {
    limits: ORP_LIMITS,
    electrode: ReferenceElectrode::SilverSaturated,
    // A site that does not check: then only a check that failed counts.
    check_days_max: Fitted::NotFitted,
};

/// What both leads are.
#[derive(Clone, Copy, Debug)]
struct Leads {
    ph: Lead,
    orp: Lead,
    until_check_ms: u32,
}

impl Leads {
    const NOT_CHECKED: Self = Self {
        ph: Lead::NotChecked,
        orp: Lead::NotChecked,
        until_check_ms: 0,
    };
}

/// Both probes, calibrated when the unit was fitted: slope and zero of a perfect electrode, so that
/// what a scenario's probe is off by stays its error.
#[derive(Clone, Debug)]
pub(super) struct Probes {
    upkeep: Upkeep,
    setup: UpkeepSetup,
    leads: Leads,
}

fn lead(sense: &ProbeSense) -> Lead {
    match sense {
        _ if sense.open => Lead::Open,
        _ if sense.is_dry => Lead::HighResistance,
        _ => Lead::Intact,
    }
}

/// What `round` gives below 2^52, without a call, and without a branch that nobody could foresee: it is of noise.
fn nearest(value: f64) -> f64 {
    let whole = value as i64;
    let rest = value - whole as f64;
    let off = i64::from(rest >= 0.5) - i64::from(rest <= -0.5);
    // No probe shows so much, but a broken input may.
    whole.saturating_add(off) as f64
}

/// What the converter gives.
fn seen(sense: &ProbeSense, lead: Lead) -> FrontReading {
    let counts = nearest(sense.millivolts * 1000.0 / COUNT_UV);
    FrontReading {
        reading: Reading {
            value: Microvolts(nearest(counts * COUNT_UV) as i32),
            age: Millis(sense.age_ms),
            health: Health::Normal,
        },
        lead,
        fault: None,
    }
}

impl Probes {
    /// There is no sensor of temperature: `celsius` is assumed, and is that of the calibration.
    pub(super) fn new(celsius: f64) -> Self {
        let fresh = Calibration::restore(Microvolts(0), 1_000_000, Age::NEW);
        let kept = Kept {
            calibration: fresh.ok(),
            ..Kept::NOTHING
        };
        Self {
            upkeep: Upkeep::restore(kept),
            setup: UpkeepSetup {
                ph: PhSetup {
                    limits: PH_LIMITS,
                    sensor: Fitted::NotFitted,
                    assumed: CentiCelsius((celsius * 100.0).round() as i32),
                    // Longer than any scenario here: the age of a calibration is judged elsewhere.
                    calibration_days_max: 730,
                    trim_days_max: 30,
                },
                orp: ORP_SETUP,
                wanted: MicrogramsPerL::from_mg_l(2),
                anchor_days_max: 60,
            },
            leads: Leads::NOT_CHECKED,
        }
    }

    /// Supply comes: filters and checks start anew, from what was kept. `off`: how long it was gone,
    /// if at all.
    pub(super) fn start(&mut self, kept: Kept, off: Option<Option<u16>>) {
        self.upkeep = Upkeep::restore(kept);
        if let Some(hours) = off {
            self.upkeep.pass_off(hours);
        }
        self.leads = Leads::NOT_CHECKED;
    }

    /// What has to survive the power.
    pub(super) fn kept(&self) -> Kept {
        self.upkeep.kept()
    }

    pub(super) const fn upkeep(&self) -> &Upkeep {
        &self.upkeep
    }

    /// Tells the unit of some work on a probe or a test of the water.
    pub(super) fn work<const N: usize, const B: usize>(
        &mut self,
        controller: &mut Ours<N, B>,
        by: Authority,
        work: Work,
    ) -> Result<(), UpkeepRefused> {
        let at = self.setup.ph.assumed;
        let act = match work {
            Work::Dip(dip) => UpkeepAct::TakeOut(dip.probe()),
            Work::PutBack(probe) => UpkeepAct::PutBack(probe),
            Work::Replace(probe) => UpkeepAct::Replace(probe),
            Work::Calibrate(buffer) => UpkeepAct::InBuffer(buffer, at),
            Work::CheckOrp(solution) => UpkeepAct::CheckReference(solution, at),
            Work::Trim { ph, chlorine } => UpkeepAct::Trim(KitTest {
                ph: ph.unwrap_or(MilliPh(0)),
                chlorine,
            }),
            Work::Anchor { chlorine, wanted } => {
                self.setup.wanted = wanted;
                UpkeepAct::Anchor(self.test(chlorine), None)
            }
            Work::Test { value, found } => {
                UpkeepAct::Test(value, found.unwrap_or(MicrogramsPerL(0)))
            }
        };
        controller.upkeep(&mut self.upkeep, &self.setup, by, act)
    }

    /// The tests of the water that persons entered.
    pub(super) const fn tests(&self) -> &WaterTests {
        self.upkeep.tests()
    }

    fn test(&self, chlorine: Option<MicrogramsPerL>) -> ChlorineTest {
        let cyanurate = self.upkeep.tests().of(TestedValue::Cyanurate);
        ChlorineTest {
            chlorine: chlorine.unwrap_or(MicrogramsPerL(0)),
            diluted: false,
            ph: self.upkeep.ph().reading.value,
            cyanurate: cyanurate.map_or(MicrogramsPerL(0), |test| test.found),
            temperature: self.setup.ph.assumed,
            at: None,
        }
    }

    /// Sets regulators that ORP governs to the anchor. A regulator by band keeps its own.
    pub(super) fn set_point<const N: usize, const B: usize>(
        &self,
        limits: &Limits<N, B>,
        regulators: &mut [Standard; N],
    ) {
        let Some(anchor) = self.upkeep.anchor() else {
            return;
        };
        for (feeder, regulator) in regulators.iter_mut().enumerate() {
            let by_orp = limits
                .feeder(feeder)
                .is_some_and(|spec| spec.governor == Governor::Orp);
            if let (true, Standard::SizedDose(sized)) = (by_orp, regulator) {
                // An anchor is from 500 mV to what a probe can show: in range.
                sized.set_set_point(anchor.orp.0).unwrap_or_default();
            }
        }
    }

    /// One tick. `is_steady`: water has moved past the probes for a while.
    pub(super) fn tick(
        &mut self,
        dt_ms: u32,
        senses: [&ProbeSense; 2],
        is_steady: bool,
    ) -> (Conditioned<MilliPh>, Conditioned<Millivolts>) {
        let [ph, orp] = senses;
        if self.leads.until_check_ms == 0 {
            self.leads = Leads {
                ph: lead(ph),
                orp: lead(orp),
                until_check_ms: CHECK_MS,
            };
        }
        self.leads.until_check_ms = self.leads.until_check_ms.saturating_sub(dt_ms);
        let elapsed = Millis(dt_ms);
        let input = |sense, lead| ProbeInput {
            seen: seen(sense, lead),
            temperature: Reading::unknown(self.setup.ph.assumed),
            is_steady,
        };
        let (ph, orp) = (input(ph, self.leads.ph), input(orp, self.leads.orp));
        self.upkeep.tick(&self.setup, elapsed, &ph, &orp)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dosewarden::probe::Finding;

    fn sense(ph: f64) -> ProbeSense {
        ProbeSense {
            millivolts: (7.0 - ph) * crate::water::nernst_mv_per_ph(25.0),
            value: ph,
            open: false,
            is_dry: false,
            age_ms: 0,
        }
    }

    const ORP: ProbeSense = ProbeSense {
        millivolts: 700.0,
        value: 700.0,
        open: false,
        is_dry: false,
        age_ms: 0,
    };

    #[test]
    fn the_chain_shows_what_the_probe_does_and_an_open_lead_is_a_failure() {
        let mut probes = Probes::new(25.0);
        let (ph, orp) = probes.tick(1000, [&sense(7.5), &ORP], false);
        assert_eq!(ph.trusted(), Some(MilliPh(7500)));
        assert_eq!(orp.trusted(), Some(Millivolts(700)));
        let open = ProbeSense {
            open: true,
            ..sense(7.5)
        };
        let mut found = None;
        for _ in 0..10 {
            found = Some(probes.tick(1000, [&open, &ORP], false).0.finding);
        }
        assert_eq!(found, Some(Finding::Open), "by the next check of the lead");
        let kept = probes.kept();
        probes.start(kept, Some(None));
        let (ph, _) = probes.tick(1000, [&sense(7.5), &ORP], false);
        assert_eq!(ph.trusted(), Some(MilliPh(7500)));
    }

    #[test]
    fn the_nearest_whole_number_is_that_of_round() {
        for half in -4001..4001 {
            for beside in [0.0, 1e-9, -1e-9, 0.25] {
                let value = f64::from(half) * 0.5 + beside;
                assert_eq!(nearest(value), value.round(), "{value}");
            }
        }
        for value in [0.499_999_999_999_999_94, 1e15 + 0.5, -8e15 - 1.0, 32_767.5] {
            assert_eq!(nearest(value), value.round(), "{value}");
        }
    }
}

//! A probe on the device's side: converter, check of the lead, checks, value.

use dosewarden::guard::units::Millivolts;
use dosewarden::guard::units::{Fitted, Millis};
use dosewarden::guard::{Health, Reading};
use dosewarden::probe::{
    Age, Buffer, BufferReading, Calibration, CentiCelsius, ConditionLimits, ConditionSpec,
    FrontReading, Lead, Microvolts, OrpSetup, PhSetup, ProbeInput, ReferenceCheck,
    ReferenceElectrode, Settling, Trim,
};

/// One count of a converter of 16 bits and 2.048 V full scale, uV.
const COUNT_UV: f64 = 62.5;
/// From one check of the lead to the next.
pub(crate) const CHECK_MS: u32 = 60_000;

pub(crate) fn ph_setup(spec: ConditionSpec) -> PhSetup {
    PhSetup {
        limits: ConditionLimits::try_new(spec).expect("limits"),
        sensor: Fitted::YES,
        assumed: CentiCelsius::from_whole(25),
        calibration_days_max: 90,
        trim_days_max: 30,
    }
}

pub(crate) fn orp_setup(spec: ConditionSpec) -> OrpSetup {
    OrpSetup {
        limits: ConditionLimits::try_new(spec).expect("limits"),
        electrode: ReferenceElectrode::SilverSaturated,
        check_days_max: Fitted::Fitted(90),
    }
}

/// A calibration whose slope is that of a perfect electrode.
pub(crate) fn perfect() -> Calibration {
    Calibration::restore(Microvolts(0), 1_000_000, Age::NEW).expect("in bounds")
}

pub(crate) fn checked() -> ReferenceCheck {
    ReferenceCheck {
        error: Millivolts(0),
        age: Age::NEW,
    }
}

pub(crate) const NO_TRIM: Trim = Trim::NONE;

/// Nernst's slope, uV, by floats and not by what is tested.
pub(crate) fn nernst_uv(celsius: f64) -> f64 {
    198.421_431 * (celsius + 273.15)
}

/// A reading that stood still at `uv`.
pub(crate) fn settled(uv: f64) -> Settling {
    let mut settling = Settling::NEW;
    for _ in 0..70 {
        settling.push(Microvolts(uv.round() as i32), Millis(1000));
    }
    settling
}

/// What an electrode reads in a buffer, and the reading taken.
pub(crate) fn in_buffer(
    buffer: Buffer,
    celsius: f64,
    slope: f64,
    zero_uv: f64,
) -> Result<BufferReading, dosewarden::probe::CalibrationRefused> {
    let temperature = CentiCelsius((celsius * 100.0).round() as i32);
    let ph = f64::from(buffer.ph(temperature).expect("in its table").0) / 1000.0;
    let uv = zero_uv + slope * nernst_uv(celsius) * (7.0 - ph);
    BufferReading::try_new(buffer, &settled(uv), temperature)
}

/// What the lead and the glass are like.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Wires {
    pub(crate) is_open: bool,
    pub(crate) is_dry: bool,
}

/// The converter and the circuit around it.
pub(crate) struct Circuit {
    /// The front end checks the lead.
    checks: bool,
    until_check_ms: u32,
    lead: Lead,
}

impl Circuit {
    /// The first check comes after `first_ms`.
    pub(crate) fn new(checks: bool, first_ms: u32) -> Self {
        Self {
            checks,
            until_check_ms: first_ms,
            lead: if checks {
                Lead::Intact
            } else {
                Lead::NotChecked
            },
        }
    }

    /// What is seen `dt_ms` after the last, of an electrode at `uv`; `is_shorted` as the bias
    /// finds it.
    pub(crate) fn seen(
        &mut self,
        dt_ms: u32,
        wires: &Wires,
        uv: f64,
        is_shorted: bool,
    ) -> FrontReading {
        if self.checks && self.until_check_ms <= dt_ms {
            self.until_check_ms += CHECK_MS;
            self.lead = match wires {
                _ if wires.is_open => Lead::Open,
                _ if is_shorted => Lead::Short,
                _ if wires.is_dry => Lead::HighResistance,
                _ => Lead::Intact,
            };
        }
        self.until_check_ms -= if self.checks { dt_ms } else { 0 };
        FrontReading {
            reading: Reading {
                value: Microvolts(((uv / COUNT_UV).round() * COUNT_UV).round() as i32),
                age: Millis(130),
                health: Health::Normal,
            },
            lead: self.lead,
            fault: None,
        }
    }
}

pub(crate) fn input(seen: FrontReading, celsius: f64, is_steady: bool) -> ProbeInput {
    ProbeInput {
        seen,
        temperature: Reading::now(CentiCelsius((celsius * 100.0).round() as i32)),
        is_steady,
    }
}

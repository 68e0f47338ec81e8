//! pH from the front end of a probe, and both probes as the core keeps them: filter, checks,
//! calibration. The potential of the ORP probe is still what the world says.

use core::fmt;

use dosewarden::guard::units::{Fitted, Millis};
use dosewarden::guard::{Health, Reading};
use dosewarden::probe::front::ads1x1x::{FullScaleRange, TargetAddr};
use dosewarden::probe::front::{
    Ads, Chip, Front, FrontError, FrontFault, FrontLimits, FrontSpec, Input, Lead, Microvolts,
};
use dosewarden::probe::{
    Age, Calibration, CentiCelsius, ConditionLimits, ConditionSpec, Finding, FrontReading,
    OrpProbe, OrpSetup, PhProbe, PhSetup, ProbeInput, ReferenceElectrode, Trim,
};

use crate::board::ProbeSource;
use crate::diary::Clock;
use crate::simulated_adc::{Bench, BiasPin, Bus, Wire};
use crate::site::{CHECKED_LIMITS, PROBE_AGE_MAX, WAKE_MS};
use crate::unit::Probes;
use crate::world::World;

/// A glass electrode of about 40 to 900 Mohm, biased through 10 Gohm to 1.25 V above its reference,
/// which stands on 1.25 V itself. Example figures; WIRING.md says where they come from.
const GLASS: FrontSpec = FrontSpec {
    full_scale_mv: 2048,
    offset_mv: 1250,
    gain_milli: 1000,
    low_mv: -500,
    high_mv: 500,
    open_at_mv: 700,
    moves_min_mv: Fitted::Fitted(3),
    moves_max_mv: 150,
    settle: Millis(1000),
    convert_max: Millis(300),
    poll_max: Millis(WAKE_MS),
    check_every: Millis::from_secs(30),
    age_max: PROBE_AGE_MAX,
};

/// What happens to the wires, and when.
struct Event {
    from_ms: u32,
    to_ms: u32,
    wire: Wire,
}

const fn at(hours: u32, minutes: u32, seconds: u32) -> u32 {
    let minutes = hours.saturating_mul(60).saturating_add(minutes);
    let seconds = minutes.saturating_mul(60).saturating_add(seconds);
    seconds.saturating_mul(1000)
}

/// The lead comes off in the middle of a dose; later its connector is wet, and then the chip does
/// not answer.
const EVENTS: [Event; 3] = [
    Event {
        from_ms: at(0, 56, 20),
        to_ms: at(1, 0, 20),
        wire: Wire::Off,
    },
    Event {
        from_ms: at(1, 15, 0),
        to_ms: at(1, 17, 0),
        wire: Wire::Wet,
    },
    Event {
        from_ms: at(1, 40, 0),
        to_ms: at(1, 40, 20),
        wire: Wire::NoChip,
    },
];

/// The electrodes of this world have no noise, by which a live one is told from one that stands still.
const PH_LIMITS: ConditionLimits = match ConditionLimits::try_new(ConditionSpec {
    age_max: PROBE_AGE_MAX,
    flat: Fitted::NotFitted,
    ..ConditionSpec::PH
}) {
    Ok(limits) => limits,
    Err(_) => panic!("limits of the pH probe contradict each other"),
};
const PH: PhSetup = PhSetup {
    limits: PH_LIMITS,
    sensor: Fitted::NotFitted,
    assumed: CentiCelsius::from_whole(25),
    calibration_days_max: 30,
    trim_days_max: 30,
};
/// Its lead is not checked: no front end stands before it.
const ORP_LIMITS: ConditionLimits = match ConditionLimits::try_new(ConditionSpec {
    age_max: PROBE_AGE_MAX,
    flat: Fitted::NotFitted,
    lead: Fitted::NotFitted,
    ..ConditionSpec::ORP
}) {
    Ok(limits) => limits,
    Err(_) => panic!("limits of the ORP probe contradict each other"),
};
const ORP: OrpSetup = OrpSetup {
    limits: ORP_LIMITS,
    electrode: ReferenceElectrode::SilverSaturated,
    check_days_max: Fitted::NotFitted,
};

/// As if it had just been calibrated in two buffers, and were perfect. **An example only**: a real
/// electrode has a slope and an offset of its own, and nothing is fed by one that was never calibrated.
fn perfect() -> Option<Calibration> {
    Calibration::restore(Microvolts(0), 1_000_000, Age::NEW).ok()
}

/// The probes: a front end on the simulated bus.
pub struct FrontProbes<'a> {
    bench: &'a Bench,
    front: Front<Ads<Bus<'a>>, BiasPin<'a>>,
    ph: PhProbe,
    orp: OrpProbe,
    at_ms: u32,
    /// How long water has flowed.
    flowed: Millis,
    now: Said,
    said: Option<Said>,
}

/// What is told of the pH probe.
type Said = (Lead, Option<FrontFault>, Finding, Health);

impl<'a> FrontProbes<'a> {
    /// On the bus of this bench.
    ///
    /// # Errors
    /// If the figures contradict each other.
    pub fn try_new(bench: &'a Bench) -> Result<Self, FrontError> {
        let chip = Chip::new_ads1115(bench.bus(), TargetAddr::Gnd);
        let ads = Ads::new(chip, Input::A0, FullScaleRange::Within2_048V);
        let front = Front::try_new(ads, bench.bias_pin(), FrontLimits::try_new(GLASS)?)?;
        Ok(Self {
            bench,
            front,
            ph: PhProbe::new(perfect(), Trim::NONE),
            orp: OrpProbe::new(None),
            at_ms: 0,
            flowed: Millis(0),
            now: (Lead::NotChecked, None, Finding::NeverRead, Health::Failure),
            said: None,
        })
    }
}

/// What a converter would give of the world's ORP.
fn of_world(world: &World) -> FrontReading {
    let orp = world.probes().orp;
    FrontReading {
        reading: Reading {
            value: Microvolts(orp.value.0.saturating_mul(1000)),
            age: orp.age,
            health: orp.health,
        },
        lead: Lead::NotChecked,
        fault: None,
    }
}

impl ProbeSource for FrontProbes<'_> {
    fn sample(&mut self, now_ms: u32, world: &World) {
        let at_ms = world.now_ms();
        let event = EVENTS
            .iter()
            .find(|event| (event.from_ms..event.to_ms).contains(&at_ms));
        let wire = event.map_or(Wire::Whole, |event| event.wire);
        self.bench.pass(now_ms, world.micro_ph(), wire);
        self.front.poll(now_ms);
    }

    fn read(&mut self, now_ms: u32, world: &World) -> Probes {
        let elapsed = Millis(now_ms.wrapping_sub(self.at_ms));
        self.at_ms = now_ms;
        self.flowed = if world.flow() {
            Millis(self.flowed.0.saturating_add(elapsed.0))
        } else {
            Millis(0)
        };
        let input = |seen| ProbeInput {
            seen,
            temperature: Reading::unknown(CentiCelsius(0)),
            is_steady: self.flowed >= CHECKED_LIMITS.spec().probe_settle,
        };
        let seen = self.front.read(now_ms);
        let ph = self.ph.tick(&PH, elapsed, &input(seen));
        let orp = self.orp.tick(&ORP, elapsed, &input(of_world(world)));
        self.now = (seen.lead, seen.fault, ph.finding, ph.reading.health);
        Probes {
            ph: ph.reading,
            orp: orp.reading,
        }
    }

    fn note(&mut self, world: &World, mut say: impl FnMut(fmt::Arguments<'_>)) {
        if self.said != Some(self.now) {
            let (lead, fault, finding, health) = self.now;
            let at = Clock(world.now_ms());
            say(format_args!(
                "{at}   pH probe: lead {lead:?}, fault {fault:?}, {finding:?}, {health:?}"
            ));
            self.said = Some(self.now);
        }
    }
}

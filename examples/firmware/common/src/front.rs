//! pH from the front end of a probe. ORP is still what the world says.

use core::fmt;

use dosewarden::guard::units::{Fitted, MilliPh, Millis};
use dosewarden::guard::{Health, Reading};
use dosewarden::probe::front::ads1x1x::{FullScaleRange, TargetAddr};
use dosewarden::probe::front::{
    Ads, Chip, Front, FrontError, FrontFault, FrontLimits, FrontSpec, Input, Lead, Microvolts,
};

use crate::board::ProbeSource;
use crate::diary::Clock;
use crate::simulated_adc::{Bench, BiasPin, Bus, Wire};
use crate::site::{PROBE_AGE_MAX, WAKE_MS};
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

/// The straight line through 7.000 at 0 mV with the Nernst slope at 25 C: R T ln 10 / F =
/// 59.160 mV a pH, from R = 8.314462618 J/(mol K) and F = 96485.33212 C/mol (CODATA 2018, exact
/// since the SI of 2019). **An example only**: a real electrode has a slope and an offset of its
/// own, and both are measured in two buffers.
#[must_use]
pub const fn ph_of(potential: Microvolts) -> MilliPh {
    const UV_A_PH: i32 = 59_160;
    // At most 500,000 uV, by the front end's range: no product here saturates.
    let scaled = potential.0.saturating_mul(1000);
    let half = if scaled < 0 {
        -UV_A_PH / 2
    } else {
        UV_A_PH / 2
    };
    let below_seven = scaled.saturating_add(half) / UV_A_PH;
    MilliPh(7000_i32.saturating_sub(below_seven))
}

const _: () = assert!(ph_of(Microvolts(0)).0 == 7000);
const _: () = assert!(ph_of(Microvolts(-59_160)).0 == 8000);
const _: () = assert!(ph_of(Microvolts(177_480)).0 == 4000);
const _: () = assert!(ph_of(Microvolts(29)).0 == 7000 && ph_of(Microvolts(30)).0 == 6999);
const _: () = assert!(ph_of(Microvolts(-29)).0 == 7000 && ph_of(Microvolts(-30)).0 == 7001);

/// The probes: a front end on the simulated bus.
pub struct FrontProbes<'a> {
    bench: &'a Bench,
    front: Front<Ads<Bus<'a>>, BiasPin<'a>>,
    now: (Lead, Option<FrontFault>, Health),
    said: Option<(Lead, Option<FrontFault>, Health)>,
}

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
            now: (Lead::NotChecked, None, Health::Failure),
            said: None,
        })
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
        let seen = self.front.read(now_ms);
        self.now = (seen.lead, seen.fault, seen.reading.health);
        Probes {
            ph: Reading {
                value: ph_of(seen.reading.value),
                age: seen.reading.age,
                health: seen.reading.health,
            },
            orp: world.probes().orp,
        }
    }

    fn note(&mut self, world: &World, mut say: impl FnMut(fmt::Arguments<'_>)) {
        if self.said != Some(self.now) {
            let (lead, fault, health) = self.now;
            let at = Clock(world.now_ms());
            say(format_args!(
                "{at}   pH probe: lead {lead:?}, fault {fault:?}, {health:?}"
            ));
            self.said = Some(self.now);
        }
    }
}

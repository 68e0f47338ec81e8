//! From a specification to a plant at rest.

use super::*;
use crate::water::nernst_mv_per_ph;

impl Plant {
    /// A plant at rest, its pump off and its drums as specified.
    ///
    /// # Errors
    /// What [`PlantSpec::validate`] finds.
    pub fn new(spec: PlantSpec, seed: u64) -> Result<Self, PlantError> {
        spec.validate()?;
        let mut bodies = Vec::new();
        for (i, body) in spec.bodies.iter().enumerate() {
            bodies.push(Basin::new(&format!("bodies[{i}]"), body)?);
        }
        let feeders: Vec<Feeder> = spec.feeders.iter().map(Feeder::new).collect();
        let first = spec.valves.map_or(0, |valves| valves.first);
        let water = bodies.get(first).map(|b| *b.truth()).unwrap_or_default();
        let celsius = bodies.get(first).map_or(25.0, Basin::temperature_c);
        let truth = Truth {
            now_ms: 0,
            dt_ms: 0,
            powered: false,
            mains: true,
            pump_due: false,
            pump_running: false,
            flow_l_min: 0.0,
            water_moving: false,
            body: first,
            sample_ph: water.ph,
            sample_orp_mv: water.orp_mv,
            dead_man_tripped: spec.dead_man_ms.is_some(),
            master_closed: false,
            faulty: false,
            closed: false,
            line: LineTruth::default(),
            bodies: bodies.iter().map(|b| *b.truth()).collect(),
            feeders: feeders.iter().map(Feeder::truth).collect(),
        };
        let mut plant = Self {
            noise: Noise::new(seed),
            faults: Faults::default(),
            valves: Valves::new(spec.valves),
            circulation: Circulation::new(&spec.circulation),
            line: ReturnLine::new(spec.circulation.line_volume_l),
            master: Relay::default(),
            master_welded: false,
            master_dead: false,
            dead_man_bridged: false,
            dipped: [None; 2],
            bather_factor: 1.0,
            timetable_off: false,
            kept_share: 1.0,
            sample_stands: false,
            faulty_elsewhere: false,
            since_kick_ms: u32::MAX,
            ph_probe: Probe::ph(&spec.ph_probe, water.ph, nernst_mv_per_ph(celsius)),
            orp_probe: Probe::orp(&spec.orp_probe, water.orp_mv),
            sample: SamplePath::new(
                spec.sample_delay_s,
                spec.circulation.flow_l_min,
                Sampled {
                    ph: water.ph,
                    orp_mv: water.orp_mv,
                },
            ),
            sample_share: 1.0,
            rain_mm_h: 0.0,
            shares_dt_ms: 0,
            mains: true,
            senses: at_rest(&spec),
            truth,
            bodies,
            feeders,
            spec,
        };
        plant.read_wiring(0);
        Ok(plant)
    }
}

/// What the wiring shows before anything ran.
fn at_rest(spec: &PlantSpec) -> Senses {
    Senses {
        flow_switch: false,
        flow_ml_s: spec.circulation.flow_meter.then_some(0.0),
        pump_contact: spec.circulation.pump_contact.then_some(false),
        ph: ProbeSense::default(),
        orp: ProbeSense::default(),
        feeders: [FeederSense::default(); MAX_FEEDERS],
        clock_minute: spec.start_min,
        clock_s: u32::from(spec.start_min) * 60,
        body: None,
        water_c: spec
            .bodies
            .get(spec.valves.map_or(0, |valves| valves.first))
            .map_or(25.0, |one| one.temperature.at(0)),
        mains: true,
    }
}

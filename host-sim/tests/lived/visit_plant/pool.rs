//! A pool that is lived in for some weeks with a known fault, and the log that a technician writes of it.

use std::fmt::Write;

use dosewarden_sim::explain::Explained;
use dosewarden_sim::plan::{HOME_POOL, Plan, Site};
use dosewarden_sim::plant::BodyTruth;
use dosewarden_sim::scenario::{Act, PersonAct, Poured};
use dosewarden_sim::visit::{Log, VisitResult};
use dosewarden_sim::{DosewardenUnit, Scenario, SimPool};

const DAY_MS: u64 = 86_400_000;
/// Between visits, days.
const EVERY: u64 = 7;

/// What is wrong with the pool.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Wrong {
    /// Real over configured rate of the acid feeder, less one.
    pub(crate) rate_off: f64,
    /// The pH probe shows so much too high.
    pub(crate) probe_off: f64,
    /// Acid of 31.45 % that comes from tablets each hour, mL.
    pub(crate) tablets_ml_h: u32,
}

/// A technician: totals as read from the unit, and errors of the tests.
struct Technician {
    text: String,
    /// What the unit said was in each drum when it was last read, uL.
    known: [u32; 2],
    /// Booked in all, uL.
    total: [u64; 2],
    chance: u64,
}

const NAMES: [&str; 2] = ["acid", "chlorine"];

impl Technician {
    /// Roughly normal with a deviation of 1, from a seed that stands.
    fn normal(&mut self) -> f64 {
        let mut sum = 0.0;
        for _ in 0..12 {
            self.chance = self
                .chance
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            sum += (self.chance >> 40) as f64 / f64::from(1 << 24);
        }
        sum - 6.0
    }

    fn row(&mut self, day: u64, row: &str) {
        let _ = writeln!(self.text, "2031-05-{:02} 10:00,{row}", day + 1);
    }

    fn left(pool: &SimPool<DosewardenUnit>, feeder: usize) -> u32 {
        let controller = pool.unit().controller().expect("it has power");
        let stock = controller.stock(feeder).expect("a drum");
        stock.left().map_or(0, |left| left.0)
    }

    fn act(pool: &mut SimPool<DosewardenUnit>, act: PersonAct) {
        pool.act(Act::Person(act));
        pool.run_for_ms(3_000);
    }

    /// Reads, fills and tests, and makes up alkalinity.
    fn visit(&mut self, pool: &mut SimPool<DosewardenUnit>, day: u64) {
        for (feeder, name) in NAMES.iter().enumerate() {
            let left = Self::left(pool, feeder);
            self.total[feeder] += u64::from(self.known[feeder].saturating_sub(left));
            let total = self.total[feeder] as f64 / 1e6;
            // To 0.1 L, as a drum's scale is read.
            let level = pool.truth().feeders[feeder].drum / 1e6 + 0.05 * self.normal();
            self.row(day, &format!("fed,{name},{total:.3} L,"));
            self.row(day, &format!("level,{name},{:.1} L,", level.max(0.0)));
            Self::act(pool, PersonAct::Refill(feeder));
            let read = PersonAct::ReadLevel {
                feeder,
                level: None,
            };
            Self::act(pool, read);
            self.known[feeder] = Self::left(pool, feeder);
            let full = pool.truth().feeders[feeder].drum / 1e6 + 0.05 * self.normal();
            self.row(day, &format!("filled,{name},{full:.1} L,"));
        }
        let water = pool.truth().bodies[0];
        let ph = water.ph + 0.05 * self.normal();
        let alkalinity = water.alkalinity_mg_l + 3.0 * self.normal();
        let chlorine = (water.free_chlorine_mg_l + 0.1 * self.normal()).max(0.0);
        self.row(day, &format!("test,ph,pH {ph:.2},"));
        self.row(day, &format!("test,alkalinity,{alkalinity:.0} mg/L,"));
        self.row(day, &format!("test,free_chlorine,{chlorine:.1} mg/L,"));
        self.row(
            day,
            &format!("test,temperature,{:.1} C,", water.temperature_c),
        );
        let status = *pool.status();
        let shown = status.ph.map_or(0.0, |ph| f64::from(ph) / 1000.0);
        self.row(day, &format!("shows,ph,pH {shown:.2},"));
        self.row(day, &format!("shows,orp,{} mV,", status.orp.unwrap_or(0)));
        if alkalinity < 80.0 {
            let grams = ((90.0 - alkalinity) * 1.68 * water.amounts.water_l / 1000.0).round();
            let pour = PersonAct::Pour {
                what: Poured::Bicarbonate,
                amount: grams as u32,
            };
            Self::act(pool, pour);
            Self::act(pool, PersonAct::Pause(1_800_000));
            self.row(day, &format!("hand,bicarbonate,{grams:.0} g,"));
        }
    }
}

/// What was lived.
pub(crate) struct Lived {
    /// The technician's log.
    pub(crate) text: String,
    /// The water as each visit found it.
    pub(crate) truths: Vec<BodyTruth>,
}

/// The planned home pool, lived for so many weeks after the first visit on day 3.
pub(crate) fn live(wrong: Wrong, weeks: u64, seed: u64) -> Lived {
    // Ticks as long as the limits allow: half the time.
    let planned = plan()
        .1
        .scenario
        .replacen("tick = \"1 s\"", "tick = \"2 s\"", 1);
    let mut scenario = Scenario::parse("planned.toml", &planned).expect("it runs");
    scenario
        .events
        .retain(|event| !matches!(event.act, Act::Visit(_)));
    scenario.plant.feeders[0].rate_factor = 1.0 + wrong.rate_off;
    scenario.plant.ph_probe.offset = wrong.probe_off;
    scenario.seed = seed;
    let unit = DosewardenUnit::for_scenario(&scenario);
    let mut pool = SimPool::attach(&scenario, unit).expect("a sound plant");
    let mut technician = Technician {
        text: "time,what,of,value,with\n".to_owned(),
        known: [0; 2],
        total: [0; 2],
        chance: seed,
    };
    let mut truths = Vec::new();
    let mut next = 2;
    while next <= 2 + EVERY * weeks {
        let at_ms = next * DAY_MS + 10 * 3_600_000;
        while pool.clock_ms() < at_ms {
            let rest = at_ms - pool.clock_ms();
            pool.run_for_ms(rest.min(3_600_000));
            if wrong.tablets_ml_h > 0 {
                let pour = PersonAct::Pour {
                    what: Poured::Acid,
                    amount: wrong.tablets_ml_h,
                };
                pool.act(Act::Person(pour));
            }
        }
        truths.push(pool.truth().bodies[0]);
        technician.visit(&mut pool, next);
        next += EVERY;
    }
    Lived {
        text: technician.text,
        truths,
    }
}

pub(crate) fn plan() -> (Site, Plan) {
    let site = Site::parse("site.toml", HOME_POOL).expect("a sound site");
    let plan = Plan::of(&site).expect("a plan");
    (site, plan)
}

pub(crate) fn found(text: &str) -> VisitResult {
    let (site, plan) = plan();
    let log = Log::parse("log.csv", text, &site, &plan).unwrap_or_else(|error| panic!("{error}"));
    VisitResult::of(&site, &plan, &log)
}

/// From the first visit to the last.
pub(crate) fn explained(text: &str) -> Explained {
    let (site, plan) = plan();
    let log = Log::parse("log.csv", text, &site, &plan).unwrap_or_else(|error| panic!("{error}"));
    let (first, last) = (&log.visits[0].time, &log.now().time);
    Explained::of(&site, &plan, &log, first, last).unwrap_or_else(|error| panic!("{error}"))
}

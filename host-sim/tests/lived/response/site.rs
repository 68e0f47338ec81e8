//! Two sites of our own: the first pool with the cycle and hold that we advise, and a spa whose jets
//! lift pH by about 0.19 an hour.

use dosewarden_sim::Scenario;
use dosewarden_sim::plan::{Custom, HOTEL_SPA, Plan, PoolKind, Site};
use dosewarden_sim::scenario::FIRST_POOL;
use dosewarden_sim::water::{Reagent, WaterTest};

fn replaced(text: &str, changes: &[(&str, &str)]) -> String {
    let mut text = text.to_owned();
    for (from, to) in changes {
        assert!(text.contains(from), "{from} is not in the scenario");
        text = text.replacen(from, to, 1);
    }
    text
}

/// The first pool without its events: begun by a technician, in full caps at once.
fn begun(changes: &[(&str, &str)], visits: &str) -> String {
    let end = FIRST_POOL.find("[[event]]").expect("it has events");
    let mut text = replaced(&FIRST_POOL[..end], changes);
    for (at, person, more) in [
        ("00:10", "initialise", ""),
        ("00:11", "full_stage", ""),
        ("00:12", "read_level", "feeder = \"acid\""),
        ("00:13", "read_level", "feeder = \"chlorine\""),
    ] {
        text.push_str(&format!(
            "[[event]]\nat = \"day 1 {at}\"\nperson = \"{person}\"\n{more}\n"
        ));
    }
    text + visits
}

fn read(text: &str, ratio: f64, seed: u64, days: u32) -> Scenario {
    // Visits fall within the days of the file.
    let text = replaced(text, &[("days = 7 ", &format!("days = {days} "))]);
    let mut scenario = Scenario::parse("site.toml", &text).unwrap_or_else(|e| panic!("{e}"));
    scenario.plant.feeders[0].rate_factor = ratio;
    scenario.seed = seed;
    scenario
}

/// The water of a site as it was tested when it was commissioned.
struct Commissioned {
    test: WaterTest,
    volume_l: f64,
    mol_per_l: f64,
    /// Of the hypochlorite, which has 0.15 mol/L of free alkali besides.
    g_per_l: f64,
}

impl Commissioned {
    /// mL of acid that lower pH by 0.1, from 0.05 over this pH to 0.05 under it.
    fn per_tenth(&self, ph: f64) -> f64 {
        let test = WaterTest {
            ph: ph + 0.05,
            ..self.test
        };
        let water = test.water().expect("a sound test");
        let wanted = water
            .equilibrium()
            .to_reach(&water, ph - 0.05, Reagent::HYDROCHLORIC);
        wanted.expect("within reach") * self.volume_l / self.mol_per_l * 1000.0
    }

    /// By how much a litre of hypochlorite raises pH 7.4.
    fn a_litre_raises(&self) -> f64 {
        let test = WaterTest {
            ph: 7.4,
            ..self.test
        };
        let water = test.water().expect("a sound test");
        let with = water
            .with(Reagent::HYPOCHLORITE, self.g_per_l / 70.906 / self.volume_l)
            .with(Reagent::HYDROXIDE, 0.15 / self.volume_l);
        with.ph() - 7.4
    }

    /// What a check of the acid feeder says, before its regulator.
    fn check(&self, settle: &str) -> String {
        let dose = self.per_tenth(7.4);
        // Half the logarithm of their ratio, as a series.
        let (low, high) = (self.per_tenth(7.3), self.per_tenth(7.5));
        let part = (low - high) / (low + high);
        let more = part + part * part * part / 3.0;
        format!(
            "[feeder.check]\nlevel_error = \"0.3 L\"\n\n[feeder.check.response]\n\
             dose = \"{dose:.1} mL\"\nmoves = \"pH 0.1\"\nat = \"pH 7.4\"\n\
             more_per_tenth = \"{:.0} %\"\nerror = \"20 %\"\nsettle = \"{settle}\"\n\
             learns = false\n\n[feeder.check.response.hypochlorite]\ndose = \"1 L\"\n\
             raises = \"pH {:.3}\"\n\n[feeder.check.response.water]\nalkalinity = \"{} mg/L\"\n\
             cyanuric_acid = \"{} mg/L\"\nborate = \"{} mg/L\"\ndissolved = \"{} mg/L\"\n\
             temperature = \"{} C\"\n\n[feeder.regulator]",
            more * 100.0,
            self.a_litre_raises(),
            self.test.ta_mg_l,
            self.test.cya_mg_l,
            self.test.borate_mg_l,
            self.test.tds_mg_l,
            self.test.temp_c,
        )
    }
}

const POOL: Commissioned = Commissioned {
    test: WaterTest {
        temp_c: 27.0,
        ta_mg_l: 100.0,
        ca_mg_l: 250.0,
        tds_mg_l: 1000.0,
        ph: 7.4,
        cya_mg_l: 25.0,
        borate_mg_l: 0.0,
        chlorine_mg_l: 1.2,
    },
    volume_l: 95_000.0,
    mol_per_l: 9.971,
    g_per_l: 125.0,
};

const SPA: Commissioned = Commissioned {
    test: WaterTest {
        temp_c: 37.0,
        cya_mg_l: 0.0,
        chlorine_mg_l: 3.0,
        ..POOL.test
    },
    volume_l: 4000.0,
    mol_per_l: 2.0,
    g_per_l: 30.0,
};

/// Somebody comes each week, fills up and brings alkalinity back. The unit is not told of the tests: what is shown
/// here is what the water's answers alone tell.
const WEEKLY: &str = "[[visit]]\nfirst = \"day 8 10:00\"\nevery = \"7 days\"\nrefill = [\"acid\", \"chlorine\"]\n\
         alkalinity_to = \"100 mg/L\"\nalkalinity_error = \"4 mg/L\"\nenters = false\n";

/// An open-air pool of 95 m3, visited each week. The dose for 0.1 pH is that of its
/// water by exact chemistry at the set point.
pub(crate) fn pool(ratio: f64, seed: u64, days: u32) -> Scenario {
    let check = POOL.check("10 min");
    let text = begun(
        &[
            ("[feeder.regulator]", &check),
            (
                "[feeder.limits.cutoff]",
                "[feeder.check]\nlevel_error = \"0.5 L\"\n\n[feeder.limits.cutoff]",
            ),
            ("answer_max = \"pH 0.25\"", "answer_max = \"pH 1\""),
            ("cycle_cap = \"60 mL\"", "cycle_cap = \"220 mL\""),
            ("slice_max = \"60 mL\"", "slice_max = \"220 mL\""),
            ("run_max = \"3 min\"", "run_max = \"5 min\""),
            ("hour_cap = \"240 mL\"", "hour_cap = \"440 mL\""),
            ("spread_hold = \"10 min\"", "spread_hold = \"30 min\""),
        ],
        WEEKLY,
    );
    read(&text, ratio, seed, days)
}

/// The same pool with the small doses and short hold of the scenario that it comes from.
pub(crate) fn small_doses(ratio: f64, seed: u64, days: u32) -> Scenario {
    let check = POOL.check("4 min");
    let text = begun(
        &[
            ("[feeder.regulator]", &check),
            ("answer_max = \"pH 0.25\"", "answer_max = \"pH 1\""),
        ],
        WEEKLY,
    );
    read(&text, ratio, seed, days)
}

/// A spa of 4 m3 at 37 C with jets, visited each day.
pub(crate) fn spa(ratio: f64, seed: u64, days: u32) -> Scenario {
    let check = SPA.check("4 min");
    // Jets and a dose of chlorine together lift pH by more than a pool's 0.15.
    let wrong_way = Custom::of(PoolKind::Spa).wrong_way_ph;
    let wrong_way = format!("wrong_way_max = \"pH {wrong_way}\"");
    let text = begun(
        &[
            ("volume = \"95 m3\"", "volume = \"4 m3\""),
            ("depth = \"1.5 m\"", "depth = \"0.9 m\""),
            ("co2_transfer = \"2 cm/h\"", "co2_transfer = \"9 cm/h\""),
            ("sun_loss = \"100 %/h\"", "sun_loss = \"0 %/h\""),
            ("other_loss = \"0.5 %/h\"", "other_loss = \"8 %/h\""),
            ("bathers = 14", "bathers = 12"),
            ("ph = \"pH 7.7\"", "ph = \"pH 7.6\""),
            ("mean = \"27 C\"", "mean = \"37 C\""),
            ("exchange = \"45 min\"", "exchange = \"10 min\""),
            ("cyanuric_acid = \"25 mg/L\"", "cyanuric_acid = \"0 mg/L\""),
            ("free_chlorine = \"1.2 mg/L\"", "free_chlorine = \"3 mg/L\""),
            ("evaporation = \"4 mm/day\"", "evaporation = \"10 mm/day\""),
            ("lost = \"80 L/day\"", "lost = \"400 L/day\""),
            ("strength = \"9.971 mol/L\"", "strength = \"2 mol/L\""),
            ("[feeder.regulator]", &check),
            ("dose = \"220 mL\"", "dose = \"45 mL\""),
            ("answer_max = \"pH 0.25\"", "answer_max = \"pH 1.5\""),
            ("wrong_way_max = \"pH 0.15\"", &wrong_way),
            ("rate = \"60 mL/min\"", "rate = \"30 mL/min\""),
            ("cycle_cap = \"60 mL\"", "cycle_cap = \"45 mL\""),
            ("slice_max = \"60 mL\"", "slice_max = \"45 mL\""),
            ("day_cap = \"900 mL\"", "day_cap = \"3600 mL\""),
            ("strength = \"125 g/L\"", "strength = \"30 g/L\""),
            ("set_point = \"720 mV\"", "set_point = \"800 mV\""),
            ("rate = \"80 mL/min\"", "rate = \"40 mL/min\""),
            ("dose = \"400 mL\"", "dose = \"150 mL\""),
            ("orp = \"780 mV\"", "orp = \"850 mV\""),
            ("orp_low = \"680 mV\"", "orp_low = \"700 mV\""),
            ("orp_high = \"800 mV\"", "orp_high = \"860 mV\""),
        ],
        "[[visit]]\nfirst = \"day 2 10:00\"\nevery = \"1 day\"\nrefill = [\"acid\", \"chlorine\"]\n\
         alkalinity_to = \"100 mg/L\"\nalkalinity_error = \"4 mg/L\"\nenters = false\n",
    );
    read(&text, ratio, seed, days)
}

/// The example spa as planned, visited once a week while people bathe: chlorine is fed between doses of
/// acid, and used while they run.
pub(crate) fn busy_spa(ratio: f64, seed: u64, days: u32) -> Scenario {
    let site = Site::parse("hotel-spa.toml", HOTEL_SPA).unwrap_or_else(|error| panic!("{error}"));
    let plan = Plan::of(&site).unwrap_or_else(|error| panic!("{error}"));
    // The checks of the interlocks fall on later days than these.
    let end = plan
        .scenario
        .find("[[event]]\nat = \"day 29")
        .expect("it has proof rounds");
    let visit = plan.scenario.find("[[visit]]").expect("it has visits");
    let text = plan.scenario[..end].to_owned() + &plan.scenario[visit..];
    let text = replaced(
        &text,
        &[
            ("days = 60\n", &format!("days = {days}\n")),
            ("first = \"day 5 08:00\"", "first = \"day 5 10:00\""),
        ],
    );
    let mut scenario = Scenario::parse("site.toml", &text).unwrap_or_else(|e| panic!("{e}"));
    scenario.plant.feeders[0].rate_factor = ratio;
    scenario.seed = seed;
    scenario
}

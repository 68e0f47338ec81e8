//! How long each of the plant's probe faults goes unseen, measured, and compared with the table in
//! the docs.

use dosewarden::guard::units::Millis;
use dosewarden::guard::{Health, Reading};
use dosewarden::probe::{
    CentiCelsius, ConditionSpec, Finding, FrontReading, Lead, Microvolts, OrpProbe, PhProbe,
    ProbeInput,
};
use dosewarden_sim::plant::{LoneProbe, ProbeFault, ProbeId, ProbeSpec};

use crate::rig::{Circuit, NO_TRIM, checked, input, nernst_uv, orp_setup, perfect, ph_setup};
use crate::water::{self, Water};
use crate::wires;

/// Starts a quarter of an hour before a dose of acid, on a day in summer.
const FROM_S: u32 = 150 * 86_400 + 35_100;
const WARM_UP_S: u32 = 600;
const WATCHED_S: u32 = 24 * 3600;

/// What goes wrong.
#[derive(Clone, Copy)]
enum Wrong {
    /// With the probe.
    Plant(ProbeFault),
    /// A short in water 0.4 pH lower, near 7, so that it is no jump.
    ShortNearSeven,
    /// The converter gives no new sample.
    NoSample,
    /// It gives the last one again, as new.
    SameAsNew,
    /// Its stamps are ahead by a minute.
    Ahead,
    /// The other probe's potential comes.
    Swapped,
    /// Temperature reads so much too high, K.
    TooWarm(f64),
}

/// Ends a watch: what was found, and after how long, s.
type Seen = Option<(Finding, u32)>;

struct Watch {
    id: ProbeId,
    checks: bool,
    wrong: Wrong,
    seed: u64,
}

impl Watch {
    fn run(&self) -> Seen {
        let (lag_s, noise) = match self.id {
            ProbeId::Ph => (15.0, 0.005),
            ProbeId::Orp => (60.0, 1.0),
        };
        let spec = ProbeSpec {
            lag_s,
            noise,
            offset: 0.0,
        };
        let lower = if matches!(self.wrong, Wrong::ShortNearSeven) {
            0.4
        } else {
            0.0
        };
        let value = |water: &Water| match self.id {
            ProbeId::Ph => water.ph - lower,
            ProbeId::Orp => water.orp_mv,
        };
        // So that checks of the lead fall differently with each seed.
        let mut circuit = Circuit::new(self.checks, 12_000 * (self.seed as u32 + 1));
        let mut plant = LoneProbe::new(self.id, &spec, value(&water::at(FROM_S)), self.seed);
        let mut unit = Unit::new(self.id, self.checks);
        let mut kept: Option<FrontReading> = None;
        for s in 1..=WARM_UP_S + WATCHED_S {
            let water = water::at(FROM_S + s);
            let on = s > WARM_UP_S;
            if s == WARM_UP_S + 1 {
                match self.wrong {
                    Wrong::Plant(fault) => plant.set_fault(fault),
                    Wrong::ShortNearSeven => plant.set_fault(ProbeFault::Shorted),
                    _ => {}
                }
            }
            let sense = plant.step(1000, value(&water));
            let uv = match self.id {
                ProbeId::Ph => (7.0 - sense.value) * nernst_uv(water.celsius),
                ProbeId::Orp => sense.value * 1000.0,
            };
            // The bias finds a short of the glass electrode only.
            let short = on && self.id == ProbeId::Ph && self.is_shorted();
            let mut seen = circuit.seen(1000, &wires(&sense), uv, short);
            let mut celsius = water.celsius;
            if on {
                let last = kept.get_or_insert(seen);
                seen = self.distorted(seen, last);
                if let Wrong::TooWarm(by) = self.wrong {
                    celsius += by;
                }
            }
            let finding = unit.tick(&input(seen, celsius, water.is_steady));
            if !on {
                assert!(finding == Finding::Fine || s < 120, "{finding:?} before");
            } else if finding != Finding::Fine {
                return Some((finding, s - WARM_UP_S));
            }
        }
        None
    }

    fn is_shorted(&self) -> bool {
        matches!(
            self.wrong,
            Wrong::ShortNearSeven | Wrong::Plant(ProbeFault::Shorted)
        )
    }

    fn distorted(&self, seen: FrontReading, last: &mut FrontReading) -> FrontReading {
        match self.wrong {
            Wrong::Plant(_) | Wrong::ShortNearSeven | Wrong::TooWarm(_) => seen,
            Wrong::NoSample => {
                last.reading.age.0 += 1000;
                *last
            }
            Wrong::SameAsNew => *last,
            Wrong::Ahead => FrontReading::stamped(0, 60_000, seen.reading.value, seen.lead),
            Wrong::Swapped => {
                let other = match self.id {
                    ProbeId::Ph => 690_000,
                    ProbeId::Orp => -30_000,
                };
                let value = Microvolts(other);
                let age = Millis(130);
                let health = Health::Normal;
                FrontReading {
                    reading: Reading { value, age, health },
                    lead: Lead::Intact,
                    fault: None,
                }
            }
        }
    }
}

enum Unit {
    Ph(PhProbe, dosewarden::probe::PhSetup),
    Orp(OrpProbe, dosewarden::probe::OrpSetup),
}

impl Unit {
    fn new(id: ProbeId, checks: bool) -> Self {
        let of = |mut spec: ConditionSpec| {
            if !checks {
                spec.lead = dosewarden::guard::units::Fitted::NotFitted;
            }
            spec
        };
        match id {
            ProbeId::Ph => Self::Ph(
                PhProbe::new(Some(perfect()), NO_TRIM),
                ph_setup(of(ConditionSpec::PH)),
            ),
            ProbeId::Orp => Self::Orp(
                OrpProbe::new(Some(checked())),
                orp_setup(of(ConditionSpec::ORP)),
            ),
        }
    }

    fn tick(&mut self, input: &ProbeInput) -> Finding {
        let second = Millis(1000);
        match self {
            Self::Ph(probe, setup) => probe.tick(setup, second, input).finding,
            Self::Orp(probe, setup) => probe.tick(setup, second, input).finding,
        }
    }
}

/// The slowest of five seeds, as the table says it.
fn cell(id: ProbeId, checks: bool, wrong: Wrong) -> String {
    let mut worst: Option<(Finding, u32)> = Some((Finding::Fine, 0));
    for seed in 0..5 {
        let watch = Watch {
            id,
            checks,
            wrong,
            seed,
        };
        worst = match (worst, watch.run()) {
            (Some(worst), Some(seen)) => Some(if seen.1 > worst.1 { seen } else { worst }),
            _ => None,
        };
    }
    match worst {
        None => "not seen".into(),
        Some((finding, s)) => format!("{finding:?}, {s} s"),
    }
}

/// What goes wrong with pH, and with ORP.
fn rows() -> [(&'static str, Wrong, Wrong); 15] {
    let plant = Wrong::Plant;
    [
        (
            "lead open",
            plant(ProbeFault::Open),
            plant(ProbeFault::Open),
        ),
        (
            "shorted",
            plant(ProbeFault::Shorted),
            plant(ProbeFault::Shorted),
        ),
        (
            "shorted, pH of the water near 7",
            Wrong::ShortNearSeven,
            Wrong::ShortNearSeven,
        ),
        (
            "input stuck",
            plant(ProbeFault::Frozen),
            plant(ProbeFault::Frozen),
        ),
        (
            "dried out",
            plant(ProbeFault::Dried),
            plant(ProbeFault::Dried),
        ),
        (
            "step of 0.5 pH or 100 mV",
            plant(ProbeFault::Offset(0.5)),
            plant(ProbeFault::Offset(100.0)),
        ),
        (
            "noise of 0.1 pH or 20 mV",
            plant(ProbeFault::Noise(0.1)),
            plant(ProbeFault::Noise(20.0)),
        ),
        ("no new samples", Wrong::NoSample, Wrong::NoSample),
        (
            "one sample given as new",
            Wrong::SameAsNew,
            Wrong::SameAsNew,
        ),
        ("stamps from the future", Wrong::Ahead, Wrong::Ahead),
        ("pH and ORP swapped", Wrong::Swapped, Wrong::Swapped),
        (
            "temperature 40 K too high",
            Wrong::TooWarm(40.0),
            Wrong::TooWarm(40.0),
        ),
        (
            "drift of 0.5 pH or 50 mV a day",
            plant(ProbeFault::Drift(0.5)),
            plant(ProbeFault::Drift(50.0)),
        ),
        (
            "lag 30 times",
            plant(ProbeFault::Sluggish(30.0)),
            plant(ProbeFault::Sluggish(30.0)),
        ),
        (
            "slope down to 80 %",
            plant(ProbeFault::Slope(0.8)),
            plant(ProbeFault::Slope(0.8)),
        ),
    ]
}

fn measured() -> String {
    let mut table = String::from(
        "| fault | pH, lead checked | pH, lead not checked | ORP, lead checked |\n|---|---|---|---|\n",
    );
    for (name, ph, orp) in rows() {
        let cells = [
            cell(ProbeId::Ph, true, ph),
            cell(ProbeId::Ph, false, ph),
            cell(ProbeId::Orp, true, orp),
        ];
        table.push_str(&format!("| {name} | {} |\n", cells.join(" | ")));
    }
    table
}

#[test]
fn delays_are_what_the_docs_say() {
    let docs = include_str!("../../../core/src/probe/delays.md");
    let measured = measured();
    assert!(
        docs.contains(&measured),
        "core/src/probe/delays.md does not hold what is measured:\n{measured}"
    );
}

/// A spike is no failure: it never reaches the value, whatever it does to noise.
#[test]
fn spikes_do_not_move_the_value() {
    let spec = ProbeSpec {
        lag_s: 15.0,
        noise: 0.005,
        offset: 0.0,
    };
    let mut plant = LoneProbe::new(ProbeId::Ph, &spec, 7.5, 3);
    plant.set_fault(ProbeFault::Spikes(2.0));
    let mut circuit = Circuit::new(true, 1000);
    let mut unit = PhProbe::new(Some(perfect()), NO_TRIM);
    let setup = ph_setup(ConditionSpec::PH);
    for _ in 0..20_000 {
        let sense = plant.step(1000, 7.5);
        let seen = circuit.seen(
            1000,
            &wires(&sense),
            (7.0 - sense.value) * nernst_uv(25.0),
            false,
        );
        let out = unit.tick(&setup, Millis(1000), &input(seen, 25.0, true));
        assert_eq!(out.finding, Finding::Fine);
        assert!((out.reading.value.0 - 7500).abs() < 20, "{out:?}");
    }
}

/// A plausible wrong temperature is not seen; what bounds it is how little it does near 7.
#[test]
fn ten_kelvin_too_warm_is_under_0_02_ph_at_7_5() {
    let mut unit = PhProbe::new(Some(perfect()), NO_TRIM);
    let mut circuit = Circuit::new(true, 1000);
    let sense = dosewarden_sim::plant::ProbeSense::default();
    let setup = ph_setup(ConditionSpec::PH);
    let mut ph = |celsius| {
        let seen = circuit.seen(1000, &wires(&sense), -0.5 * nernst_uv(25.0), false);
        let out = unit.tick(&setup, Millis(1000), &input(seen, celsius, true));
        (out.reading.value.0, out.finding)
    };
    assert_eq!(ph(25.0), (7500, Finding::Fine));
    let (warm, finding) = ph(35.0);
    assert!(
        (warm - 7484).abs() <= 1 && finding == Finding::Fine,
        "{warm}"
    );
    assert_eq!(
        ph(51.0),
        (7500, Finding::Temperature),
        "the assumed 25 C counts"
    );
    let mut input = input(FrontReading::NEVER, 0.0, true);
    input.temperature = Reading::unknown(CentiCelsius(0));
    assert_eq!(
        unit.tick(&setup, Millis(1000), &input).finding,
        Finding::NeverRead
    );
}

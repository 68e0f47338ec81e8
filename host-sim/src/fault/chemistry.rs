//! Faults of the water and of products.

use super::{
    Fault, Injection, Lasts, Parts, Place, Usual, acts, at_feeder, changed, even, into_first,
    later, plant, step,
};
use crate::plant::{CornerSpec, FeederFault, PlantFault, PlasterSpec};
use crate::scenario::{Act, Poured, Scenario, ToBody};

const USUAL: Usual = Usual {
    parts: Parts::Site,
    lasts: Lasts::ToTheEnd,
};

const fn liquid(fault: Fault) -> Fault {
    fault.about(Parts::Liquids)
}

/// An hour, ms.
const HOUR_MS: u64 = 3_600_000;

pub(super) const FAULTS: [Fault; 13] = [
    liquid(USUAL.fault("C1", "drum empty", "the drum", |place| {
        at_feeder(place, FeederFault::DrumEmpty)
    })),
    liquid(USUAL.fault(
        "C2",
        "wrong product in the drum",
        "what the feeder gives",
        |place| at_feeder(place, FeederFault::WrongProduct),
    )),
    liquid(USUAL.fault(
        "C3",
        "strength decayed or doubled",
        "the drum's product: 80 to 30 % of it at 0 to 0.5, 1.3 to 2 times above",
        |place| {
            let s = place.severity;
            let times = if s <= 0.5 {
                0.8 - s
            } else {
                1.3 + 1.4 * (s - 0.5)
            };
            at_feeder(place, FeederFault::Strength(times))
        },
    )),
    USUAL.fault(
        "C4",
        "alkalinity very low",
        "the water at the start: 50 to 20 mg/L",
        |place| changed(alkalinity, even(place, 50.0, 20.0)),
    ),
    USUAL.fault(
        "C5",
        "alkalinity very high",
        "the water at the start: 180 to 350 mg/L",
        |place| changed(alkalinity, even(place, 180.0, 350.0)),
    ),
    USUAL.fault(
        "C6",
        "cyanurate step",
        "cyanuric acid poured in, 30 to 150 mg/L",
        |place| pour(place, Poured::CyanuricAcid, even(place, 30.0, 150.0)),
    ),
    USUAL.fault(
        "C7",
        "new plaster",
        "the basin: alkalinity of 5 to 25 mg/L dissolves on the first day",
        |place| changed(plaster, even(place, 5.0, 25.0)),
    ),
    Fault {
        lasts: Lasts::For(8 * HOUR_MS),
        ..USUAL.fault(
            "C8",
            "bather load",
            "bathers' demand: 3 to 20 times",
            |place| plant(PlantFault::BatherLoad(super::by_ratio(place, 3.0, 20.0))),
        )
    },
    Fault {
        lasts: Lasts::Once,
        ..USUAL.fault(
            "C9",
            "dilution by refill or rain",
            "10 to 50 % of the water",
            |place| {
                let litres = litres(place.scenario) * even(place, 0.1, 0.5);
                let what = ToBody::ExchangeWater(litres as u32);
                acts([step(into_first(place.scenario, what))], Vec::new())
            },
        )
    },
    USUAL.fault(
        "C10",
        "sunlight",
        "loss at noon of what cyanurate does not hold: 150 to 400 % an hour",
        |place| changed(sun, even(place, 1.5, 4.0)),
    ),
    USUAL.fault(
        "C11",
        "poor mixing",
        "a slow corner: 15 to 45 % of the water",
        |place| changed(corner, even(place, 0.15, 0.45)),
    ),
    USUAL.fault(
        "C12",
        "the same chemical from a second source",
        "acid tablets: 0.2 to 1.5 mL of 31.45 % acid a m3 each hour of a day",
        |place| {
            let ml = litres(place.scenario) / 1000.0 * even(place, 0.2, 1.5);
            let each = |n: u64| later(n * HOUR_MS, poured(place, Poured::Acid, ml));
            acts(
                core::array::from_fn::<_, 24, _>(|n| each(n as u64)),
                Vec::new(),
            )
        },
    ),
    USUAL.fault(
        "C13",
        "alkalinity run down by weeks of acid",
        "the water at the start: 60 to 30 mg/L in a pool that loses much CO2",
        |place| changed(run_down, even(place, 60.0, 30.0)),
    ),
];

fn litres(scenario: &Scenario) -> f64 {
    scenario
        .plant
        .bodies
        .first()
        .map_or(0.0, |body| body.volume_m3 * 1000.0)
}

fn poured(place: &Place<'_>, what: Poured, amount: f64) -> Act {
    let amount = amount.round().max(1.0) as u32;
    into_first(place.scenario, ToBody::Pour { what, amount })
}

/// Something solid, by what it adds in mg/L.
fn pour(place: &Place<'_>, what: Poured, mg_l: f64) -> Result<Injection, &'static str> {
    let grams = litres(place.scenario) * mg_l / 1000.0;
    acts([step(poured(place, what, grams))], Vec::new())
}

fn alkalinity(scenario: &mut Scenario, mg_l: f64) {
    for body in &mut scenario.plant.bodies {
        body.water.alkalinity_mg_l = mg_l;
    }
}

fn run_down(scenario: &mut Scenario, mg_l: f64) {
    alkalinity(scenario, mg_l);
    for body in &mut scenario.plant.bodies {
        body.co2_transfer_cm_h = body.co2_transfer_cm_h.max(4.0);
    }
}

fn plaster(scenario: &mut Scenario, mg_l_day: f64) {
    for body in &mut scenario.plant.bodies {
        // 50 mg/L as CaCO3 are 1 meq/L, and a meq/L in a m3 is an eq.
        body.plaster = Some(PlasterSpec {
            first_eq_day: mg_l_day / 50.04 * body.volume_m3,
            days: 28.0,
        });
    }
}

fn sun(scenario: &mut Scenario, per_h: f64) {
    for body in &mut scenario.plant.bodies {
        body.sun_peak_per_h = per_h;
    }
}

fn corner(scenario: &mut Scenario, share: f64) {
    for body in &mut scenario.plant.bodies {
        body.corner = Some(CornerSpec {
            share,
            exchange_min: 120.0,
            standing_min: 1200.0,
        });
    }
}

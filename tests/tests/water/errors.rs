//! How far the chemistry is from each reference file.

use dosewarden_sim::water::{
    Cyanurate, CyanurateSet, Davies, Equilibrium, Reagent, Solved, Water, WaterTest,
};

use crate::data::{self, Row, rows};

/// Differences from a reference in one quantity.
pub(crate) struct Errors {
    pub(crate) what: &'static str,
    pub(crate) file: &'static str,
    /// Whether the differences are parts of the reference, else in its unit.
    pub(crate) relative: bool,
    /// The largest allowed.
    pub(crate) bound: f64,
    pub(crate) all: Vec<f64>,
}

impl Errors {
    pub(crate) fn worst(&self) -> f64 {
        self.all.iter().fold(0.0, |worst, e| {
            if e.abs() > f64::abs(worst) || e.is_nan() {
                *e
            } else {
                worst
            }
        })
    }

    pub(crate) fn median(&self) -> f64 {
        let mut sizes: Vec<f64> = self.all.iter().map(|e| e.abs()).collect();
        sizes.sort_by(f64::total_cmp);
        sizes[sizes.len() / 2]
    }
}

/// A new quantity, compared over the rows for which it is there.
fn over<T>(
    (what, file): (&'static str, &'static str),
    (relative, bound): (bool, f64),
    rows: &[T],
    pair: impl Fn(&T) -> Option<(f64, f64)>,
) -> Errors {
    let difference = |(ours, theirs): (f64, f64)| {
        if relative {
            ours / theirs - 1.0
        } else {
            ours - theirs
        }
    };
    let all: Vec<f64> = rows.iter().filter_map(pair).map(difference).collect();
    assert!(
        !all.is_empty(),
        "{what} of {file} was compared with nothing"
    );
    Errors {
        what,
        file,
        relative,
        bound,
        all,
    }
}

struct State {
    row: Row,
    water: Water,
    eq: Equilibrium,
    solved: Solved,
}

fn solved(row: Row, test: WaterTest) -> State {
    let water = test.water().unwrap_or_else(|e| panic!("{test:?}: {e}"));
    let eq = water.equilibrium();
    State {
        row,
        water,
        eq,
        solved: eq.solve(&water),
    }
}

fn new_states() -> Vec<State> {
    let state = |row: Row| {
        let get = |name| row.get(name);
        let test = WaterTest {
            temp_c: get("temp_c"),
            ta_mg_l: get("ta_mg_l"),
            ca_mg_l: get("ca_mg_l"),
            tds_mg_l: get("tds_mg_l"),
            ph: get("ph"),
            cya_mg_l: get("cya_mg_l"),
            borate_mg_l: get("boron_mg_l"),
            chlorine_mg_l: get("chlorine_mg_l"),
        };
        solved(row, test)
    };
    rows(data::STATES).into_iter().map(state).collect()
}

const PARTS: bool = true;
const UNITS: bool = false;

/// From PHREEQC's alkalinity and carbon to pH, less acid of `taken` mol/L.
fn ph_from_theirs(state: &State, taken: f64) -> f64 {
    let carbon = state.row.get("dic_mmol_kgw") / 1000.0;
    let theirs = Water {
        carbon,
        ..state.water
    };
    state
        .eq
        .solve(&theirs.with(Reagent::HYDROCHLORIC, taken))
        .ph
}

/// The new states: the whole range, no one of them used to fit anything.
pub(crate) fn of_new_states() -> Vec<Errors> {
    let states = new_states();
    assert!(states.len() >= 500, "only {}", states.len());
    let file = "states.csv";
    let mut all = vec![
        over(
            ("pH from alkalinity and carbon", file),
            (UNITS, 0.02),
            &states,
            |s| Some((ph_from_theirs(s, 0.0), s.row.get("ph"))),
        ),
        over(
            ("pH after half the acid of a step", file),
            (UNITS, 0.02),
            &states,
            |s| {
                let taken = s.row.get("hcl_mmol_kgw") / 2000.0;
                Some((
                    ph_from_theirs(s, taken),
                    s.row.get("ph_after_half_the_acid"),
                ))
            },
        ),
        over(
            ("saturation index of calcite", file),
            (UNITS, 0.05),
            &states,
            |s| {
                Some((
                    s.eq.calcite_index(&s.water, &s.solved),
                    s.row.get("si_calcite"),
                ))
            },
        ),
        over(("acid demand", file), (PARTS, 0.03), &states, |s| {
            let acid =
                s.eq.to_reach(&s.water, s.row.get("to_ph"), Reagent::HYDROCHLORIC);
            Some((acid.expect("reachable") * 1000.0, s.row.get("hcl_mmol_kgw")))
        }),
        over(
            ("dissolved inorganic carbon", file),
            (PARTS, 0.01),
            &states,
            |s| Some((s.water.carbon * 1000.0, s.row.get("dic_mmol_kgw"))),
        ),
        over(("CO2 in solution", file), (PARTS, 0.02), &states, |s| {
            Some((s.eq.co2(&s.solved) * 1000.0, s.row.get("co2_mmol_kgw")))
        }),
    ];
    all.extend(of_new_species(&states));
    all
}

/// What the new states hold besides.
fn of_new_species(states: &[State]) -> Vec<Errors> {
    let file = "states.csv";
    let chlorinated = |s: &State| s.water.chlorine > 0.0;
    vec![
        over(
            ("log10 of the pressure of CO2", file),
            (UNITS, 0.02),
            states,
            |s| {
                let pressure = s.eq.co2_pressure_atm(s.eq.co2(&s.solved));
                Some((libm::log10(pressure), s.row.get("log10_pco2_atm")))
            },
        ),
        over(("ionic strength", file), (PARTS, 0.07), states, |s| {
            Some((
                s.water.ionic_strength(),
                s.row.get("ionic_strength_mol_kgw"),
            ))
        }),
        over(
            ("HOCl (constants are ours)", file),
            (PARTS, 0.01),
            states,
            |s| {
                let ours = s.eq.chlorine_species(&s.water, &s.solved).hypochlorous * 1e6;
                chlorinated(s).then(|| (ours, s.row.get("hocl_umol_kgw")))
            },
        ),
        over(
            ("OCl- (constants are ours)", file),
            (PARTS, 0.01),
            states,
            |s| {
                let ours = s.eq.chlorine_species(&s.water, &s.solved).hypochlorite * 1e6;
                chlorinated(s).then(|| (ours, s.row.get("ocl_umol_kgw")))
            },
        ),
    ]
}

/// The table of states at Ca 300 and TDS 1000. Its species are rounded to 1e-5 or 1e-4 mmol, so small ones are
/// compared by unit.
pub(crate) fn of_the_table() -> Vec<Errors> {
    let state = |row: Row| {
        let test = WaterTest {
            ph: row.get("pH"),
            ..WaterTest::of(row.get("temp_C"), row.get("TA_mgL_CaCO3"), 300.0, 1000.0)
        };
        solved(row, test)
    };
    let states: Vec<State> = rows(data::PHREEQC_TABLE).into_iter().map(state).collect();
    let file = "phreeqc_table.csv";
    let species = |s: &State| s.eq.carbon_species(&s.water, &s.solved);
    vec![
        over(
            ("saturation index of calcite", file),
            (UNITS, 0.05),
            &states,
            |s| {
                Some((
                    s.eq.calcite_index(&s.water, &s.solved),
                    s.row.get("SI_calcite"),
                ))
            },
        ),
        over(
            ("pH from alkalinity and carbon", file),
            (UNITS, 0.02),
            &states,
            |s| {
                let carbon = s.row.get("DIC_mmol_kgw") / 1000.0;
                Some((s.eq.solve(&Water { carbon, ..s.water }).ph, s.row.get("pH")))
            },
        ),
        over(
            ("dissolved inorganic carbon", file),
            (PARTS, 0.01),
            &states,
            |s| Some((s.water.carbon * 1000.0, s.row.get("DIC_mmol_kgw"))),
        ),
        over(("free HCO3-", file), (PARTS, 0.01), &states, |s| {
            Some((species(s).bicarbonate * 1000.0, s.row.get("HCO3_mmol")))
        }),
        over(("free Ca++", file), (PARTS, 0.01), &states, |s| {
            Some((species(s).calcium * 1000.0, s.row.get("Ca_free_mmol")))
        }),
        over(("free CO3--, mmol", file), (UNITS, 1e-3), &states, |s| {
            Some((species(s).carbonate * 1000.0, s.row.get("CO3_mmol")))
        }),
        over(
            ("CO2 in solution, mmol", file),
            (UNITS, 5e-3),
            &states,
            |s| Some((species(s).co2 * 1000.0, s.row.get("CO2aq_mmol"))),
        ),
    ]
}

/// mmol/L of HCl for a step at 25 C, Ca 300, TDS 1000.
fn acid(eq: impl Fn(&Water) -> Equilibrium, test: WaterTest, to: f64) -> f64 {
    // `water` finds the carbon with the usual constants; here they may be others.
    let mut water = test.water().unwrap_or_else(|e| panic!("{test:?}: {e}"));
    let eq = eq(&water);
    water.carbon = eq.carbon_for(&water, test.ph).expect("carbonate");
    1000.0
        * eq.to_reach(&water, to, Reagent::HYDROCHLORIC)
            .expect("reachable")
}

fn of_row(row: &Row, ta: &str) -> WaterTest {
    WaterTest {
        ph: row.get("pH_from"),
        ..WaterTest::of(25.0, row.get(ta), 300.0, 1000.0)
    }
}

/// The constants that the table of cyanurate took: pK 6.8 between concentrations, whatever the salt.
fn with_pk_of_6_8(water: &Water) -> Equilibrium {
    let davies = Davies::at(water.temperature_c, water.ionic_strength());
    let usual = Cyanurate::at(CyanurateSet::OBrien, water.temperature_c);
    let acid = -6.8 - davies.one - davies.neutral;
    Equilibrium::with_cyanurate(
        water.temperature_c,
        water.ionic_strength(),
        Cyanurate { acid, ..usual },
    )
}

/// Acid for a step, plain, with cyanurate, and for an overfeed.
pub(crate) fn of_acid() -> Vec<Errors> {
    let plain = rows(data::ACID_DEMAND);
    let cyanurate = rows(data::ACID_DEMAND_CYA);
    let overfeed = rows(data::OVERFEED);
    let with_cya = |row: &Row| WaterTest {
        cya_mg_l: row.get("CYA_mgL"),
        ..of_row(row, "TA_measured")
    };
    vec![
        over(
            ("acid demand", "acid_demand.csv"),
            (PARTS, 0.03),
            &plain,
            |row| {
                let ours = acid(
                    Water::equilibrium,
                    of_row(row, "TA_mgL_CaCO3"),
                    row.get("pH_to"),
                );
                Some((ours, row.get("HCl_mmol_per_kgw_PHREEQC")))
            },
        ),
        over(
            ("acid demand, cyanurate's pK 6.8", "acid_demand_cya.csv"),
            (PARTS, 0.03),
            &cyanurate,
            |row| {
                let ours = acid(with_pk_of_6_8, with_cya(row), row.get("pH_to"));
                Some((ours, row.get("HCl_mmol_per_L")))
            },
        ),
        over(
            ("acid demand, our constants", "acid_demand_cya.csv"),
            (PARTS, 0.03),
            &cyanurate,
            |row| {
                let ours = acid(Water::equilibrium, with_cya(row), row.get("pH_to"));
                Some((ours, row.get("HCl_mmol_per_L")))
            },
        ),
        over(
            ("acid of an overfeed, to pH 4", "overfeed.csv"),
            (PARTS, 0.03),
            &overfeed,
            |row| {
                let ours = acid(
                    Water::equilibrium,
                    of_row(row, "TA_mgL_CaCO3"),
                    row.get("pH_to"),
                );
                Some((ours, row.get("HCl_mmol_per_kgw")))
            },
        ),
    ]
}

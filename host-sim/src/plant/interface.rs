//! What goes into the plant each step, what its wiring shows, and what is really so.

use super::amounts::Amounts;
use super::cell::Counted;

/// Most feeders that one plant has.
pub const MAX_FEEDERS: usize = 4;

/// A product that a feeder gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Product {
    /// Hydrochloric acid.
    Acid,
    /// Sodium hypochlorite solution.
    Hypochlorite,
    /// Chlorine that a generator's cell makes from salt.
    GeneratorChlorine,
}

impl Product {
    /// Whether the two give off chlorine gas, or waste each other, where they meet.
    #[must_use]
    pub fn incompatible_with(self, other: Self) -> bool {
        (self == Self::Acid) != (other == Self::Acid)
    }

    /// Whether this raises free chlorine.
    #[must_use]
    pub fn is_chlorine(self) -> bool {
        self != Self::Acid
    }

    /// Unit of this product's amounts: microlitres, or milligrams of Cl2 for a generator.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::GeneratorChlorine => "mg Cl2",
            Self::Acid | Self::Hypochlorite => "uL",
        }
    }

    /// The product's name in plain words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Acid => "acid",
            Self::Hypochlorite => "hypochlorite",
            Self::GeneratorChlorine => "generator chlorine",
        }
    }
}

/// One feeder's output of the controller for one step.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FeederCommand {
    /// The feeder's own contact is asked to close.
    pub on: bool,
    /// A hardware timer opens it this many ms into the step; `None`: on for the whole step.
    pub cut_after_ms: Option<u32>,
}

impl FeederCommand {
    /// Off.
    pub const OFF: Self = Self {
        on: false,
        cut_after_ms: None,
    };
    /// On for the whole step.
    pub const ON: Self = Self {
        on: true,
        cut_after_ms: None,
    };
}

/// Everything that the controller drives, and its own supply, for one step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Commands {
    /// The controller has supply. Without it every output is pulled off, whatever else stands here.
    pub powered: bool,
    /// The controller kicked the hardware dead man at the start of this step.
    pub kick: bool,
    /// The master contact in series with every feeder is asked to close.
    pub master: bool,
    /// One for each feeder, in the order of the specification; the rest is ignored.
    pub feeders: [FeederCommand; MAX_FEEDERS],
}

impl Commands {
    /// Controller without supply.
    pub const UNPOWERED: Self = Self {
        powered: false,
        kick: false,
        master: false,
        feeders: [FeederCommand::OFF; MAX_FEEDERS],
    };
    /// Controller alive, everything off.
    pub const IDLE: Self = Self {
        powered: true,
        kick: true,
        master: false,
        feeders: [FeederCommand::OFF; MAX_FEEDERS],
    };
}

/// What a probe's input shows.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ProbeSense {
    /// Electrode voltage, mV: for pH the Nernst slope times (7 - pH), for ORP the ORP itself.
    pub millivolts: f64,
    /// The same as a perfectly calibrated instrument shows it: pH, or mV.
    pub value: f64,
    /// The input circuit sees an open lead; the two figures above mean nothing then.
    pub open: bool,
    /// The input circuit's check finds a resistance that is too high: the glass is dry.
    pub is_dry: bool,
    /// Age of the sample by its stamp, ms.
    pub age_ms: u32,
}

/// What one feeder's wiring shows.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FeederSense {
    /// Drive feedback: ms that the motor had power since the last step; `None`: not fitted.
    pub drive_on_ms: Option<u32>,
    /// Level switch: true says that there is stock; `None`: not fitted.
    pub stock: Option<bool>,
    /// A generator's own flow switch, worst since the last step; `None`: not fitted.
    pub cell_flow: Option<bool>,
}

/// Everything that the controller's wiring shows after a step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Senses {
    /// Flow switch, worst since the last step.
    pub flow_switch: bool,
    /// Flow meter, mL/s, lowest since the last step; `None`: not fitted.
    pub flow_ml_s: Option<f64>,
    /// Pump-run contact, worst since the last step; `None`: not fitted.
    pub pump_contact: Option<bool>,
    /// pH probe.
    pub ph: ProbeSense,
    /// ORP probe.
    pub orp: ProbeSense,
    /// One for each feeder, in the order of the specification.
    pub feeders: [FeederSense; MAX_FEEDERS],
    /// True minute of the day, 0 to 1439 (a faulty clock is the scenario's business).
    pub clock_minute: u16,
    /// True time, s from midnight before day 1.
    pub clock_s: u32,
    /// Body of water that the valves' position switches show; `None`: none, or they travel.
    pub body: Option<usize>,
    /// Temperature of the water that is selected, C.
    pub water_c: f64,
    /// The circulation pump's supply has mains voltage.
    pub mains: bool,
}

/// What one feeder really did.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FeederTruth {
    /// What it gives.
    pub product: Product,
    /// The motor had power at the end of the step.
    pub drive_on: bool,
    /// ms of the step in which the motor had power.
    pub drive_on_ms: u32,
    /// Amount that left the feeder in the step, in [`Product::unit`].
    pub fed: f64,
    /// Amount that left it since the start.
    pub fed_total: f64,
    /// The part of `fed` that went into standing water.
    pub fed_standing: f64,
    /// The part of `fed_total` that went into standing water.
    pub fed_standing_total: f64,
    /// Amount left in the drum; infinite for a generator.
    pub drum: f64,
    /// Strength of what is in the drum, as a share of what the scenario says.
    pub strength: f64,
    /// Hydrogen that a cell made into standing water and that no flow has carried off, L at 20 C.
    pub hydrogen_l: f64,
}

impl FeederTruth {
    /// A feeder that has not fed yet.
    #[must_use]
    pub fn new(product: Product, drum: f64) -> Self {
        Self {
            product,
            drive_on: false,
            drive_on_ms: 0,
            fed: 0.0,
            fed_total: 0.0,
            fed_standing: 0.0,
            fed_standing_total: 0.0,
            drum,
            strength: 1.0,
            hydrogen_l: 0.0,
        }
    }
}

/// What one body of water really is.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BodyTruth {
    /// Temperature, C.
    pub temperature_c: f64,
    /// pH of the well-mixed part, activity scale. It is worked out anew when it has moved by 1e-4.
    pub ph: f64,
    /// pH of the slow corner; that of the rest where there is none.
    pub corner_ph: f64,
    /// Free chlorine of the slow corner, mg/L as Cl2; that of the rest where there is none.
    pub corner_chlorine_mg_l: f64,
    /// Free chlorine of the well-mixed part, mg/L as Cl2, as a DPD test finds it.
    pub free_chlorine_mg_l: f64,
    /// The HOCl part of it, mg/L as Cl2.
    pub hypochlorous_mg_l: f64,
    /// Total alkalinity, mg/L as CaCO3; cyanurate, borate and OCl- in it.
    pub alkalinity_mg_l: f64,
    /// Dissolved inorganic carbon, mmol/L.
    pub carbon_mmol_l: f64,
    /// ORP of the water, mV, before any probe's lag.
    pub orp_mv: f64,
    /// Total alkalinity in the body, eq.
    pub alkalinity_eq: f64,
    /// Inorganic carbon in the body, mol.
    pub carbon_mol: f64,
    /// Free chlorine in the body, mol of Cl2.
    pub chlorine_mol: f64,
    /// HCl that reached the body since the start, mol.
    pub acid_in_mol: f64,
    /// Chlorine that reached the body since the start, mol of Cl2.
    pub chlorine_in_mol: f64,
    /// Free alkali that reached it along with that, mol.
    pub alkali_in_mol: f64,
    /// Chlorine used up by sun, bathers and the rest since the start, mol of Cl2.
    pub chlorine_used_mol: f64,
    /// Carbon dioxide that went to the air since the start, mol; negative when it came in.
    pub carbon_out_mol: f64,
    /// Bathers' demand that found no chlorine yet, mol of Cl2.
    pub demand_waiting_mol: f64,
    /// All that is in the body.
    pub amounts: Amounts,
    /// All that came and went since the start, by any way.
    pub counted: Counted,
}

/// What stands in the return line.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LineTruth {
    /// HCl in the line, mol.
    pub acid_mol: f64,
    /// Chlorine in the line, mol of Cl2.
    pub chlorine_mol: f64,
    /// Chlorine gas that the products standing together could give, g; 0 while water moves.
    pub gas_potential_g: f64,
    /// Chlorine gas released on restarts since the start, g.
    pub gas_released_g: f64,
    /// pH just behind the injectors while something is fed into moving water; `None` otherwise.
    pub stream_ph: Option<f64>,
}

/// What is really so after a step. No controller sees this; oracles judge by it.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// End of the step, ms since the start.
    pub now_ms: u64,
    /// Length of the step, ms.
    pub dt_ms: u32,
    /// The controller had supply in the step.
    pub powered: bool,
    /// The mains that feed pumps and feeders were there in the step.
    pub mains: bool,
    /// The circulation pump's timetable asks for it.
    pub pump_due: bool,
    /// The circulation pump ran in the step.
    pub pump_running: bool,
    /// Flow past the injectors at the end of the step, L/min.
    pub flow_l_min: f64,
    /// Flow was enough for feeding in all of the step; otherwise the water counts as standing.
    pub water_moving: bool,
    /// Body that the valves select.
    pub body: usize,
    /// pH of the water at the probes.
    pub sample_ph: f64,
    /// ORP of the water at the probes, mV, before the probe's lag.
    pub sample_orp_mv: f64,
    /// The hardware dead man holds everything off.
    pub dead_man_tripped: bool,
    /// The master contact was closed at the end of the step.
    pub master_closed: bool,
    /// Some fault stands, or a drum is empty.
    pub faulty: bool,
    /// Nobody bathes: the pool is closed, and what bathers need of the water is nobody's question.
    pub closed: bool,
    /// What stands in the return line.
    pub line: LineTruth,
    /// One for each body.
    pub bodies: Vec<BodyTruth>,
    /// One for each feeder.
    pub feeders: Vec<FeederTruth>,
}

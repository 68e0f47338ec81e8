//! Faults of the plant as data: set and cleared by a scenario, at any step.
//!
//! The letter and number in each doc comment is the stable id of the fault in the project's
//! catalogue of faults; one id may need several variants.

/// Which probe a fault is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProbeId {
    /// The pH probe.
    Ph,
    /// The ORP probe.
    Orp,
}

/// What can be wrong with a probe.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ProbeFault {
    /// S1: broken lead; the input circuit sees it and says so.
    Open,
    /// S2: shorted; 0 mV, which for pH looks like 7.
    Shorted,
    /// S3: the last reading stays.
    Frozen,
    /// S4: drift in pH or mV a day, from the moment it is set.
    Drift(f64),
    /// S5: a step, in pH or mV.
    Offset(f64),
    /// S6, S16: more noise, standard deviation in pH or mV.
    Noise(f64),
    /// S8: slope times this, 0 to 1, about pH 7 or 0 mV.
    Slope(f64),
    /// S9, S10: lag times this, 1 and up.
    Sluggish(f64),
    /// S7: one sample in [`SPIKE_EVERY`] is off by this, in pH or mV.
    Spikes(f64),
    /// S20: dried out: half the slope, twenty times the lag, twice the noise, and a resistance
    /// that a check of the lead sees. Sizes are our choice.
    Dried,
}

/// Steps from one spike to the next.
pub const SPIKE_EVERY: u32 = 97;

/// What can be wrong with a feeder, its drive or its drum.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum FeederFault {
    /// A1: its own contact is welded on; the master contact can still cut it.
    ContactWelded,
    /// A2: its contact never closes.
    NeverCloses,
    /// A3: goes off this many milliseconds later than it should.
    LateOff(u32),
    /// A4, A5, A12, U1: true rate times this, 0 and up.
    Rate(f64),
    /// A6: drive feedback always says off.
    FeedbackStuckOff,
    /// A6: drive feedback always says on.
    FeedbackStuckOn,
    /// H6: the motor turns and nothing leaves.
    LostPrime,
    /// H9, A8: leaks this many mL/h (a generator: mg/h) whatever the drive does.
    Siphon(f64),
    /// C1: the drum is empty.
    DrumEmpty,
    /// S17: the level switch always says that there is stock.
    LevelStuckFull,
    /// The level switch always says that the drum is empty.
    LevelStuckEmpty,
    /// C2: another product is in the drum, of the same molarity: acid where hypochlorite should be, and the
    /// other way round.
    WrongProduct,
    /// C3: strength of the product times this, 0 and up.
    Strength(f64),
    /// A11: a generator's cell draws current and makes nothing.
    CellDead,
    /// H2 at the cell: its own flow switch is stuck on.
    CellSwitchStuckOn,
    /// H3 at the cell: its own flow switch is stuck off.
    CellSwitchStuckOff,
}

/// One fault of the plant.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum PlantFault {
    /// H1: the circulation pump's overload has tripped; its contact says off.
    CirculationTripped,
    /// H1, H5: flow times this, 0 to 1, with the pump running and saying so (basket, valve, air).
    FlowReduced(f64),
    /// H2: the flow switch says flow whatever the water does.
    FlowSwitchStuckOn,
    /// H3: the flow switch never says flow.
    FlowSwitchStuckOff,
    /// H4: the flow switch drops out at random, about every third step.
    FlowSwitchChatters,
    /// The pump contact says that the pump runs whatever it does.
    PumpContactStuckOn,
    /// The pump contact never says that the pump runs.
    PumpContactStuckOff,
    /// A probe's fault.
    Probe(ProbeId, ProbeFault),
    /// A feeder's fault, by its place in the specification.
    Feeder(usize, FeederFault),
    /// A1 at the master contact: welded on, so that only the feeders' own contacts cut.
    MasterWelded,
    /// A2 at the master contact: it never closes.
    MasterNeverCloses,
    /// The hardware dead man is bridged: a hung controller is no longer cut.
    DeadManBridged,
    /// H7: so much of what comes back from the filter goes to waste or past the pool, 0 to 1.
    ReturnLost(f64),
    /// H8: the water at the probes stands while that in the pipes moves.
    SampleStands,
    /// The valves stay where they are, whoever turns them.
    ValvesStuck,
    /// The switches that show the valves' position keep showing what they showed.
    PositionStuck,
    /// C8: bathers' chlorine demand times this, 0 and up.
    BatherLoad(f64),
}

impl PlantFault {
    /// Same fault of the same part, whatever its size.
    fn same_kind(&self, other: &Self) -> bool {
        use core::mem::discriminant;
        match (self, other) {
            (Self::Probe(a, x), Self::Probe(b, y)) => a == b && discriminant(x) == discriminant(y),
            (Self::Feeder(a, x), Self::Feeder(b, y)) => {
                a == b && discriminant(x) == discriminant(y)
            }
            _ => discriminant(self) == discriminant(other),
        }
    }
}

/// The faults that stand now, at most one of a kind for each part.
#[derive(Clone, Debug, Default)]
pub(super) struct Faults {
    active: Vec<PlantFault>,
}

impl Faults {
    pub(super) fn set(&mut self, fault: PlantFault) {
        self.clear(fault);
        self.active.push(fault);
    }

    pub(super) fn clear(&mut self, fault: PlantFault) {
        self.active.retain(|f| !f.same_kind(&fault));
    }

    pub(super) fn clear_all(&mut self) {
        self.active.clear();
    }

    pub(super) fn active(&self) -> &[PlantFault] {
        &self.active
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_second_fault_of_a_kind_takes_the_place_of_the_first() {
        let mut faults = Faults::default();
        faults.set(PlantFault::FlowReduced(0.5));
        faults.set(PlantFault::FlowReduced(0.2));
        faults.set(PlantFault::Feeder(0, FeederFault::Rate(2.0)));
        faults.set(PlantFault::Feeder(1, FeederFault::Rate(3.0)));
        faults.set(PlantFault::Probe(ProbeId::Ph, ProbeFault::Open));
        faults.set(PlantFault::Probe(ProbeId::Orp, ProbeFault::Open));
        assert_eq!(faults.active().len(), 5);
        assert_eq!(faults.active()[0], PlantFault::FlowReduced(0.2));
        faults.clear(PlantFault::Feeder(1, FeederFault::Rate(0.0)));
        faults.clear(PlantFault::FlowReduced(1.0));
        assert_eq!(faults.active().len(), 3);
        faults.clear_all();
        assert!(faults.active().is_empty());
    }
}

//! What goes into a tick, and what comes out of it.

use crate::act::{ActResult, Person};
use crate::alarm::Summary;
use crate::care::Care;
use crate::guard::units::Millis;
use crate::guard::{Decision, Facts, MasterPermit, Permit, Verdict};
use crate::machine::Phase;

/// Everything that enters one tick, besides the time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Inputs<const N: usize> {
    /// What the guard is told.
    pub facts: Facts<N>,
    /// What a person does in this tick.
    pub person: Option<Person>,
    /// Whether the timetable says that the circulation pump should run now; `None`: no timetable
    /// is known. Used for alarms only.
    pub pump_due: Option<bool>,
    /// The circulation pump is known to run at a speed at which the flow switch does not make: that it runs without
    /// flow is no alarm then. Used for alarms only.
    pub pump_slow: bool,
    /// Time until the circulation pump stops, if a stop is known. Feed ends one purge ahead.
    pub pump_stops_in: Option<Millis>,
    /// The output of a feeder's drive has failed: it is not asked, and an alarm comes.
    pub line_faults: [bool; N],
    /// The output of the series contact has failed: nothing is asked, and an alarm comes.
    pub master_fault: bool,
    /// What upkeep says.
    pub care: Care,
}

impl<const N: usize> Inputs<N> {
    /// Nothing is known, nobody acts.
    pub const UNKNOWN: Self = Self::new(Facts::UNKNOWN);

    /// These facts; nobody acts, no timetable is known, no output has failed.
    #[must_use]
    pub const fn new(facts: Facts<N>) -> Self {
        Self {
            facts,
            person: None,
            pump_due: None,
            pump_slow: false,
            pump_stops_in: None,
            line_faults: [false; N],
            master_fault: false,
            care: Care::UNKNOWN,
        }
    }
}

/// What comes out of one tick. Permits cannot outlive the next one.
#[derive(Debug)]
#[must_use = "permits that are not applied feed nothing"]
pub struct Outputs<'g, const N: usize> {
    pub(crate) verdict: Verdict<'g, N>,
    /// The phase that each feeder shows.
    pub phases: [Phase; N],
    /// A record has to be sealed now ([`Controller::seal_record`](crate::Controller::seal_record)),
    /// written whole to both places, and read back; report its ticket in `facts.saved`. Stays
    /// `false` while a sealed record waits for that, up to the limits' `save_max`: then it is
    /// sealed anew.
    pub save: bool,
    /// How many alarms stand where.
    pub alarms: Summary,
    /// What became of the person's act, if there was one.
    pub act: Option<ActResult>,
}

impl<'g, const N: usize> Outputs<'g, N> {
    /// Takes feeder `F`'s permit, if it has one. There is one a tick.
    pub fn permit<const F: usize>(&mut self) -> Option<Permit<'g, F>> {
        self.verdict.permit::<F>()
    }

    /// Takes the permit of the series contact, if any feeder has a permit and no drive runs
    /// against its command. There is one a tick.
    pub fn master(&mut self) -> Option<MasterPermit<'g>> {
        self.verdict.master()
    }

    /// The guard's decision, as data.
    #[must_use]
    pub const fn decision(&self) -> &'g Decision<N> {
        self.verdict.decision()
    }
}

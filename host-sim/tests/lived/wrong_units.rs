//! Units that are wrong on purpose, on the first pool: the judges have to see through each.

use dosewarden_sim::judge::Findings;
use dosewarden_sim::plant::{Commands, FeederCommand, PlantFault, Senses};
use dosewarden_sim::scenario::PersonAct;
use dosewarden_sim::unit::{Reply, UnitStatus};
use dosewarden_sim::{ControlUnit, DosewardenUnit, Scenario, SimPool};

/// What is wrong with a [`Simple`] unit.
#[derive(Clone, Copy, PartialEq)]
enum Wrong {
    /// Looks at no witness of flow.
    NoFlow,
    /// Believes the flow switch alone.
    OneWitness,
    /// Feeds without a pause while the water wants it.
    NoPause,
    /// Never feeds, and says nothing.
    Silent,
}

/// Feeds by thresholds, one product at a time, with no memory at all.
struct Simple(Wrong);

impl ControlUnit for Simple {
    fn power_up(&mut self) {}

    fn power_down(&mut self) {}

    fn tick(&mut self, _dt_ms: u32, senses: &Senses) -> Commands {
        let mut commands = Commands::IDLE;
        let flow = match self.0 {
            Wrong::NoFlow => true,
            Wrong::OneWitness => senses.flow_switch,
            Wrong::NoPause => senses.flow_switch && senses.pump_contact == Some(true),
            Wrong::Silent => false,
        };
        if flow && senses.ph.value > 7.45 {
            commands.feeders[0] = FeederCommand::ON;
        } else if flow && senses.orp.value < 715.0 {
            commands.feeders[1] = FeederCommand::ON;
        }
        commands.master = commands.feeders.iter().any(|feeder| feeder.on);
        commands
    }

    fn person(&mut self, _act: &PersonAct) -> Reply {
        Reply::Done
    }

    fn status(&self) -> UnitStatus {
        UnitStatus::default()
    }

    fn refusal_names(&self) -> &[String] {
        &[]
    }

    fn alarm_names(&self) -> &[String] {
        &[]
    }
}

fn week(wrong: Wrong) -> Findings {
    let scenario = Scenario::first_pool();
    let mut pool = SimPool::attach(&scenario, Simple(wrong)).expect("a sound plant");
    pool.run_for_days(scenario.days);
    pool.finish()
}

fn broken(wrong: Wrong, wanted: &[&str]) {
    let findings = week(wrong);
    for oracle in wanted {
        let all: Vec<_> = findings.broken().collect();
        assert!(
            findings.is_broken(oracle),
            "{oracle} holds; broken are {all:?}"
        );
    }
}

#[test]
fn feeding_without_a_look_at_the_flow() {
    broken(
        Wrong::NoFlow,
        &[
            "standing_water",
            "power_on_delay",
            "never_both",
            "holds_kept",
        ],
    );
}

#[test]
fn believing_one_witness() {
    broken(Wrong::OneWitness, &["standing_water"]);
}

#[test]
fn feeding_without_pause_or_memory() {
    broken(
        Wrong::NoPause,
        &["hour_total", "holds_kept", "never_both", "power_on_delay"],
    );
}

#[test]
fn never_feeding_and_never_telling() {
    broken(Wrong::Silent, &["fed_or_asked", "poor_water_alarmed"]);
}

/// A wire bridged behind our unit's back: every oracle of the water still sees it.
#[test]
fn our_unit_behind_two_lying_witnesses() {
    let mut scenario = Scenario::first_pool();
    scenario.events.truncate(1);
    let mut pool = SimPool::attach(&scenario, DosewardenUnit::for_scenario(&scenario)).expect("ok");
    while !pool.truth().feeders[1].drive_on {
        assert!(pool.now_ms() < 86_400_000, "no chlorine on the first day");
        pool.tick();
    }
    pool.set_fault(PlantFault::FlowSwitchStuckOn);
    pool.set_fault(PlantFault::PumpContactStuckOn);
    pool.set_fault(PlantFault::CirculationTripped);
    pool.run_for_ms(3_600_000);
    assert!(pool.finish().is_broken("standing_water"));
}

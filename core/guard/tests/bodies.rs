//! Two bodies of water: what a change of the valves does to what was begun in the other.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::arithmetic_side_effects,
    reason = "a test that panics has failed, as it should"
)]

mod bench;
use bench::ask;
use bench::site::{ACID, CHLORINE, SPEC};
use dosewarden_guard::units::{Body, Dose, MilliPh, Millis};
use dosewarden_guard::*;

type G2 = Guard<2, 2, 7, 25>;
type R2 = Record<2, 2, 7, 25>;
fn two_bodies() -> Limits<2, 2> {
    fn two(one: FeederSpec<1>) -> FeederSpec<2> {
        FeederSpec {
            product: one.product,
            governor: one.governor,
            rate: one.rate,
            rate_tolerance: one.rate_tolerance,
            rate_any_tube: one.rate_any_tube,
            catch_test_on_record: true,
            drive_off: one.drive_off,
            feedback: one.feedback,
            feedback_clear: one.feedback_clear,
            cut_timer: one.cut_timer,
            level_switch: one.level_switch,
            cell_flow_switch: one.cell_flow_switch,
            dose_min: one.dose_min,
            slice_max: one.slice_max,
            run_max: one.run_max,
            bodies: [one.bodies[0], one.bodies[0]],
        }
    }
    let s = SPEC;
    Limits::try_new(LimitsSpec {
        tick_gap_max: s.tick_gap_max,
        power_on_delay: s.power_on_delay,
        power_on_delay_new_probe: s.power_on_delay_new_probe,
        restart_after_power_loss: s.restart_after_power_loss,
        flow_switch: s.flow_switch,
        flow_meter: s.flow_meter,
        pump_contact: s.pump_contact,
        witness_age_max: s.witness_age_max,
        flow_prove: s.flow_prove,
        stuck_flow_max: s.stuck_flow_max,
        ph_probe: s.ph_probe,
        orp_probe: s.orp_probe,
        probe_age_max: s.probe_age_max,
        probe_settle: s.probe_settle,
        probe_failure_max: s.probe_failure_max,
        body_valves: Fitted::Fitted(Millis::from_secs(5)),
        purge: s.purge,
        resume_within: s.resume_within,
        save_max: s.save_max,
        manual_max: s.manual_max,
        hours: s.hours,
        response: s.response,
        fallback: s.fallback,
        off_credit_max: s.off_credit_max,
        off_credit_ratio: s.off_credit_ratio,
        feeders: [
            FeederLimits::Enabled(two(ACID)),
            FeederLimits::Enabled(two(CHLORINE)),
        ],
    })
    .unwrap()
}

/// A guard of two bodies, its store and its time.
struct Two {
    guard: G2,
    facts: Facts<2>,
    copy: Vec<u8>,
    clock: TickClock,
    now_ms: u32,
    saved: Option<Ticket>,
}

impl Two {
    /// In full caps, the first body selected, everything proven.
    fn ready() -> Self {
        let (guard, _) = G2::restore(two_bodies(), None, None);
        let mut clock = TickClock::new();
        clock.step(0);
        let mut facts = bench::healthy();
        facts.body = Reading::now(Body(0));
        let mut own = Self {
            guard,
            facts,
            copy: vec![],
            clock,
            now_ms: 0,
            saved: None,
        };
        own.tick(0, Some(Action::Initialise));
        own.tick(0, Some(Action::SetStage(Stage::Full)));
        for _ in 0..610 {
            own.tick(0, None);
        }
        own
    }

    /// A second, in which so much acid is asked for.
    fn tick(&mut self, acid_ml: u32, action: Option<Action>) -> Decision<2> {
        self.now_ms += 1000;
        self.facts.saved = self.saved;
        let by = Authority::Technician;
        let decision = *self
            .guard
            .judge(
                self.clock.step(self.now_ms),
                self.facts,
                ask(acid_ml, 0),
                action.map(|action| PersonAction { by, action }),
            )
            .decision();
        if decision.save {
            self.copy = vec![0; R2::LEN];
            self.guard.seal_record(&mut self.copy).unwrap();
            self.saved = Ticket::of(&self.copy);
        }
        decision
    }

    fn select(&mut self, body: u8) {
        self.facts.body = Reading::now(Body(body));
    }
}

#[test]
fn the_purge_owed_for_a_change_of_body_survives_a_restart() {
    let mut own = Two::ready();
    own.select(1);
    let decision = own.tick(0, None);
    assert!(decision.feeders[0].vetoes.has(Rule::LineClear), "owed");
    own.tick(0, None);
    // Power cut; the valves are turned back meanwhile.
    let record = R2::decode(&own.copy).unwrap();
    let (guard, _) = G2::restore(two_bodies(), Some(&record), Some(&record));
    let purged = guard.state().line.purged;
    assert!(purged < SPEC.purge, "the purge is forgotten");
}

/// Half a cycle of acid in the first body; then pH is another by 0.5. Whether that locks acid out.
fn is_taken_for_an_answer(turned_to: u8) -> bool {
    let mut own = Two::ready();
    let mut ran_ms = 0;
    for _ in 0..200 {
        ran_ms += own.tick(45, None).feeders[0].run.0.min(1000);
        if ran_ms >= 45_000 {
            break;
        }
    }
    assert!(ran_ms >= 45_000, "it does not run: {ran_ms} ms");
    own.select(turned_to);
    own.facts.ph = Reading::now(MilliPh(7_100));
    for _ in 0..900 {
        own.tick(0, None);
    }
    let locked = own.guard.state().feeder_lockouts[0];
    locked.has(Lockout::Response)
}

#[test]
fn what_another_body_shows_is_no_answer() {
    assert!(is_taken_for_an_answer(0), "far too strong");
    assert!(!is_taken_for_an_answer(1));
}

#[test]
fn valves_that_were_away_and_came_back_owe_as_much_as_a_change() {
    const OWED: [Rule; 4] = [
        Rule::BodyKnown,
        Rule::FlowProven,
        Rule::ProbeSettled,
        Rule::LineClear,
    ];
    let mut own = Two::ready();
    let refusing = |decision: Decision<2>| {
        let vetoes = decision.feeders[0].vetoes;
        OWED.map(|rule| vetoes.has(rule))
    };
    assert_eq!(refusing(own.tick(0, None)), [false; 4]);
    own.facts.body = Facts::<2>::UNKNOWN.body;
    assert_eq!(refusing(own.tick(0, None)), [true, false, false, false]);
    own.select(0);
    assert_eq!(refusing(own.tick(0, None)), [true; 4]);
    for _ in 0..SPEC.probe_settle.0 / 1000 {
        own.tick(0, None);
    }
    assert_eq!(refusing(own.tick(0, None)), [false; 4], "and no more");
}

#[test]
fn a_cycle_whose_valves_moved_counts_in_both_bodies() {
    let mut own = Two::ready();
    let runs = (0..5).any(|_| own.tick(45, None).feeders[0].run.0 > 0);
    assert!(runs, "it does not run");
    let booked = |own: &Two| [0, 1].map(|body| own.guard.state().ledger.totals(0, body).1);
    assert_eq!(booked(&own), [Dose(0); 2], "charged, not booked");
    own.select(1);
    own.tick(45, None);
    // A second at 33 mL/min, and all of it is charged to the first body too.
    assert_eq!(booked(&own), [Dose(0), Dose(550)]);
    for _ in 0..5 {
        own.tick(0, None);
    }
    // With the 200 ms in which the drive stops.
    assert_eq!(booked(&own), [Dose(660), Dose(660)]);
}

//! Proof tests at a controller in full health, each interlock sound and broken.

use std::string::ToString;

use super::*;
use crate::bench::{Bench, SPEC, regulators};
use crate::event::EventKind;
use crate::guard::units::{Fitted, FlowMlPerS, Millis};
use crate::guard::{Authority, FeederLimits, Inhibits, Limits, LimitsSpec, Product, Reading};

mod failed;

const SETTINGS: ProofSettings = ProofSettings {
    every_days: 30,
    emergency_stop: true,
    master_contact: true,
};

/// Everything fitted, the second feeder a generator.
fn fitted() -> LimitsSpec<2, 1> {
    let mut spec = SPEC;
    spec.flow_meter = Fitted::Fitted(FlowMlPerS(2000));
    for feeder in &mut spec.feeders {
        if let FeederLimits::Enabled(one) = feeder {
            one.feedback = Fitted::Fitted(Millis(2000));
            one.level_switch = Fitted::YES;
        }
    }
    if let FeederLimits::Enabled(cell) = &mut spec.feeders[1] {
        cell.product = Product::GeneratedChlorine;
        cell.level_switch = Fitted::NotFitted;
        cell.cell_flow_switch = Fitted::YES;
    }
    spec
}

/// What a drive's feedback does.
#[derive(Clone, Copy)]
enum Wire {
    Sound,
    Off,
    RunsOn,
}

struct Tried {
    bench: Bench,
    tests: ProofTests<2>,
    wires: [Wire; 2],
}

impl Tried {
    fn new(spec: LimitsSpec<2, 1>) -> Self {
        let mut bench = Bench::start(spec, regulators(), [None, None]);
        bench.inputs.facts.flow_meter = Reading::now(FlowMlPerS(3000));
        let begun = bench.act(crate::Act::Guard(crate::guard::Action::Initialise));
        assert_eq!(begun.act, Some(crate::ActResult::Done));
        bench.water(7400, 720);
        let tests = ProofTests::restore(Proofs::NEVER);
        let wires = [Wire::Sound; 2];
        let mut own = Self {
            bench,
            tests,
            wires,
        };
        own.run(700);
        own
    }

    /// Feedback follows the permits, as a sound drive's does.
    fn tick(&mut self) -> Option<(Interlock, ProofEnd)> {
        let feeds = self.bench.tick().decision.feeders.map(|row| row.run.0 > 0);
        let follow = |tried: &mut Self| {
            for (feeder, feeds) in feeds.into_iter().enumerate() {
                let on = match tried.wires[feeder] {
                    Wire::Sound => 1000 * u32::from(feeds),
                    Wire::Off => 0,
                    Wire::RunsOn => 1000,
                };
                tried.bench.inputs.facts.feeders[feeder].feedback = Reading::now(Millis(on));
            }
        };
        follow(self);
        let (controller, tests) = (&mut self.bench.controller, &mut self.tests);
        controller.watch_proof(tests, Millis(1000), &self.bench.inputs)
    }

    fn run(&mut self, secs: u32) -> Option<(Interlock, ProofEnd)> {
        (0..secs).find_map(|_| self.tick())
    }

    fn act(&mut self, act: ProofAct) -> Result<(), ProofRefused> {
        let (controller, tests) = (&mut self.bench.controller, &mut self.tests);
        controller.prove(tests, &SETTINGS, Authority::Operator, act)
    }

    fn step(&self) -> Option<ProofStep> {
        self.tests.run().map(ProofRun::step)
    }

    /// Starts a test and makes it ready.
    fn ready(&mut self, one: Interlock) {
        self.act(ProofAct::Start(one)).expect("it starts");
        if one.needs_feed() {
            self.run(20);
            assert_eq!(self.step(), Some(ProofStep::Prepare), "nothing feeds yet");
            self.bench.water(7600, 650);
            while self.step() == Some(ProofStep::Prepare) {
                assert_eq!(self.tick(), None);
            }
        }
        assert_eq!(self.run(1), None);
        assert_eq!(self.step(), Some(ProofStep::Trip), "{one:?}");
    }

    /// Trips an interlock as a person does, and says so.
    fn tripped(&mut self, one: Interlock) -> Option<ProofEnd> {
        self.trip(one, true);
        self.act(ProofAct::Done).expect("it is waited for");
        self.run(120).map(|(_, end)| end)
    }

    fn trip(&mut self, one: Interlock, trips: bool) {
        let facts = &mut self.bench.inputs.facts;
        match one {
            Interlock::FlowSwitch => facts.flow_switch.value = !trips,
            Interlock::FlowMeter => {
                facts.flow_meter.value = FlowMlPerS(if trips { 1999 } else { 3000 });
            }
            Interlock::PumpContact => facts.pump_run.value = !trips,
            Interlock::EmergencyStop => {
                facts.inhibits = if trips {
                    Inhibits::EMERGENCY_STOP
                } else {
                    Inhibits::NONE
                };
            }
            Interlock::LevelSwitch(at) => facts.feeders[usize::from(at)].stock.value = !trips,
            Interlock::CellFlow(at) => facts.feeders[usize::from(at)].cell_flow.value = !trips,
            Interlock::Feedback(at) => {
                self.wires[usize::from(at)] = if trips { Wire::Off } else { Wire::Sound };
            }
            Interlock::MasterContact => {}
        }
    }
}

/// All but the series contact, which a person judges.
const SEEN: [Interlock; 8] = [
    Interlock::FlowSwitch,
    Interlock::FlowMeter,
    Interlock::PumpContact,
    Interlock::LevelSwitch(0),
    Interlock::CellFlow(1),
    Interlock::Feedback(0),
    Interlock::Feedback(1),
    Interlock::EmergencyStop,
];

#[test]
fn a_site_has_the_interlocks_that_its_limits_and_settings_say() {
    let limits = Limits::try_new(fitted()).unwrap();
    let expected = SEEN
        .into_iter()
        .chain([Interlock::MasterContact])
        .fold(InterlockSet::NONE, InterlockSet::with);
    assert_eq!(SETTINGS.of_site(&limits), expected);
    assert_eq!(expected.iter().count(), 9);
    let bare = ProofSettings {
        emergency_stop: false,
        master_contact: false,
        ..SETTINGS
    };
    let usual = Limits::try_new(SPEC).unwrap();
    let both = InterlockSet::NONE
        .with(Interlock::FlowSwitch)
        .with(Interlock::PumpContact);
    assert_eq!(bare.of_site(&usual), both);
    for days in [0, 367] {
        let wrong = ProofSettings {
            every_days: days,
            ..SETTINGS
        };
        assert_eq!(wrong.try_new(), Err(ProofDays(days)));
    }
    assert!(SETTINGS.try_new().is_ok());
}

#[test]
fn each_sound_interlock_passes_and_each_dead_one_fails_by_its_own_sign() {
    for one in SEEN {
        let mut sound = Tried::new(fitted());
        sound.ready(one);
        let end = sound.tripped(one);
        let Some(ProofEnd::Passed { took_ms, fed }) = end else {
            panic!("{one:?}: {end:?}");
        };
        let most = one.stops_within_ms() + if one.needs_feed() { 2000 } else { 0 };
        assert!(took_ms <= most, "{one:?}: {took_ms} ms");
        assert_eq!(fed, one.needs_feed());
        let limits = sound.bench.controller.guard().limits().clone();
        assert!(!sound.tests.proofs().due(&SETTINGS, &limits).has(one));

        let mut dead = Tried::new(fitted());
        dead.ready(one);
        dead.act(ProofAct::Done).expect("it is waited for");
        let (of, end) = dead.run(30).expect("it ends");
        assert_eq!((of, end), (one, ProofEnd::NoSign));
        let failed = dead.tests.proofs().failed(&SETTINGS, &limits);
        assert_eq!(failed, InterlockSet::NONE.with(one));
        let mut care = crate::Care::UNKNOWN;
        dead.tests.tell(&SETTINGS, &limits, &mut care);
        assert_eq!(care.interlock_failed, !one.needs_feed(), "{one:?}");
        assert!(care.unproven.is_some_and(|set| set.has(one)));
    }
}

#[test]
fn feed_that_another_interlock_stopped_proves_nothing() {
    let mut tried = Tried::new(fitted());
    tried.ready(Interlock::FlowSwitch);
    tried.trip(Interlock::PumpContact, true);
    tried.act(ProofAct::Done).expect("it is waited for");
    assert_eq!(
        tried.run(120),
        Some((Interlock::FlowSwitch, ProofEnd::NoSign))
    );
}

#[test]
fn a_test_does_not_begin_where_its_rule_refuses_already() {
    let mut tried = Tried::new(fitted());
    tried.trip(Interlock::PumpContact, true);
    tried
        .act(ProofAct::Start(Interlock::FlowSwitch))
        .expect("it starts");
    tried.run(60);
    assert_eq!(tried.step(), Some(ProofStep::Prepare));
    let waits = Err(ProofRefused::WaitsFor(ProofStep::Prepare));
    assert_eq!(tried.act(ProofAct::Done), waits);
    assert!(tried.tests.run().unwrap().words().contains("full flow"));
    assert_eq!(tried.run(3530), None);
    let given_up = tried.run(20);
    assert_eq!(given_up, Some((Interlock::FlowSwitch, ProofEnd::GivenUp)));
    assert_eq!(tried.tests.proofs(), &Proofs::<2>::NEVER.aged(&tried));
}

impl Proofs<2> {
    /// As old as those of a unit that has only run.
    fn aged(mut self, tried: &Tried) -> Self {
        let secs = tried.bench.controller.events().secs();
        // The first second was the act of initialising, before the tests were there.
        self.pass(Millis((secs - 1) * 1000));
        self
    }
}

#[test]
fn while_a_feeder_feeds_its_permit_has_to_go_and_its_drive_to_stand_still() {
    let mut tried = Tried::new(fitted());
    tried.bench.water(7600, 720);
    while tried.bench.controller.guard().decision().feeders[0].run.0 == 0 {
        tried.tick();
    }
    tried.ready(Interlock::PumpContact);
    let end = tried.tripped(Interlock::PumpContact);
    assert!(
        matches!(
            end,
            Some(ProofEnd::Passed {
                fed: true,
                took_ms: 1000..=3000
            })
        ),
        "{end:?}"
    );
    let on_record = tried.tests.proofs().of(Interlock::PumpContact);
    assert_eq!(on_record.age_hours(), Some(0));
    // A drive that runs on.
    let mut tried = Tried::new(fitted());
    tried.ready(Interlock::PumpContact);
    tried.wires[0] = Wire::RunsOn;
    let end = tried.tripped(Interlock::PumpContact);
    assert_eq!(end, Some(ProofEnd::FedOn));
    assert!(tried.tests.proofs().of(Interlock::PumpContact).has_failed());
}

#[test]
fn feed_that_ends_by_itself_is_no_test_of_feedback() {
    let mut tried = Tried::new(fitted());
    tried.ready(Interlock::Feedback(0));
    tried.act(ProofAct::Done).expect("it is waited for");
    tried.bench.water(7400, 720);
    assert_eq!(tried.run(30), None);
    assert_eq!(tried.step(), Some(ProofStep::Prepare));
}

#[test]
fn who_trips_it_before_saying_so_has_done_it_all_the_same() {
    let mut tried = Tried::new(fitted());
    tried.ready(Interlock::FlowSwitch);
    tried.trip(Interlock::FlowSwitch, true);
    let end = tried.run(5).map(|(_, end)| end);
    assert!(
        matches!(end, Some(ProofEnd::Passed { took_ms: 0, .. })),
        "{end:?}"
    );
}

#[test]
fn the_series_contact_is_judged_by_eye_and_only_while_it_is_open() {
    let one = Interlock::MasterContact;
    for (stood, end) in [
        (
            true,
            ProofEnd::Passed {
                took_ms: 0,
                fed: false,
            },
        ),
        (false, ProofEnd::FedOn),
    ] {
        let mut tried = Tried::new(fitted());
        tried.ready(one);
        let waits = Err(ProofRefused::WaitsFor(ProofStep::Trip));
        assert_eq!(tried.act(ProofAct::Done), waits);
        assert_eq!(tried.act(ProofAct::StoodStill(stood)), Ok(()));
        let events = tried.bench.controller.events();
        let last = events.iter().next_back().unwrap().kind;
        assert_eq!(
            last,
            EventKind::ProofEnded {
                interlock: one,
                end
            }
        );
    }
    let mut tried = Tried::new(fitted());
    tried.ready(one);
    tried.bench.water(7600, 720);
    while !tried.bench.controller.guard().decision().master {
        tried.tick();
    }
    let waits = Err(ProofRefused::WaitsFor(ProofStep::Prepare));
    assert_eq!(tried.act(ProofAct::StoodStill(true)), waits);
}

#[test]
fn acts_are_refused_with_their_reason_and_logged() {
    let mut tried = Tried::new(fitted());
    let start = ProofAct::Start(Interlock::FlowSwitch);
    let (controller, tests) = (&mut tried.bench.controller, &mut tried.tests);
    let owner = controller.prove(tests, &SETTINGS, Authority::Owner, start);
    assert_eq!(
        owner,
        Err(ProofRefused::NeedsAuthority(Authority::Operator))
    );
    assert_eq!(tried.act(ProofAct::Done), Err(ProofRefused::NoTest));
    let none = Interlock::LevelSwitch(1);
    let refused = tried.act(ProofAct::Start(none));
    assert_eq!(refused, Err(ProofRefused::NotFitted(none)));
    assert_eq!(
        refused.unwrap_err().to_string(),
        "the site has no level switch"
    );
    assert_eq!(tried.act(start), Ok(()));
    let other = tried.act(ProofAct::Start(Interlock::PumpContact));
    assert_eq!(other, Err(ProofRefused::UnderWay(Interlock::FlowSwitch)));
    assert_eq!(tried.act(ProofAct::GiveUp), Ok(()));
    assert!(tried.tests.run().is_none());
    let events: std::vec::Vec<_> = tried.bench.controller.events().iter().collect();
    let logged = |done: bool| {
        let all = events.iter().map(|one| one.kind);
        all.filter(|kind| matches!(kind, EventKind::Proof { done: was, .. } if *was == done))
            .count()
    };
    assert_eq!((logged(true), logged(false)), (2, 4));
}

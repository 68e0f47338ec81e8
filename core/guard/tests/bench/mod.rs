//! A guard with its record store, healthy facts, and time: what the tests drive.
#![allow(dead_code, reason = "each test target uses a part")]

pub(crate) mod site;

use dosewarden_guard::units::{Dose, MilliPh, Millis, Millivolts};
use dosewarden_guard::{
    Action, Authority, Decision, Facts, FeedRequest, FeederFacts, Guard, Inhibits, Limits, Mode,
    PersonAction, Reading, Record, Requests, Restored, TickClock, Ticket,
};

pub(crate) type G = Guard<2, 1, 7, 25>;
pub(crate) type R = Record<2, 1, 7, 25>;

/// Everything well: water flows, pH is high and ORP low.
pub(crate) fn healthy() -> Facts<2> {
    let feeder = FeederFacts {
        feedback: Reading::now(Millis(0)),
        stock: Reading::now(true),
        cell_flow: Reading::now(true),
        hold_to_run: Reading::now(false),
    };
    Facts {
        flow_switch: Reading::now(true),
        pump_run: Reading::now(true),
        ph: Reading::now(MilliPh(7600)),
        orp: Reading::now(Millivolts(650)),
        inhibits: Inhibits::NONE,
        feeders: [feeder; 2],
        ..Facts::UNKNOWN
    }
}

pub(crate) fn ask(acid_ml: u32, chlorine_ml: u32) -> Requests<2> {
    let request = |ml| FeedRequest {
        dose: Dose::from_ml(ml),
        mode: Mode::Automatic,
    };
    [request(acid_ml), request(chlorine_ml)]
}

/// A guard, its clock and two copies of its record.
pub(crate) struct Bench {
    pub(crate) guard: G,
    pub(crate) found: Restored,
    pub(crate) facts: Facts<2>,
    pub(crate) copies: [Option<Vec<u8>>; 2],
    /// Whether the store works.
    pub(crate) saves: bool,
    clock: TickClock,
    now_ms: u32,
    saved: Option<Ticket>,
}

impl Bench {
    pub(crate) fn start(limits: Limits<2, 1>, copies: [Option<Vec<u8>>; 2]) -> Self {
        let read = |copy: &Option<Vec<u8>>| copy.as_deref().and_then(|bytes| R::decode(bytes).ok());
        let (guard, found) =
            G::restore(limits, read(&copies[0]).as_ref(), read(&copies[1]).as_ref());
        let mut clock = TickClock::new();
        clock.step(0);
        let facts = healthy();
        Self {
            guard,
            found,
            facts,
            copies,
            saves: true,
            clock,
            now_ms: 0,
            saved: None,
        }
    }

    /// A new unit, begun by a technician and in the full stage.
    pub(crate) fn begun() -> Self {
        let mut bench = Self::start(site::LIMITS, [None, None]);
        bench.act(Action::Initialise);
        bench.act(Action::SetStage(dosewarden_guard::Stage::Full));
        bench
    }

    /// Begun, and idle until every age has proven what it has to.
    pub(crate) fn ready() -> Self {
        let mut bench = Self::begun();
        bench.idle(700);
        bench
    }

    /// The power goes and comes back.
    pub(crate) fn power_cycled(self) -> Self {
        Self::start(self.guard.limits().clone(), self.copies)
    }

    pub(crate) fn tick_with(
        &mut self,
        gap_ms: u32,
        requests: Requests<2>,
        action: Option<PersonAction>,
    ) -> Decision<2> {
        self.now_ms = self.now_ms.wrapping_add(gap_ms);
        self.facts.saved = self.saved;
        let elapsed = self.clock.step(self.now_ms);
        let decision = *self
            .guard
            .judge(elapsed, self.facts, requests, action)
            .decision();
        if decision.save && self.saves {
            let mut bytes = vec![0; R::LEN];
            self.guard.seal_record(&mut bytes).expect("long enough");
            self.saved = Ticket::of(&bytes);
            self.copies = [Some(bytes.clone()), Some(bytes)];
        }
        decision
    }

    pub(crate) fn tick(&mut self, requests: Requests<2>) -> Decision<2> {
        self.tick_with(1000, requests, None)
    }

    pub(crate) fn act(&mut self, action: Action) -> Decision<2> {
        let person = PersonAction {
            by: Authority::Technician,
            action,
        };
        self.tick_with(1000, ask(0, 0), Some(person))
    }

    pub(crate) fn idle(&mut self, secs: u32) {
        for _ in 0..secs {
            self.tick(ask(0, 0));
        }
    }

    /// Ticks until something holds; how many ticks it took.
    pub(crate) fn until(
        &mut self,
        requests: Requests<2>,
        most: u32,
        holds: impl Fn(&Decision<2>) -> bool,
    ) -> u32 {
        for ticks in 1..=most {
            if holds(&self.tick(requests)) {
                return ticks;
            }
        }
        panic!("not within {most} ticks: {:#?}", self.guard.decision());
    }
}

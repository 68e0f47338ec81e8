//! A guard that feeds, its store, and what the plant really received.

#[path = "../../../core/guard/tests/bench/site.rs"]
mod site;

use dosewarden::guard::units::{Dose, MilliPh, Millis, Millivolts};
use dosewarden::guard::{
    Action, Authority, Facts, FeedRequest, FeederFacts, Guard, Inhibits, Limits, LimitsSpec,
    LockoutSet, Mode, PersonAction, Reading, Record, Requests, ResponseLimits, Restored, Stage,
    TickClock,
};
use dosewarden::store::{Progress, RecordStore};

use crate::flash::Flash;

pub(crate) type Chip = Flash<8, PAGE>;
/// Four slots.
pub(crate) const PAGE: usize = 2048;
pub(crate) type G = Guard<2, 1, 7, 25>;
type R = Record<2, 1, 7, 25>;

const TICK_MS: u32 = 1000;

pub(crate) const SPEC: LimitsSpec<2, 1> = LimitsSpec {
    response: ResponseLimits {
        unanswered_max: 255,
        ..site::SPEC.response
    },
    ..site::SPEC
};

pub(crate) fn limits() -> Limits<2, 1> {
    Limits::try_new(SPEC).unwrap()
}

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

pub(crate) fn ask(feeder: usize, ml: u32) -> Requests<2> {
    let mut requests = [FeedRequest::NONE; 2];
    requests[feeder] = FeedRequest {
        dose: Dose::from_ml(ml),
        mode: Mode::Automatic,
    };
    requests
}

type Locks = (LockoutSet, [LockoutSet; 2]);

pub(crate) fn locks(guard: &G) -> Locks {
    (guard.state().site_lockouts, guard.state().feeder_lockouts)
}

/// What the world outside the unit knows, and no power cut changes.
#[derive(Clone, Copy, Default)]
pub(crate) struct Truth {
    /// Time that each drive has run, ms.
    pub(crate) on_ms: [u64; 2],
    /// The drives have a permit now.
    pub(crate) permit: [bool; 2],
    /// Lockouts in the last record that was confirmed.
    pub(crate) durable: Option<Locks>,
    /// Permits in all.
    pub(crate) permits: u32,
    pub(crate) saves: u32,
}

impl Truth {
    /// The most that can have been fed if the power goes at any time in this tick, in uL.
    pub(crate) fn fed(&self, feeder: usize) -> u64 {
        let rate = u64::from(limits().feeder(feeder).unwrap().rate.0);
        let still = if self.permit[feeder] {
            u64::from(TICK_MS) + 200
        } else {
            0
        };
        rate * (self.on_ms[feeder] + still) / 3_600_000
    }
}

pub(crate) struct Life {
    pub(crate) store: RecordStore<Chip>,
    pub(crate) guard: G,
    clock: TickClock,
    now_ms: u32,
    pub(crate) truth: Truth,
    pub(crate) facts: Facts<2>,
    sealed: Option<Locks>,
}

/// Boots from a flash.
pub(crate) fn boot(flash: Chip) -> (RecordStore<Chip>, G, Restored) {
    // Half of the flash for each range.
    let end = u32::try_from(flash.bytes.len()).unwrap();
    let mut store = RecordStore::new(flash, [0..end / 2, end / 2..end]).unwrap();
    let [first, second] = store.load().records;
    let (guard, found) = G::restore(limits(), first.as_ref(), second.as_ref());
    (store, guard, found)
}

/// What a boot finds must not be below what the plant received, and no saved lockout is forgotten.
pub(crate) fn check(guard: &G, found: Restored, truth: &Truth) {
    let Some((site, feeders)) = truth.durable else {
        return;
    };
    assert_ne!(found, Restored::Lost, "a power cut alone loses no record");
    for feeder in 0..2 {
        let day = u64::from(guard.state().ledger.totals(feeder, 0).1.0);
        let fed = truth.fed(feeder);
        assert!(
            day >= fed,
            "feeder {feeder}: {fed} uL were fed, {day} are known"
        );
    }
    let (now_site, now_feeders) = locks(guard);
    assert_eq!(now_site.union(site), now_site, "a lockout is forgotten");
    for (now, saved) in now_feeders.iter().zip(feeders) {
        assert_eq!(now.union(saved), *now, "a lockout is forgotten");
    }
}

impl Life {
    pub(crate) fn on(flash: Chip, truth: Truth) -> Self {
        let (store, guard, found) = boot(flash);
        check(&guard, found, &truth);
        let mut clock = TickClock::new();
        clock.step(0);
        Self {
            store,
            guard,
            clock,
            now_ms: 0,
            truth: Truth {
                permit: [false; 2],
                ..truth
            },
            facts: healthy(),
            sealed: None,
        }
    }

    /// A new unit, begun by a technician and in the full stage.
    pub(crate) fn begun() -> Self {
        let mut life = Self::on(Chip::new(4), Truth::default());
        for action in [Action::Initialise, Action::SetStage(Stage::Full)] {
            let person = PersonAction {
                by: Authority::Technician,
                action,
            };
            life.tick(TICK_MS, [FeedRequest::NONE; 2], Some(person));
            life.settle();
        }
        life
    }

    /// Saves whatever waits.
    pub(crate) fn settle(&mut self) {
        for _ in 0..20 {
            self.step();
        }
    }

    pub(crate) fn tick(
        &mut self,
        gap_ms: u32,
        requests: Requests<2>,
        action: Option<PersonAction>,
    ) {
        self.now_ms = self.now_ms.wrapping_add(gap_ms);
        for feeder in 0..2 {
            if self.truth.permit[feeder] {
                self.truth.on_ms[feeder] += u64::from(gap_ms);
            }
        }
        self.facts.saved = self.store.saved();
        let elapsed = self.clock.step(self.now_ms);
        let decision = *self
            .guard
            .judge(elapsed, self.facts, requests, action)
            .decision();
        for (feeder, row) in decision.feeders.iter().enumerate() {
            let runs = row.run.0 > 0 && decision.master;
            if self.truth.permit[feeder] && !runs {
                self.truth.on_ms[feeder] += 200;
            }
            self.truth.permit[feeder] = runs;
            self.truth.permits += u32::from(runs);
        }
        if decision.save && !self.store.is_busy() {
            let mut bytes = vec![0; R::LEN];
            self.guard.seal_record(&mut bytes).expect("long enough");
            self.store.begin(&bytes).expect("sealed and short enough");
            self.sealed = Some(locks(&self.guard));
        }
    }

    /// One step of a save. False if the flash lost its power in it.
    pub(crate) fn step(&mut self) -> bool {
        let stepped = self.store.step();
        if let Ok(Progress::Saved(_)) = stepped {
            self.truth.durable = self.sealed;
            self.truth.saves += 1;
        }
        if self.store.flash_mut().dead {
            return false;
        }
        let _ = stepped.expect("a sound flash takes what is written");
        true
    }

    pub(crate) fn runs(&mut self) -> bool {
        self.truth.permit.contains(&true)
    }
}

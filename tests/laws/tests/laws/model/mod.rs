//! A small model of the guard, written from the rules' statements: which rules must refuse, at
//! every step. It calls nothing of the guard but its plain data (facts, limits, names), and keeps
//! its own books another way: clocks that only grow and marks on them, a ledger of single entries,
//! lockouts in a set. Plain and slow on purpose.

mod book;
mod feeders;
mod kept;
mod persons;
mod rules;
mod water;

use std::collections::{BTreeMap, BTreeSet};

use dosewarden_guard::{
    Facts, FeederLimits, FeederSpec, LimitsSpec, Lockout, Mode, PersonAction, Product, Requests,
    Rule, Stage, Ticket,
};

use book::Entry;
use kept::Kept;
use water::Water;

/// What enters one tick.
#[derive(Clone, Copy)]
pub(crate) struct Tick<const N: usize> {
    pub(crate) elapsed: u64,
    pub(crate) facts: Facts<N>,
    pub(crate) requests: Requests<N>,
    pub(crate) action: Option<PersonAction>,
    pub(crate) state_intact: bool,
    pub(crate) limits_intact: bool,
    pub(crate) off_credit: u64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Phase {
    Rest,
    Closing,
    Pending,
    Open,
}

/// One feeder.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Feeder {
    pub(crate) phase: Phase,
    body: usize,
    mode: Mode,
    charge: u64,
    slice: u64,
    allowed: u64,
    run: u64,
    cut: u64,
    permit: u64,
    /// Time since the last permit ended.
    off: u64,
    against: u64,
    deaf: u64,
    /// `deaf` as it was known before this tick.
    deaf_before: u64,
    clear: u64,
    cell: u64,
    manual: u64,
    failed: u64,
}

impl Feeder {
    const REST: Self = Self {
        phase: Phase::Rest,
        body: 0,
        mode: Mode::Automatic,
        charge: 0,
        slice: 0,
        allowed: 0,
        run: 0,
        cut: 0,
        permit: 0,
        off: 1_000_000,
        against: 0,
        deaf: 0,
        deaf_before: 0,
        clear: 0,
        cell: 0,
        // A button that is held at power-on has to be let go first.
        manual: 1 << 40,
        failed: 0,
    };

    const fn in_cycle(&self) -> bool {
        matches!(self.phase, Phase::Pending | Phase::Open)
    }

    const fn charged(&self) -> u64 {
        self.charge + self.slice
    }

    const fn left(&self) -> u64 {
        self.allowed.saturating_sub(self.run)
    }
}

/// The water's answers to one product.
#[derive(Clone, Copy, Debug)]
struct Response {
    before: Option<i32>,
    awaited: u64,
    unanswered: u8,
    quarter: bool,
    wrong: bool,
    since: u64,
}

impl Response {
    const REST: Self = Self {
        before: None,
        awaited: 0,
        unanswered: 0,
        quarter: false,
        wrong: false,
        since: 0,
    };
}

/// A lockout by its number, so that it can be kept in an ordered set.
pub(crate) type Lockouts = u8;

/// The whole model.
pub(crate) struct Model<const N: usize, const B: usize> {
    spec: LimitsSpec<N, B>,
    pub(crate) feeders: Vec<Feeder>,
    entries: Vec<Entry>,
    ledger_ms: u64,
    lost: Option<u64>,
    pub(crate) lockouts: BTreeSet<(Lockouts, usize)>,
    /// Drives that ran against command, until a person releases them.
    ran_against: Vec<bool>,
    stage: Stage,
    /// Flowing time in each body, and where on it each product's last cycle ended.
    body_flow: [u64; B],
    cycle_mark: Vec<[i64; B]>,
    /// Flowing time in all, where on it each product was last driven, and the line last fouled.
    flow: u64,
    drive_mark: Vec<i64>,
    purge_mark: i64,
    standing: Vec<u64>,
    responses: Vec<Response>,
    fallback: u64,
    new_probe: bool,
    bank: u64,
    selected: Option<usize>,
    steady: u64,
    powered: u64,
    proven: u64,
    settled: u64,
    disagree: u64,
    changed: bool,
    outstanding: Option<Ticket>,
    records: BTreeMap<u32, Kept<B>>,
}

/// What the model says of one feeder.
#[derive(Clone, Debug, Default)]
pub(crate) struct Says {
    pub(crate) vetoes: BTreeSet<&'static str>,
    pub(crate) run: u64,
}

pub(crate) fn spec_of<const N: usize, const B: usize>(
    spec: &LimitsSpec<N, B>,
    feeder: usize,
) -> &FeederSpec<B> {
    match &spec.feeders[feeder] {
        FeederLimits::Enabled(one) => one,
        FeederLimits::Disabled => panic!("the model knows feeders in use only"),
    }
}

impl<const N: usize, const B: usize> Model<N, B> {
    /// A unit that finds no record.
    pub(crate) fn lost(spec: LimitsSpec<N, B>) -> Self {
        let mut model = Self {
            spec,
            feeders: vec![Feeder::REST; N],
            entries: Vec::new(),
            ledger_ms: 0,
            lost: Some(0),
            lockouts: BTreeSet::new(),
            ran_against: vec![false; N],
            stage: Stage::Reduced,
            body_flow: [0; B],
            cycle_mark: vec![[0; B]; N],
            flow: 0,
            drive_mark: vec![0; N],
            purge_mark: 0,
            standing: vec![0; N],
            responses: vec![Response::REST; N],
            fallback: 0,
            new_probe: false,
            bank: 0,
            selected: None,
            steady: 0,
            powered: 0,
            proven: 0,
            settled: 0,
            disagree: 0,
            changed: true,
            outstanding: None,
            records: BTreeMap::new(),
        };
        model.lock(Lockout::RecordLost, 0);
        model.use_up();
        model
    }

    /// One tick: what each feeder's rules must say, and what it may run.
    pub(crate) fn tick(&mut self, tick: &Tick<N>) -> Vec<Says> {
        let water = Water::of(&self.spec, tick);
        let waits = self.outstanding.is_some() && !self.changed;
        let saved = waits && tick.facts.saved == self.outstanding;
        if !tick.state_intact {
            self.broken();
        }
        if saved {
            self.confirm();
            self.outstanding = None;
        }
        self.drives(&water, tick);
        self.ages(&water, tick);
        if let Some(person) = tick.action {
            self.act(person, &water, tick);
        }
        let judged: Vec<_> = (0..N).map(|f| self.judge(f, &water, tick)).collect();
        for (feeder, one) in judged.iter().enumerate() {
            for lockout in &one.locks {
                let of = if lockout.is_of_site() { 0 } else { feeder };
                self.lock(*lockout, of);
            }
        }
        let answered = self.answers(&water);
        let mut says = Vec::new();
        for (feeder, one) in judged.into_iter().enumerate() {
            let waits = answered[self.account(feeder)];
            let run = self.advance(feeder, &one, waits, &water, tick);
            says.push(Says {
                vetoes: one.vetoes.iter().map(|rule| rule.name()).collect(),
                run,
            });
        }
        says
    }

    fn lock(&mut self, lockout: Lockout, feeder: usize) {
        if self.lockouts.insert((number(lockout), feeder)) {
            self.changed = true;
        }
    }

    fn locked(&self, lockout: Lockout, feeder: usize) -> bool {
        self.lockouts.contains(&(number(lockout), feeder))
    }

    fn feeder_spec(&self, feeder: usize) -> &FeederSpec<B> {
        spec_of(&self.spec, feeder)
    }

    fn product(&self, feeder: usize) -> Product {
        self.feeder_spec(feeder).product
    }

    /// Feeders of one product share the account of the first.
    fn account(&self, feeder: usize) -> usize {
        (0..N)
            .find(|other| self.product(*other) == self.product(feeder))
            .unwrap_or(feeder)
    }

    fn since_cycle(&self, account: usize, body: usize) -> u64 {
        age(self.body_flow[body], self.cycle_mark[account][body])
    }

    fn since_drive(&self, account: usize) -> u64 {
        age(self.flow, self.drive_mark[account])
    }

    fn purged(&self) -> u64 {
        age(self.flow, self.purge_mark)
    }

    /// The state changed by itself: nothing in it is believed to be smaller than it was.
    fn broken(&mut self) {
        self.lock(Lockout::StateSeal, 0);
        self.purge_mark = signed(self.flow);
        self.drive_mark = vec![signed(self.flow); N];
        self.cycle_mark = vec![self.body_flow.map(signed); N];
        self.stage = Stage::Reduced;
        for age in [
            &mut self.fallback,
            &mut self.bank,
            &mut self.powered,
            &mut self.proven,
            &mut self.settled,
            &mut self.steady,
        ] {
            *age = 0;
        }
        for feeder in &mut self.feeders {
            feeder.cell = 0;
        }
        for response in &mut self.responses {
            response.since = 0;
        }
        self.buckets_begin();
        self.use_up();
        self.changed = true;
    }
}

fn age(clock: u64, mark: i64) -> u64 {
    u64::try_from(signed(clock) - mark).unwrap()
}

fn signed(time: u64) -> i64 {
    i64::try_from(time).unwrap()
}

pub(crate) fn number(lockout: Lockout) -> Lockouts {
    u8::try_from(Lockout::ALL.iter().position(|one| *one == lockout).unwrap()).unwrap()
}

/// The rules that refuse, and the lockouts that they enter.
struct Judged {
    vetoes: Vec<Rule>,
    locks: Vec<Lockout>,
    most_run: u64,
    most_dose: u64,
}

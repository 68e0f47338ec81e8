//! One day, tick by tick.

use core::hash::{Hash, Hasher};

use dosewarden::guard::{Elapsed, Lockout, Record, RecordError, Restored, TickClock, Ticket};
use dosewarden::{CareSettings, Inputs, Outputs};

use crate::draw::Draw;
use crate::person;
use crate::site::{self, Pool};
use crate::sum::Sum;
use crate::world::{Fault, World};

/// Ticks of a day.
pub const TICKS: u32 = 1000;

/// What came of some days. The counts show that the days reach what they are there for: a sum over
/// refusals alone would be equal everywhere and say little.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Sum of every output.
    pub sum: u64,
    /// Ticks.
    pub ticks: u32,
    /// Ticks in which a feeder had a permit.
    pub permits: u32,
    /// Cycles that were booked.
    pub cycles: u32,
    /// Ticks in which a lockout was entered.
    pub lockouts: u32,
    /// Records that were sealed.
    pub records: u32,
    /// Power cuts.
    pub cuts: u32,
    /// Events.
    pub events: u32,
    /// Acts of persons that were done or refused.
    pub acts: u32,
    /// Rules that refused at least once, as bits by their numbers.
    pub rules: u32,
}

impl Tally {
    fn and(self, day: Self) -> Self {
        let mut sum = Sum::new();
        (self.sum, day.sum).hash(&mut sum);
        Self {
            sum: sum.finish(),
            ticks: self.ticks + day.ticks,
            permits: self.permits + day.permits,
            cycles: self.cycles + day.cycles,
            lockouts: self.lockouts + day.lockouts,
            records: self.records + day.records,
            cuts: self.cuts + day.cuts,
            events: self.events + day.events,
            acts: self.acts + day.acts,
            rules: self.rules | day.rules,
        }
    }
}

impl core::fmt::Display for Tally {
    /// One figure a line: what host and boards print, and what is compared.
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let rules = self.rules.count_ones();
        writeln!(f, "sum 0x{:016x}", self.sum)?;
        writeln!(f, "ticks {}, with a permit {}", self.ticks, self.permits)?;
        writeln!(
            f,
            "cycles booked {}, lockouts entered {}",
            self.cycles, self.lockouts
        )?;
        writeln!(
            f,
            "records sealed {}, power cuts {}",
            self.records, self.cuts
        )?;
        writeln!(f, "events {}, acts of persons {}", self.events, self.acts)?;
        writeln!(f, "rules that refused {rules} of 27")
    }
}

/// Lives `count` days from day `first` on, each from its own number.
#[must_use]
pub fn run(first: u32, count: u32) -> Tally {
    let mut all = Tally::default();
    for number in first..first.saturating_add(count) {
        let mut day = Day::drawn(number);
        all = all.and(day.live(&mut ()));
    }
    all
}

/// Told around each step of a day, so that a board can measure it.
pub trait Watch {
    /// A tick, or the sealing of a record, begins.
    fn before(&mut self) {}
    /// A tick is over.
    fn after_tick(&mut self) {}
    /// A record is sealed.
    fn after_seal(&mut self) {}
}

/// Watches nothing.
impl Watch for () {}

/// The two places in which a board keeps its record.
#[derive(Clone, Debug)]
struct Store {
    copies: [[u8; Pool::RECORD_LEN]; 2],
    saved: Option<Ticket>,
    /// The one before.
    stale: Option<Ticket>,
}

/// A controller, what is around it, and what came of it so far.
pub struct Day {
    draw: Draw,
    world: World,
    pool: Pool,
    store: Store,
    clock: TickClock,
    now_ms: u32,
    locked: u32,
    sum: Sum,
    tally: Tally,
}

impl Day {
    /// The day of this number.
    #[must_use]
    #[inline(never)]
    pub fn drawn(number: u32) -> Self {
        let mut draw = Draw::new(number);
        let spec = site::drawn(&mut draw);
        let regulators = site::drawn_regulators(&mut draw, &spec);
        let limits = site::limits(spec);
        let (mut pool, found) = Pool::restore(limits, site::settings(), regulators, None, None);
        pool.set_care(CareSettings::NONE); // a day has to feed
        let mut sum = Sum::new();
        add_restored(&mut sum, found);
        Self {
            world: World::drawn(&mut draw, TICKS),
            now_ms: draw.next(),
            draw,
            pool,
            store: Store {
                copies: [[0; Pool::RECORD_LEN]; 2],
                saved: None,
                stale: None,
            },
            clock: TickClock::new(),
            locked: 0,
            sum,
            tally: Tally::default(),
        }
    }

    /// Lives it to its end.
    pub fn live(&mut self, watch: &mut impl Watch) -> Tally {
        self.clock.step(self.now_ms);
        // No cut in most days, several in some.
        let cuts = self.draw.one_of([0, 0, 1, 3]);
        for tick in 1..=TICKS {
            if cuts > 0 && self.draw.once_in(TICKS / cuts) {
                self.cut_power();
            }
            self.tick(tick, watch);
        }
        self.pool.guard().state().hash(&mut self.sum);
        self.tally.sum = self.sum.finish();
        self.tally
    }

    fn tick(&mut self, tick: u32, watch: &mut impl Watch) {
        let gap_ms = self.world.gap_ms(&mut self.draw, tick);
        self.now_ms = self.now_ms.wrapping_add(gap_ms);
        let mut inputs = self
            .world
            .inputs(&mut self.draw, tick, gap_ms.min(90_000_000));
        inputs.person = person::drawn(&mut self.draw, tick, &self.pool);
        inputs.facts.saved = self.said_saved(tick);
        let elapsed = self.clock.step(self.now_ms);
        watch.before();
        let outputs = tick_pool(&mut self.pool, elapsed, &inputs);
        watch.after_tick();
        let save = outputs.save;
        self.world.commanded = add_outputs(outputs, &mut self.sum, &mut self.tally);
        self.tally.acts += u32::from(inputs.person.is_some());
        self.add_around();
        if save {
            self.seal(watch);
        }
        if self.draw.once_in(200) {
            self.other_limits(&inputs);
        }
    }

    fn said_saved(&self, tick: u32) -> Option<Ticket> {
        if self.world.has(Fault::StoreSilent, tick) {
            None
        } else if self.world.has(Fault::StoreStale, tick) {
            self.store.stale
        } else {
            self.store.saved
        }
    }

    /// Events, alarms, reasons, lockouts and stocks: what a display would show.
    fn add_around(&mut self) {
        while let Some(event) = self.pool.events_mut().take_oldest() {
            event.hash(&mut self.sum);
            self.tally.events += 1;
        }
        for listed in self.pool.alarms().listed() {
            listed.hash(&mut self.sum);
        }
        for feeder in 0..2 {
            for obstacle in self.pool.why(feeder).into_iter().flatten() {
                obstacle.hash(&mut self.sum);
            }
            let wanted = self.pool.wanted(feeder);
            (wanted, self.pool.stock(feeder), self.pool.days_left(feeder)).hash(&mut self.sum);
        }
        let state = self.pool.guard().state();
        let sets = state.feeder_lockouts.iter().chain([&state.site_lockouts]);
        let locked = sets.fold(0, |all, set| (all << 11) ^ u32::from(set.bits()));
        self.tally.lockouts += u32::from(locked & !self.locked != 0);
        self.locked = locked;
    }

    fn seal(&mut self, watch: &mut impl Watch) {
        let [first, second] = &mut self.store.copies;
        watch.before();
        let sealed = seal_record(&mut self.pool, first);
        watch.after_seal();
        match sealed {
            Ok(ticket) => {
                ticket.hash(&mut self.sum);
                first.hash(&mut self.sum);
                second.copy_from_slice(first);
                self.store.stale = self.store.saved;
                self.store.saved = Ticket::of(second);
                self.tally.records += 1;
            }
            Err(_) => self.sum.write_u8(0xEE),
        }
    }

    /// Power goes and comes back. The store may have torn or rotten copies.
    #[inline(never)]
    fn cut_power(&mut self) {
        self.tally.cuts += 1;
        let off_secs = self.draw.one_of([1, 60, 4000, 90_000]);
        self.world.off(off_secs);
        for copy in &mut self.store.copies {
            if self.draw.once_in(4) {
                let place = usize::try_from(self.draw.below(4096)).unwrap_or(0);
                let bit = 1 << self.draw.below(8);
                if let Some(byte) = copy.get_mut(place) {
                    *byte ^= bit;
                }
            }
        }
        let [first, second] = &self.store.copies;
        let stocks = [0, 1].map(|feeder| self.pool.stock(feeder));
        let guard = self.pool.guard();
        let limits = site::limits(*guard.limits().spec());
        let regulators = *self.pool.regulators_mut();
        let (pool, found) = Pool::restore(
            limits,
            site::settings(),
            regulators,
            Record::decode(first).ok().as_ref(),
            Record::decode(second).ok().as_ref(),
        );
        self.pool = pool;
        self.pool.set_care(CareSettings::NONE);
        for (stock, feeder) in stocks.into_iter().zip(0..) {
            if let Some(stock) = stock {
                self.pool.set_stock(feeder, stock);
            }
        }
        add_restored(&mut self.sum, found);
        self.now_ms = self.draw.next();
        self.clock = TickClock::new();
        self.clock.step(self.now_ms);
    }

    /// Somebody sets other limits: tighter, looser, or of another product.
    #[inline(never)]
    fn other_limits(&mut self, inputs: &Inputs<2>) {
        let spec = if self.draw.once_in(3) && inputs.person.is_none() {
            site::drawn(&mut self.draw)
        } else {
            let mut spec = *self.pool.guard().limits().spec();
            spec.flow_prove.0 = self.draw.within(1000, 30_000);
            spec.purge.0 = self.draw.within(5000, 30_000);
            spec
        };
        let set = self.pool.set_limits(site::limits(spec));
        self.sum
            .write_u8(u8::from(set == dosewarden::guard::SetLimits::Applied));
    }
}

/// A call of its own, so that what is measured around it is all of it.
#[inline(never)]
fn tick_pool<'a>(pool: &'a mut Pool, elapsed: Elapsed, inputs: &Inputs<2>) -> Outputs<'a, 2> {
    pool.tick(elapsed, inputs)
}

/// As [`tick_pool`].
#[inline(never)]
fn seal_record(pool: &mut Pool, out: &mut [u8]) -> Result<Ticket, RecordError> {
    pool.seal_record(out)
}

fn add_restored(sum: &mut Sum, found: Restored) {
    match found {
        Restored::Equal {
            open_cycles,
            limits_changed,
        } => (1_u8, open_cycles, limits_changed).hash(sum),
        Restored::Differing {
            open_cycles,
            limits_changed,
        } => (2_u8, open_cycles, limits_changed).hash(sum),
        Restored::Lost => 3_u8.hash(sum),
    }
}

/// Takes every permit, sums everything up, and says which drives may run.
fn add_outputs(mut outputs: Outputs<'_, 2>, sum: &mut Sum, tally: &mut Tally) -> [bool; 2] {
    let decision = outputs.decision();
    decision.hash(sum);
    (outputs.phases, outputs.save, outputs.alarms, outputs.act).hash(sum);
    let runs = [
        outputs.permit::<0>().map(|permit| permit.run_max()),
        outputs.permit::<1>().map(|permit| permit.run_max()),
    ];
    let master = outputs.master().map(|permit| permit.run_max());
    (runs, master).hash(sum);
    tally.ticks += 1;
    tally.permits += u32::from(runs.iter().any(Option::is_some));
    for row in &decision.feeders {
        tally.cycles += u32::from(row.closed.is_some());
        tally.rules |= row.vetoes.bits();
    }
    runs.map(|run| run.is_some())
}

// A lockout that the tally counts has to fit beside the others in 32 bits.
const _: () = assert!(Lockout::ALL.len() == 11);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_reach_permits_lockouts_power_cuts_and_every_rule_but_the_seals() {
        let tally = run(0, 100);
        assert_eq!(tally.ticks, 100 * TICKS);
        assert!(tally.permits > 100 * 50, "{tally:?}");
        assert!(tally.cycles > 100 * 2, "{tally:?}");
        assert!(tally.lockouts > 50, "{tally:?}");
        assert!(tally.cuts > 50, "{tally:?}");
        assert!(tally.acts > 100 * 10, "{tally:?}");
        // Nothing here writes to memory that is not its own: the two seals stay whole.
        let seals = 0b110;
        assert_eq!(tally.rules | seals, (1 << 27) - 1, "{tally:?}");
    }
}

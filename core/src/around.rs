//! What the controller remembers around the guard, and what it does before and after a judgement.

use crate::alarm::{Alarms, Watched, WatchedFeeder, WatchedProbe};
use crate::ask::{Ask, Asking, Water, blocking, least};
use crate::care::Caring;
use crate::event::{EventKind, Events};
use crate::guard::units::{Dose, Fitted, Millis};
use crate::guard::{
    CycleStage, Decision, FeedRequest, FeederDecision, Guard, Health, Inhibits, Limits, LockoutSet,
    Reading, Requests, Restored, Rule, State, Ticket,
};
use crate::handover::Handover;
use crate::io::Inputs;
use crate::machine::{Machine, rule_of};
use crate::odd_ticks::OddTicks;
use crate::response::{Response, Warmth};
use crate::restraint::Restraints;
use crate::season::Opening;
use crate::settings::{DrumSettings, Settings};
use crate::stages::Evidence;
use crate::stock::{DrumVerdict, Stock};
use crate::turns::{Claim, Turns};

/// Feed without a break that counts as a demand being met; shorter runs only if their cycle was
/// given by half at least. Our choice: flow that flickers must not hide an unmet demand.
const FED_FOR: Millis = Millis::from_secs(60);

/// Everything around the guard but the regulators.
#[derive(Clone, Debug)]
pub(crate) struct Around<const N: usize> {
    pub(crate) settings: Settings<N>,
    pub(crate) asking: [Asking; N],
    pub(crate) asks: [Ask; N],
    /// Who may ask, by turn.
    pub(crate) may: [bool; N],
    turns: Turns,
    pub(crate) machines: [Machine; N],
    stages: [CycleStage; N],
    streaks: [Millis; N],
    /// Whether feed was wanted when the governing value was last known.
    wanted: [bool; N],
    pub(crate) alarms: Alarms<N>,
    pub(crate) stocks: [Stock; N],
    pub(crate) restraints: Restraints<N>,
    /// A record was there and nobody has put back what was kept beside it, so that observing is assumed.
    pub(crate) is_observing_assumed: bool,
    pub(crate) handover: Handover,
    pub(crate) opening: Opening,
    /// What the last level that was read says of each rate.
    pub(crate) drum_verdicts: [DrumVerdict; N],
    /// Of the one feeder whose answers are followed.
    pub(crate) response: Response,
    /// How much colder or warmer than in the settings its water is.
    pub(crate) warmth: Warmth,
    pub(crate) caring: Caring,
    /// While observing: flowing time until the next dose would be fed.
    pub(crate) would_wait: [Millis; N],
    odd_ticks: OddTicks,
    pub(crate) events: Events,
    pub(crate) outstanding: Option<Ticket>,
    pub(crate) waited: Millis,
    pub(crate) records_differ: bool,
    /// What was kept is lost, and the observing that follows has not ended.
    pub(crate) kept_lost: bool,
    pub(crate) site_lockouts: LockoutSet,
    pub(crate) feeder_lockouts: [LockoutSet; N],
}

impl<const N: usize> Around<N> {
    pub(crate) const fn new(settings: Settings<N>) -> Self {
        Self {
            settings,
            asking: [Asking::START; N],
            asks: [Ask::NOTHING; N],
            may: [false; N],
            turns: Turns::START,
            machines: [Machine::START; N],
            stages: [CycleStage::Idle; N],
            streaks: [Millis(0); N],
            wanted: [false; N],
            alarms: Alarms::NORMAL,
            stocks: [Stock::UNKNOWN; N],
            restraints: Restraints::NONE,
            is_observing_assumed: false,
            handover: Handover::FIRST,
            opening: Opening::NONE,
            drum_verdicts: [DrumVerdict::Unclear; N],
            response: Response::START,
            warmth: Warmth::UNKNOWN,
            caring: Caring::UNTOLD,
            would_wait: [Millis(0); N],
            odd_ticks: OddTicks(0),
            events: Events::new(),
            outstanding: None,
            waited: Millis(0),
            records_differ: false,
            kept_lost: false,
            site_lockouts: LockoutSet::NONE,
            feeder_lockouts: [LockoutSet::NONE; N],
        }
    }

    /// At start, after a record was restored or was not. `open`: the charges that stood open in it.
    #[inline(never)]
    pub(crate) fn begin<const B: usize>(
        settings: Settings<N>,
        limits: &Limits<N, B>,
        open: Option<[Dose; N]>,
        found: Restored,
    ) -> Self {
        let mut around = Self::new(settings);
        for (stock, open) in around.stocks.iter_mut().zip(open.iter().flatten()) {
            // What stood open counts as fed.
            stock.feed(*open);
        }
        around.records_differ = matches!(found, Restored::Differing { .. });
        if found != Restored::Lost {
            // Whether a unit that was on before still observed is not in the guard's record.
            around.restraints.evidence = Evidence::OBSERVING;
            around.is_observing_assumed = true;
        }
        around.events.push(EventKind::started(found));
        around.note_limits(limits);
        around
    }

    /// What follows from the limits and takes a division: worked out once.
    pub(crate) fn note_limits<const B: usize>(&mut self, limits: &Limits<N, B>) {
        for (feeder, asking) in (0..N).zip(self.asking.iter_mut()) {
            asking.least = limits
                .feeder(feeder)
                .map_or(Dose(0), |spec| least(limits, spec));
        }
    }

    /// Turns what is wanted into what is asked, turn by turn.
    pub(crate) fn requests<const B: usize>(
        &mut self,
        limits: &Limits<N, B>,
        rows: &[FeederDecision; N],
        elapsed: Millis,
    ) -> Requests<N> {
        let mut claims = [None; N];
        let all = claims.iter_mut().zip(rows.iter()).zip(self.asks.iter());
        for (feeder, ((claim, row), ask)) in (0..N).zip(all) {
            let held = ask.held.is_some();
            *claim = limits.product(feeder).map(|product| Claim {
                product,
                wants: ask.wants() && !held,
                blocked: !blocking(row.vetoes).is_empty(),
                purging: row.vetoes.has(Rule::OneAtATime),
                stage: row.stage,
                ran: row.run.0 > 0,
            });
        }
        self.may = self.turns.step(&claims, elapsed);
        let mut requests = [FeedRequest::NONE; N];
        let rows = requests.iter_mut().zip(self.asks.iter()).zip(self.may);
        for ((request, ask), may) in rows {
            // The mode goes along with a request for nothing: rules that it waives are then judged
            // as they would be.
            *request = FeedRequest {
                dose: if may { ask.dose } else { Dose(0) },
                mode: ask.mode,
            };
        }
        requests
    }

    /// What the alarms look at, as far as it is known before the judgement.
    pub(crate) fn watch<const B: usize, const H: usize, const D: usize>(
        &mut self,
        guard: &Guard<N, B, H, D>,
        inputs: &Inputs<N>,
        water: Water,
        elapsed: Millis,
    ) -> Watched<N> {
        let (limits, state, facts) = (guard.limits(), guard.state(), &inputs.facts);
        self.kept_lost &= self.restraints.evidence.is_observing;
        let site = limits.spec();
        let age_max = site.probe_age_max;
        let mut feeders = [WatchedFeeder::NOTHING; N];
        for (wanted, ask) in self.wanted.iter_mut().zip(self.asks.iter()) {
            if ask.known {
                *wanted = ask.wants();
            }
        }
        let laid_up = facts.inhibits.any_of(Inhibits::LAID_UP) || self.restraints.is_laid_up;
        // A pump that runs against frost is no demand, and its time does not count later either.
        let idle = laid_up || self.caring.runs_against_frost();
        for (feeder, look) in (0..N).zip(feeders.iter_mut()) {
            *look = self.watch_feeder(feeder, guard, inputs);
            look.wants = look.wants.filter(|_| !idle);
        }
        Watched {
            elapsed,
            ph: WatchedProbe {
                value: water.ph.map(|ph| ph.0),
                failing: site.ph_probe.is_fitted() && failing(&facts.ph, age_max)
                    || self.caring.is_blind,
            },
            orp: WatchedProbe {
                value: water.orp.map(|orp| orp.0),
                failing: site.orp_probe.is_fitted() && failing(&facts.orp, age_max),
            },
            notices: guard.decision().notices,
            lockouts: state.site_lockouts,
            records_differ: self.records_differ,
            master_fault: inputs.master_fault,
            flow: state.flow_proven >= site.flow_prove,
            clock_stands: self.odd_ticks.step(elapsed, site.tick_gap_max),
            pump_due: inputs.pump_due,
            pump_slow: inputs.pump_slow,
            laid_up,
            observing: facts.inhibits.any_of(Inhibits::OBSERVE_ONLY)
                || self.restraints.evidence.is_observing,
            test_due: !inputs.care.overdue.is_empty(),
            proof_due: inputs.care.proof_due(),
            kept_lost: self.kept_lost,
            feeders,
        }
    }

    fn watch_feeder<const B: usize, const H: usize, const D: usize>(
        &self,
        feeder: usize,
        guard: &Guard<N, B, H, D>,
        inputs: &Inputs<N>,
    ) -> WatchedFeeder {
        let (limits, state) = (guard.limits(), guard.state());
        let fresh = limits.spec().witness_age_max;
        let (Some(spec), Some(ask)) = (limits.feeder(feeder), self.asks.get(feeder)) else {
            return WatchedFeeder::NOTHING;
        };
        let own = inputs.facts.feeders.get(feeder);
        let sees = own.and_then(|facts| facts.stock.trusted(fresh));
        let low = match (self.drum(feeder), self.stocks.get(feeder)) {
            (Some(drum), Some(stock)) => stock.is_low(&drum, a_day(limits, state, feeder)),
            _ => false,
        };
        WatchedFeeder {
            lockouts: state
                .feeder_lockouts
                .get(feeder)
                .copied()
                .unwrap_or_default(),
            wants: self.demand(feeder, ask, inputs.pump_due, state.flow_proven.0 > 0),
            fed: false,
            low,
            empty: spec.level_switch.is_fitted() && sees != Some(true),
            line_fault: inputs.line_faults.get(feeder) == Some(&true),
            rate_wrong: self.rate_wrong(feeder),
        }
    }

    /// Whether feed is wanted, as the alarm sees it: `None` if nothing can be said. A demand that
    /// stood when the value was last known goes on while water flows or should: else flow that
    /// flickers would hide it. While the timetable has the pump off, none is due.
    fn demand(&self, feeder: usize, ask: &Ask, pump_due: Option<bool>, flow: bool) -> Option<bool> {
        if pump_due == Some(false) {
            None
        } else if ask.known {
            Some(ask.wants())
        } else if flow || pump_due == Some(true) {
            self.wanted.get(feeder).copied()
        } else {
            None
        }
    }

    pub(crate) fn drum(&self, feeder: usize) -> Option<DrumSettings> {
        match self.settings.spec().drums.get(feeder) {
            Some(Fitted::Fitted(drum)) => Some(*drum),
            _ => None,
        }
    }

    /// After the judgement: phases, stock, alarms, events. Whether a record has to be sealed now.
    pub(crate) fn after(&mut self, decision: &Decision<N>, mut seen: Watched<N>) -> bool {
        seen.notices = decision.notices;
        for (feeder, row) in (0..N).zip(decision.feeders.iter()) {
            let Some(look) = seen.feeders.get_mut(feeder) else {
                continue;
            };
            let locked = self.site_lockouts.union(look.lockouts);
            look.fed = self.after_feeder(feeder, row, locked, seen.elapsed);
        }
        let events = &mut self.events;
        self.alarms
            .step(&self.settings.spec().alarms, &seen, |id, now| {
                events.push(EventKind::Alarm { id, now });
            });
        decision.save && self.outstanding.is_none()
    }

    /// Whether the feeder's demand counts as met in this tick.
    fn after_feeder(
        &mut self,
        feeder: usize,
        row: &FeederDecision,
        locked: LockoutSet,
        elapsed: Millis,
    ) -> bool {
        let number = u8::try_from(feeder).unwrap_or(u8::MAX);
        let (Some(machine), Some(stage), Some(streak), Some(stock), Some(ask)) = (
            self.machines.get_mut(feeder),
            self.stages.get_mut(feeder),
            self.streaks.get_mut(feeder),
            self.stocks.get_mut(feeder),
            self.asks.get(feeder),
        ) else {
            return false;
        };
        if row.stage == CycleStage::Pending && *stage == CycleStage::Idle {
            let dose = row.charged;
            self.events.push(EventKind::Charged {
                feeder: number,
                dose,
            });
        }
        *stage = row.stage;
        let mut met = false;
        if let Some(closed) = row.closed {
            let (fed, charged) = (closed.fed, closed.charged);
            stock.feed(fed);
            met = fed.0 > 0 && fed.0 >= charged.0 >> 1;
            self.events.push(EventKind::Booked {
                feeder: number,
                fed,
                charged,
            });
        }
        if row.run.0 > 0 {
            streak.0 = streak.0.saturating_add(elapsed.0);
        } else {
            *streak = Millis(0);
        }
        let before = machine.phase();
        let rule = locked.iter().next().map(rule_of);
        machine.step(row, ask.wants(), rule);
        let now = machine.phase();
        if now != before {
            self.events.push(EventKind::Phase {
                feeder: number,
                now,
            });
        }
        met || *streak >= FED_FOR
    }
}

fn failing<T: Copy>(reading: &Reading<T>, age_max: Millis) -> bool {
    reading.health != Health::Normal || reading.age > age_max
}

/// What the ledger holds of the last day for a feeder's product, in all bodies.
pub(crate) fn a_day<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &State<N, B, H, D>,
    feeder: usize,
) -> Dose {
    let account = limits.account(feeder);
    Dose((0..B).fold(0, |sum: u32, body| {
        sum.saturating_add(state.ledger.totals(account, body).1.0)
    }))
}

#[cfg(test)]
mod tests;

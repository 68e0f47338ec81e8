//! Properties (a) to (g) of one life, tick by tick, from facts, truth and what the guard says.

use dosewarden_guard::units::{Body, Fitted, Millis};
use dosewarden_guard::{
    Clear, CycleStage, Decision, Facts, Health, Limits, Lockout, LockoutSet, Mode, Product,
    Reading, Rule,
};

use crate::engine::Now;
use crate::truth::Truth;

type Held = Result<(), String>;

macro_rules! hold {
    ($ok:expr, $($text:tt)*) => {
        if !$ok { return Err(format!($($text)*)); }
    };
}

/// What the test itself has seen.
pub(crate) struct Watch<const N: usize, const B: usize> {
    /// For how long each witness has said flow: switch, meter, pump, and each feeder's cell.
    witnesses: Vec<u64>,
    body: Option<usize>,
    /// Flowing time since the last drop, by account and body; and by account alone.
    since_drop: Vec<Vec<u64>>,
    since_drive: Vec<u64>,
    stages: [CycleStage; N],
    /// Ticks in which nothing refused a demand but that nothing was charged.
    silent: [u32; N],
    lockouts: (LockoutSet, [LockoutSet; N]),
    /// What the last records that a power cut can leave hold at least.
    pub(crate) permitted: bool,
}

fn good<T: Copy>(reading: &Reading<T>, oldest: Millis) -> Option<T> {
    let fresh = reading.age <= oldest && reading.health == Health::Normal;
    fresh.then_some(reading.value)
}

/// One tick as the watch sees it.
pub(crate) struct Seen<'a, const N: usize> {
    pub(crate) elapsed: u64,
    pub(crate) now: &'a Now<N>,
    pub(crate) decision: &'a Decision<N>,
    pub(crate) lockouts: (LockoutSet, [LockoutSet; N]),
}

impl<const N: usize, const B: usize> Watch<N, B> {
    pub(crate) fn new(lockouts: (LockoutSet, [LockoutSet; N])) -> Self {
        Self {
            witnesses: vec![0; 3 + N],
            body: None,
            since_drop: vec![vec![0; B]; N],
            since_drive: vec![0; N],
            stages: [CycleStage::Idle; N],
            silent: [0; N],
            lockouts,
            permitted: false,
        }
    }

    /// The power fails in mid-tick: what ran until then was a drop like any other.
    pub(crate) fn power_fails(&mut self, limits: &Limits<N, B>, truth: &Truth) {
        self.drops(limits, truth);
    }

    /// After a power cut: what was proven is not any more; holds and purges stand still.
    pub(crate) fn power_cut(&mut self, lockouts: (LockoutSet, [LockoutSet; N])) {
        self.witnesses = vec![0; 3 + N];
        self.stages = [CycleStage::Idle; N];
        self.lockouts = lockouts;
    }

    fn witness(limits: &Limits<N, B>, facts: &Facts<N>) -> Vec<bool> {
        let spec = limits.spec();
        let oldest = spec.witness_age_max;
        let meter = good(&facts.flow_meter, oldest);
        let mut all = vec![
            !spec.flow_switch.is_fitted() || good(&facts.flow_switch, oldest) == Some(true),
            match spec.flow_meter {
                Fitted::Fitted(least) => meter.is_some_and(|flow| flow >= least),
                Fitted::NotFitted => true,
            },
            !spec.pump_contact.is_fitted() || good(&facts.pump_run, oldest) == Some(true),
        ];
        for (feeder, fact) in facts.feeders.iter().enumerate() {
            let cell = limits.feeder(feeder).unwrap().cell_flow_switch.is_fitted();
            all.push(!cell || good(&fact.cell_flow, oldest) == Some(true));
        }
        all
    }

    /// Everything that must hold in this tick.
    pub(crate) fn tick(
        &mut self,
        limits: &Limits<N, B>,
        truth: &mut Truth,
        seen: &Seen<'_, N>,
    ) -> Held {
        self.flow(limits, truth, seen);
        for feeder in 0..N {
            self.closed(limits, truth, seen, feeder)?;
            self.charged(limits, truth, seen, feeder)?;
            self.permit(limits, truth, seen, feeder)?;
            explained(seen.decision, feeder)?;
            self.silence(limits, seen, feeder)?;
        }
        self.persons(seen)?;
        self.lockouts = seen.lockouts;
        Ok(())
    }

    fn flow(&mut self, limits: &Limits<N, B>, truth: &mut Truth, seen: &Seen<'_, N>) {
        let spec = limits.spec();
        let sane = seen.elapsed > 0 && seen.elapsed <= u64::from(spec.tick_gap_max.0);
        let facts = &seen.now.facts;
        let says = Self::witness(limits, facts);
        let body = if spec.body_valves.is_fitted() {
            good(&facts.body, spec.witness_age_max)
                .map(|Body(body)| usize::from(body))
                .filter(|body| *body < B)
        } else {
            Some(0)
        };
        if body.is_some() && body != self.body {
            self.witnesses = vec![0; 3 + N];
            self.body = body;
        }
        for (proven, says) in self.witnesses.iter_mut().zip(&says) {
            *proven = if *says && sane {
                *proven + seen.elapsed
            } else {
                0
            };
        }
        let flowed = if sane && says[..3].iter().all(|says| *says) {
            seen.elapsed
        } else {
            0
        };
        truth.valves(B, body);
        for account in 0..N {
            self.since_drive[account] += flowed;
            if let Some(body) = body {
                self.since_drop[account][body] += flowed;
            }
        }
        self.drops(limits, truth);
    }

    fn drops(&mut self, limits: &Limits<N, B>, truth: &Truth) {
        for feeder in 0..N {
            if truth.on(feeder).0 > 0 {
                let account = limits.account(feeder);
                self.since_drive[account] = 0;
                for body in truth.fed_now(account) {
                    self.since_drop[account][body] = 0;
                }
            }
        }
    }

    /// (g) credit back never exceeds what was charged and not fed; and no cycle is past its caps.
    fn closed(
        &self,
        limits: &Limits<N, B>,
        truth: &Truth,
        seen: &Seen<'_, N>,
        feeder: usize,
    ) -> Held {
        let spec = limits.feeder(feeder).unwrap();
        let on = truth.cycle(feeder);
        let rate = u64::from(spec.rate_for_caps().0);
        let hang = truth.hang_ms;
        if let Some(closed) = seen.decision.feeders[feeder].closed {
            hold!(
                u64::from(closed.fed.0) * 3_600_000 >= on * rate,
                "(g) feeder {feeder}: {closed:?}, but {on} ms ran"
            );
        }
        if matches!(self.stages[feeder], CycleStage::Open | CycleStage::Closing) {
            let cap = spec
                .bodies
                .iter()
                .map(|body| body.cycle_cap.0)
                .max()
                .unwrap();
            hold!(
                on.saturating_sub(hang) * rate <= u64::from(cap) * 3_600_000,
                "(b) feeder {feeder}: a cycle of {on} ms is past its cap"
            );
            hold!(
                on.saturating_sub(hang) <= u64::from(spec.run_max.0),
                "(b) feeder {feeder}: a run of {on} ms is past run_max"
            );
        }
        Ok(())
    }

    /// (c) the hold has flowed since the last drop of this product in this body.
    fn charged(
        &mut self,
        limits: &Limits<N, B>,
        truth: &mut Truth,
        seen: &Seen<'_, N>,
        feeder: usize,
    ) -> Held {
        let row = &seen.decision.feeders[feeder];
        let before = std::mem::replace(&mut self.stages[feeder], row.stage);
        let resting = matches!(before, CycleStage::Idle | CycleStage::Closing);
        if !(resting && row.stage == CycleStage::Pending) {
            return Ok(());
        }
        truth.charged(feeder);
        let account = limits.account(feeder);
        let body = self.body.ok_or("(c) charged for no known body")?;
        let hold = limits.feeder(feeder).unwrap().bodies[body].spread_hold.0;
        let flowed = self.since_drop[account][body];
        hold!(
            flowed >= u64::from(hold),
            "(c) feeder {feeder}: charged {flowed} ms after the last drop, the hold is {hold}"
        );
        Ok(())
    }

    /// (a) flow by every witness for the whole proving time; (d) nothing incompatible.
    fn permit(
        &mut self,
        limits: &Limits<N, B>,
        truth: &mut Truth,
        seen: &Seen<'_, N>,
        feeder: usize,
    ) -> Held {
        let row = &seen.decision.feeders[feeder];
        let held = good(
            &seen.now.facts.feeders[feeder].hold_to_run,
            limits.spec().witness_age_max,
        );
        let manual = truth.manual(feeder, held == Some(true));
        let most = u64::from(limits.spec().manual_max.0);
        let by_hand = seen.now.requests[feeder].mode == Mode::Manual;
        if by_hand {
            hold!(
                manual.saturating_sub(truth.hang_ms) <= most || row.run.0 == 0,
                "manual feed of {manual} ms"
            );
        }
        if row.run.0 > 0 {
            self.permitted = true;
            hold!(row.vetoes.is_empty(), "a permit against {:?}", row.vetoes);
            let prove = u64::from(limits.spec().flow_prove.0);
            for (witness, proven) in self.witnesses.iter().enumerate() {
                let binds = witness < 3 || witness == 3 + feeder;
                hold!(
                    !binds || *proven >= prove,
                    "(a) feeder {feeder}: a permit, witness {witness} proven for {proven} ms"
                );
            }
            self.alone(limits, truth, seen, feeder)?;
        }
        truth.permit(
            feeder,
            u64::from(row.run.0),
            self.body.unwrap_or(0),
            by_hand,
        );
        Ok(())
    }

    fn alone(
        &self,
        limits: &Limits<N, B>,
        truth: &Truth,
        seen: &Seen<'_, N>,
        feeder: usize,
    ) -> Held {
        let acid = |one: usize| limits.product(one) == Some(Product::Acid);
        for other in (0..N).filter(|other| acid(*other) != acid(feeder)) {
            let since = self.since_drive[limits.account(other)];
            hold!(
                seen.decision.feeders[other].run.0 == 0
                    && truth.on(other).0 == 0
                    && since >= u64::from(limits.spec().purge.0),
                "(d) feeder {feeder} runs {since} ms of flow after feeder {other}"
            );
        }
        Ok(())
    }

    /// (f) a demand that is worth a cycle and that no rule refuses is charged.
    fn silence(&mut self, limits: &Limits<N, B>, seen: &Seen<'_, N>, feeder: usize) -> Held {
        let rows = &seen.decision.feeders;
        let asks = seen.now.requests[feeder].dose >= limits.feeder(feeder).unwrap().dose_min;
        // One charge at a time: another feeder's may be waiting for its record.
        let waits = rows.iter().any(|row| row.stage == CycleStage::Pending);
        let idle = rows[feeder].stage == CycleStage::Idle;
        let nobody = rows[feeder].vetoes.is_only(Rule::ChargeDurable);
        let silent = asks && idle && nobody && !waits;
        self.silent[feeder] = if silent { self.silent[feeder] + 1 } else { 0 };
        hold!(
            self.silent[feeder] < 4,
            "(f) feeder {feeder} asks, no rule refuses, and nothing is charged"
        );
        Ok(())
    }

    /// (e) a lockout ends by a person's release only, and not while its cause stands.
    fn persons(&self, seen: &Seen<'_, N>) -> Held {
        use dosewarden_guard::{Action, ActionResult, Inhibits};
        let action = seen.now.action.map(|person| person.action);
        let done = seen.decision.action == Some(ActionResult::Done);
        let sets = |(site, feeders): (LockoutSet, [LockoutSet; N])| {
            std::iter::once((site, 0)).chain(feeders.into_iter().zip(0..N))
        };
        if let (
            Some(Action::Release {
                lockout, feeder, ..
            }),
            true,
        ) = (action, done)
        {
            let (site, feeders) = seen.lockouts;
            let stands = site.union(feeders[feeder]).has(lockout);
            hold!(!stands, "{lockout:?} was released, and stands");
        }
        for ((before, of), (after, _)) in sets(self.lockouts).zip(sets(seen.lockouts)) {
            for lockout in before.iter().filter(|lockout| !after.has(*lockout)) {
                let asked = match action {
                    Some(Action::Release {
                        lockout: which,
                        feeder,
                        ..
                    }) => which == lockout && (lockout.is_of_site() || feeder == of),
                    Some(Action::Initialise) => lockout == Lockout::RecordLost,
                    _ => false,
                };
                hold!(asked && done, "(e) {lockout:?} ended without a person");
                let facts = &seen.now.facts;
                let stands = lockout == Lockout::EmergencyStop
                    && facts.inhibits.any_of(Inhibits::EMERGENCY_STOP);
                hold!(!stands, "(e) {lockout:?} ended while its cause stands");
            }
            let entered = after.iter().any(|lockout| !before.has(lockout));
            hold!(
                !entered || (seen.decision.changed && seen.decision.save),
                "(e) a lockout that is not saved in its tick"
            );
        }
        Ok(())
    }
}

/// (f) every refusal names what clears it; and a feeder that asks and has no permit has a reason.
fn explained<const N: usize>(decision: &Decision<N>, feeder: usize) -> Held {
    let row = &decision.feeders[feeder];
    for rule in row.vetoes.iter() {
        hold!(
            row.clears(rule) != Clear::Nothing,
            "(f) {} refuses and names no way out",
            rule.name()
        );
    }
    hold!(
        row.run.0 > 0 || !row.vetoes.is_empty() || row.stage != CycleStage::Open,
        "(f) feeder {feeder} does not run, and no rule says why"
    );
    Ok(())
}

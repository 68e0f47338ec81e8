//! Drives and cycles.

use dosewarden_guard::units::{Dose, Fitted, Rate};
use dosewarden_guard::{Lockout, Mode, Product, Rule, Stage};

use super::water::Water;
use super::{Feeder, Judged, Model, Phase, Tick, signed};

const HOUR: u64 = 3_600_000;

impl Feeder {
    pub(super) fn permit_is(&mut self, run: u64) {
        if self.permit > 0 || run > 0 {
            self.off = 0;
        }
        self.permit = run;
    }
}

pub(super) const fn incompatible(one: Product, two: Product) -> bool {
    matches!(one, Product::Acid) != matches!(two, Product::Acid)
}

impl<const N: usize, const B: usize> Model<N, B> {
    /// The rate at which caps hold: the largest there can be.
    fn rate(&self, feeder: usize) -> u64 {
        let spec = self.feeder_spec(feeder);
        let Rate(rate) = if spec.catch_test_on_record {
            spec.rate
        } else {
            spec.rate_any_tube
        };
        let raise = if spec.catch_test_on_record {
            100 + u64::from(spec.rate_tolerance.0)
        } else {
            100
        };
        (u64::from(rate) * raise).div_ceil(100)
    }

    fn dose(&self, feeder: usize, on: u64) -> u64 {
        (self.rate(feeder) * on).div_ceil(HOUR)
    }

    fn run_of(&self, feeder: usize, dose: u64) -> u64 {
        dose * HOUR / self.rate(feeder)
    }

    /// Without a timer that cuts exactly, a tick's worth is kept back.
    pub(super) fn grain(&self, feeder: usize) -> u64 {
        if self.feeder_spec(feeder).cut_timer.is_fitted() {
            1
        } else {
            u64::from(self.spec.tick_gap_max.0)
        }
    }

    pub(super) fn drive_off(&self, feeder: usize) -> u64 {
        u64::from(self.feeder_spec(feeder).drive_off.0)
    }

    /// Counts what may have been fed since the last tick.
    pub(super) fn drives(&mut self, water: &Water, tick: &Tick<N>) {
        let mut on = vec![0; N];
        for (feeder, on) in on.iter_mut().enumerate() {
            *on = self.drive(feeder, water, tick.elapsed);
            let button = water.feeders[feeder].button;
            let own = &mut self.feeders[feeder];
            if own.mode == Mode::Manual {
                own.manual += *on;
            }
            if button == Some(false) {
                own.manual = 0;
            }
            if *on == 0 {
                continue;
            }
            if matches!(own.phase, Phase::Open | Phase::Closing) {
                own.run += *on;
                let charged_in = own.body;
                self.overran(feeder);
                self.elsewhere(feeder, charged_in, water.body, *on);
            } else {
                // Outside a cycle: charged at once.
                let (account, dose) = (self.account(feeder), self.dose(feeder, *on));
                self.book(account, water.body, dose);
                self.changed = true;
            }
        }
        self.line(water, &on);
    }

    /// A run past what was charged is charged as it is seen.
    fn overran(&mut self, feeder: usize) {
        let fed = self.dose(feeder, self.feeders[feeder].run);
        let most = self.feeders[feeder].allowed + self.drive_off(feeder);
        let own = &mut self.feeders[feeder];
        if own.run > most && fed > own.charged() {
            own.charge = fed - own.slice;
            self.changed = true;
        }
    }

    /// What a cycle feeds while the valves are, or may be, somewhere else counts there as well.
    fn elsewhere(&mut self, feeder: usize, charged_in: usize, valves: Option<usize>, on: u64) {
        let (account, dose) = (self.account(feeder), self.dose(feeder, on));
        for body in (0..B).filter(|body| *body != charged_in) {
            if valves.is_none() || valves == Some(body) {
                self.book(account, Some(body), dose);
                self.changed = true;
            }
        }
    }

    fn drive(&mut self, feeder: usize, water: &Water, elapsed: u64) -> u64 {
        let cuts = self.feeder_spec(feeder).cut_timer.is_fitted();
        let drive_off = self.drive_off(feeder);
        let start = self.feeder_spec(feeder).feedback.get();
        let own = &mut self.feeders[feeder];
        own.deaf_before = own.deaf;
        let told = match own.permit {
            0 => 0,
            permit if cuts && water.sane => permit.min(elapsed),
            _ => elapsed,
        };
        // The time to stop, after a permit that ended: before this tick, or by the timer within it.
        let after = if own.permit == 0 {
            drive_off.saturating_sub(own.off).min(elapsed)
        } else {
            (told + drive_off).min(elapsed)
        };
        if own.permit == 0 {
            own.off += water.good;
        }
        let Fitted::Fitted(Some(on)) = water.feeders[feeder].feedback else {
            own.clear = 0;
            return told.max(after);
        };
        own.against = match on.saturating_sub(told) {
            0 => 0,
            excess => own.against + excess,
        };
        if own.against > drive_off {
            self.ran_against[feeder] = true;
        }
        if on > 0 {
            own.deaf = 0;
            own.clear = 0;
        } else {
            own.deaf += told;
            own.clear = if water.sane {
                own.clear + water.good
            } else {
                0
            };
        }
        debug_assert!(start.is_some());
        told.max(on)
    }

    fn line(&mut self, water: &Water, on: &[u64]) {
        if water.flow {
            self.flow += water.good;
        }
        let mut stopped = false;
        for (feeder, on) in on.iter().enumerate().filter(|(_, on)| **on > 0) {
            let account = self.account(feeder);
            self.drive_mark[account] = signed(self.flow);
            if !water.flow {
                self.standing[account] += on;
                stopped = true;
            }
        }
        if stopped {
            self.purge_mark = signed(self.flow);
        }
        if self.purged() >= u64::from(self.spec.purge.0) {
            self.standing = vec![0; N];
        }
    }

    /// More than the overrun of one product, or two products, stand in the line.
    pub(super) fn fouled(&self) -> bool {
        let gap = u64::from(self.spec.tick_gap_max.0);
        let standing: Vec<usize> = (0..N).filter(|one| self.standing[*one] > 0).collect();
        standing.len() > 1
            || standing
                .iter()
                .any(|one| self.standing[*one] > gap + self.drive_off(*one))
    }

    /// Running against command withdraws the series contact, until a person released it.
    pub(super) fn master_withdrawn(&self) -> bool {
        self.ran_against.contains(&true)
    }

    pub(super) fn confirm(&mut self) {
        for feeder in 0..N {
            let more = self.run_of(feeder, self.feeders[feeder].slice);
            let own = &mut self.feeders[feeder];
            if own.phase == Phase::Pending {
                own.phase = Phase::Open;
            }
            if own.phase == Phase::Open {
                own.allowed += more;
            }
            own.charge += std::mem::take(&mut own.slice);
        }
    }

    /// Moves one feeder's cycle on. What it may run.
    pub(super) fn advance(
        &mut self,
        feeder: usize,
        judged: &Judged,
        waits: bool,
        water: &Water,
        tick: &Tick<N>,
    ) -> u64 {
        let request = tick.requests[feeder];
        let wanted = u64::from(request.dose.0);
        let may_charge = judged
            .vetoes
            .iter()
            .all(|rule| *rule == Rule::ChargeDurable)
            && !waits;
        let mut run = 0;
        match self.feeders[feeder].phase {
            Phase::Rest => {
                if wanted > 0 && may_charge && !self.other_pending(feeder) {
                    self.open(feeder, wanted, request.mode, judged, water);
                }
            }
            Phase::Pending | Phase::Open => {
                let cut = self.cut_too_long(feeder, tick.elapsed);
                let own = &mut self.feeders[feeder];
                let moved = water.body.is_some_and(|body| body != own.body);
                let withdrawn = wanted == 0 || request.mode != own.mode;
                if withdrawn || moved || cut || judged.vetoes.iter().any(|rule| ends(*rule)) {
                    own.phase = Phase::Closing;
                } else if own.phase == Phase::Open && judged.vetoes.is_empty() {
                    run = judged.most_run.min(u64::from(self.spec.tick_gap_max.0));
                    own.cut = 0;
                    if !waits {
                        self.next_slice(feeder, wanted, judged.most_dose);
                    }
                }
            }
            Phase::Closing => {}
        }
        self.feeders[feeder].permit_is(run);
        if self.feeders[feeder].phase == Phase::Closing {
            self.close(feeder, water);
        }
        run
    }

    fn other_pending(&self, feeder: usize) -> bool {
        let product = self.product(feeder);
        (0..N).any(|other| {
            let its = self.product(other);
            other != feeder
                && self.feeders[other].phase == Phase::Pending
                && (its == product || incompatible(its, product))
        })
    }

    fn open(&mut self, feeder: usize, wanted: u64, mode: Mode, judged: &Judged, water: &Water) {
        let spec = self.feeder_spec(feeder);
        let Some(body) = water.body else {
            return;
        };
        let (Dose(slice_max), Dose(dose_min)) = (spec.slice_max, spec.dose_min);
        let charge = wanted.min(judged.most_dose).min(u64::from(slice_max));
        let run = self.run_of(feeder, charge);
        let allowed = run.saturating_sub(self.drive_off(feeder));
        if charge < u64::from(dose_min) || allowed < self.grain(feeder) {
            return;
        }
        let own = &mut self.feeders[feeder];
        own.phase = Phase::Pending;
        own.mode = mode;
        own.body = body;
        own.charge = charge;
        own.slice = 0;
        own.allowed = allowed;
        own.run = 0;
        own.cut = 0;
        let account = self.account(feeder);
        self.responses[account].before = water.ph;
        self.responses[account].awaited = 0;
        self.changed = true;
    }

    /// The next slice is charged once half of this one has run.
    fn next_slice(&mut self, feeder: usize, wanted: u64, most_dose: u64) {
        let spec = self.feeder_spec(feeder);
        let (slice_max, dose_min) = (u64::from(spec.slice_max.0), u64::from(spec.dose_min.0));
        let own = &self.feeders[feeder];
        let slice = wanted
            .saturating_sub(own.charge)
            .min(most_dose)
            .min(slice_max);
        let half = self.dose(feeder, own.left()) <= slice_max / 2;
        if own.slice == 0 && slice >= dose_min && half {
            self.feeders[feeder].slice = slice;
            self.changed = true;
        }
    }

    fn cut_too_long(&mut self, feeder: usize, elapsed: u64) -> bool {
        let within = u64::from(self.spec.resume_within.0);
        let own = &mut self.feeders[feeder];
        if own.phase != Phase::Open || own.permit > 0 {
            own.cut = 0;
            return false;
        }
        own.cut += elapsed;
        own.cut > within && own.run > 0
    }

    /// Books a cycle once its drive is known to be off; once it must be, in full.
    fn close(&mut self, feeder: usize, water: &Water) {
        let (account, drive_off) = (self.account(feeder), self.drive_off(feeder));
        let waited = drive_off + u64::from(self.spec.tick_gap_max.0);
        let own = &self.feeders[feeder];
        let never = own.run == 0 && own.off > 0;
        let off = own.off > 0
            && own.off >= drive_off
            && match water.feeders[feeder].feedback {
                Fitted::NotFitted => true,
                Fitted::Fitted(on) => on == Some(0),
            };
        if !(never || off || own.off > waited) {
            return;
        }
        let ran = self.dose(feeder, own.run);
        // By limits that changed by themselves nobody can say what a run gave.
        let unsure = self.locked(Lockout::LimitsSeal, 0);
        let fed = if (off || never) && !unsure {
            ran
        } else {
            ran.max(own.charged())
        };
        let used = own.allowed.saturating_sub(own.run) < self.grain(feeder) && own.slice == 0;
        let body = own.body;
        let cap = u64::from(self.feeder_spec(feeder).bodies[body].cycle_cap.0);
        if !never {
            self.book(account, Some(body), fed);
            // A cycle that a small cap made small, and that used its charge, counts for a quarter.
            let small = self.responses[account].quarter || self.stage == Stage::Reduced;
            let least = u64::from(small && used);
            let here = self.selected == Some(body);
            let awaited = (fed / (cap / 4).max(1)).min(4).max(least);
            self.responses[account].awaited = if here { awaited } else { 0 };
            self.responses[account].since = 0;
        }
        let own = &mut self.feeders[feeder];
        own.phase = Phase::Rest;
        own.charge = 0;
        own.slice = 0;
        own.allowed = 0;
        own.run = 0;
        own.cut = 0;
        self.changed = true;
    }
}

/// Rules whose refusal ends the cycle; any other only cuts it.
const fn ends(rule: Rule) -> bool {
    matches!(
        rule,
        Rule::ClockSane
            | Rule::StateSealed
            | Rule::LimitsSealed
            | Rule::CycleCap
            | Rule::RunTimeCap
            | Rule::NoLockout
            | Rule::ManualBounded
            | Rule::FallbackBounded
    )
}

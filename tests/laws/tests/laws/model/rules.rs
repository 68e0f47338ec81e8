//! The table: for each rule, its statement as a condition, and when it asks for a person.

use dosewarden_guard::units::{Dose, Fitted, MilliPh, Millivolts};
use dosewarden_guard::{
    BodyLimits, Cutoff, FeedRequest, Governor, Inhibits, Lockout, Mode, Rule, Stage,
};

use super::feeders::incompatible;
use super::water::Water;
use super::{Judged, Model, Phase, Tick};

/// One feeder in one tick.
struct Case<'a, const N: usize> {
    feeder: usize,
    account: usize,
    body: usize,
    limits: BodyLimits,
    request: FeedRequest,
    water: &'a Water,
    tick: &'a Tick<N>,
}

impl Judged {
    fn refuse(&mut self, rule: Rule, when: bool) {
        if when {
            self.vetoes.push(rule);
        }
    }

    fn lock(&mut self, rule: Rule, when: bool, lockout: Lockout) {
        self.refuse(rule, when);
        if when {
            self.locks.push(lockout);
        }
    }
}

impl<const N: usize, const B: usize> Model<N, B> {
    pub(super) fn judge(&self, feeder: usize, water: &Water, tick: &Tick<N>) -> Judged {
        let own = &self.feeders[feeder];
        let body = if own.phase == Phase::Rest {
            self.selected.unwrap_or(0)
        } else {
            own.body
        };
        let case = Case {
            feeder,
            account: self.account(feeder),
            body,
            limits: self.feeder_spec(feeder).bodies[body],
            request: tick.requests[feeder],
            water,
            tick,
        };
        let mut judged = Judged {
            vetoes: Vec::new(),
            locks: Vec::new(),
            most_run: u64::MAX,
            most_dose: u64::MAX,
        };
        self.seals_and_flow(&case, &mut judged);
        self.probes(&case, &mut judged);
        self.doses(&case, &mut judged);
        self.products(&case, &mut judged);
        self.plant(&case, &mut judged);
        self.persons(&case, &mut judged);
        judged
    }

    fn seals_and_flow(&self, case: &Case<'_, N>, judged: &mut Judged) {
        let (site, water) = (&self.spec, case.water);
        judged.refuse(Rule::ClockSane, !water.sane);
        let broken = !case.tick.state_intact;
        judged.lock(Rule::StateSealed, broken, Lockout::StateSeal);
        let broken = !case.tick.limits_intact;
        judged.lock(Rule::LimitsSealed, broken, Lockout::LimitsSeal);
        let delay = if self.new_probe {
            site.power_on_delay_new_probe
        } else {
            site.power_on_delay
        };
        judged.refuse(Rule::PowerOnDelay, self.powered < u64::from(delay.0));
        let prove = u64::from(site.flow_prove.0);
        let site_flow = water.flow && self.proven >= prove;
        let cell_fitted = self.feeder_spec(case.feeder).cell_flow_switch.is_fitted();
        let cell = water.feeders[case.feeder].cell && self.feeders[case.feeder].cell >= prove;
        judged.refuse(Rule::FlowProven, !site_flow || (cell_fitted && !cell));
        let stuck = self.disagree > u64::from(site.stuck_flow_max.0);
        judged.lock(Rule::WitnessesAgree, stuck, Lockout::Witnesses);
        let valves = site.body_valves.get();
        let steady = valves.is_none_or(|steady| self.steady >= u64::from(steady.0));
        judged.refuse(Rule::BodyKnown, water.body.is_none() || !steady);
    }

    fn probes(&self, case: &Case<'_, N>, judged: &mut Judged) {
        let water = case.water;
        let spec = self.feeder_spec(case.feeder);
        let waived = case.request.mode != Mode::Automatic || spec.governor == Governor::TimedShare;
        let settled = self.settled >= u64::from(self.spec.probe_settle.0);
        judged.refuse(Rule::ProbeSettled, !waived && !settled);
        let failed = self.feeders[case.feeder].failed > u64::from(self.spec.probe_failure_max.0);
        let trusted = water.feeders[case.feeder].trusted;
        judged.lock(Rule::ProbeTrusted, !waived && failed, Lockout::Probe);
        judged.refuse(Rule::ProbeTrusted, !waived && !failed && !trusted);
        let inside = match case.limits.cutoff {
            Cutoff::AbovePh(MilliPh(limit)) => water.ph.is_some_and(|ph| ph > limit),
            Cutoff::BelowPh(MilliPh(limit)) => water.ph.is_some_and(|ph| ph < limit),
            Cutoff::Oxidiser {
                orp: Millivolts(limit),
                ph_floor,
                orp_ph,
                orp_fall,
                ..
            } => {
                // The cut-off falls with the pH above its own; a part of a mV counts as one.
                let above = water.ph.map_or(0, |ph| i64::from(ph - orp_ph.0).max(0));
                let fall = (above * i64::from(orp_fall.0) + 999) / 1000;
                let limit = i64::from(limit) - fall;
                let by_orp = spec.governor == Governor::Orp && case.request.mode != Mode::Fallback;
                let orp = !by_orp || water.orp.is_some_and(|orp| i64::from(orp) < limit);
                orp && water.ph.is_some_and(|ph| ph >= ph_floor.0)
            }
        };
        let manual = case.request.mode == Mode::Manual;
        judged.refuse(Rule::InsideCutoff, !manual && !inside);
        if let (
            Cutoff::Oxidiser {
                ph_weak,
                weak_share,
                ..
            },
            Some(ph),
            false,
        ) = (case.limits.cutoff, water.ph, manual)
            && ph > ph_weak.0
        {
            let share =
                self.cap(case.limits.cycle_cap, &case.limits) * u64::from(weak_share.0) / 100;
            // Weak chlorine is better than none: the smallest dose is always allowed.
            let share = share.max(u64::from(spec.dose_min.0));
            let charged = self.feeders[case.feeder].charged();
            judged.most_dose = judged.most_dose.min(share.saturating_sub(charged));
        }
    }

    /// A cap in the stage that applies.
    fn cap(&self, cap: Dose, limits: &BodyLimits) -> u64 {
        match self.stage {
            Stage::Full => u64::from(cap.0),
            Stage::Reduced => u64::from(cap.0) * u64::from(limits.reduced_share.0) / 100,
        }
    }

    /// Charged by all feeders of the product in this body, not yet booked.
    fn charged(&self, case: &Case<'_, N>) -> u64 {
        (0..N)
            .filter(|other| self.account(*other) == case.account)
            .map(|other| &self.feeders[other])
            .filter(|its| its.phase != Phase::Rest && its.body == case.body)
            .map(super::Feeder::charged)
            .sum()
    }

    /// Whether a rolling total with its charge is past its cap; what it leaves.
    fn rolling(&self, case: &Case<'_, N>, booked: u64, cap: u64) -> (bool, u64) {
        let total = booked + self.charged(case);
        let left = cap.saturating_sub(total);
        let Dose(dose_min) = self.feeder_spec(case.feeder).dose_min;
        let refuses = if self.feeders[case.feeder].in_cycle() {
            total > cap
        } else {
            left < u64::from(dose_min)
        };
        (refuses, left)
    }

    fn doses(&self, case: &Case<'_, N>, judged: &mut Judged) {
        let spec = self.feeder_spec(case.feeder);
        let own = &self.feeders[case.feeder];
        let grain = self.grain(case.feeder);
        let mut cap = self.cap(case.limits.cycle_cap, &case.limits);
        if self.responses[case.account].quarter {
            cap = (cap / 4).max(u64::from(spec.dose_min.0));
        }
        let open = own.phase == Phase::Open;
        let used = open && own.left() < grain;
        judged.refuse(Rule::CycleCap, used || own.charged() > cap);
        if open {
            judged.most_run = judged.most_run.min(own.left());
        }
        let run_max = u64::from(spec.run_max.0);
        let overrun = u64::from(self.spec.tick_gap_max.0) + self.drive_off(case.feeder);
        let past = own.run > run_max + overrun;
        judged.lock(Rule::RunTimeCap, past, Lockout::RunTime);
        // The time to stop is part of the run.
        let run_left =
            (run_max.saturating_sub(self.drive_off(case.feeder))).saturating_sub(own.run);
        let over = own.in_cycle() && run_left < grain;
        judged.refuse(Rule::RunTimeCap, !past && over);
        let other_in_cycle = (0..N).any(|other| {
            other != case.feeder
                && self.account(other) == case.account
                && self.feeders[other].phase != Phase::Rest
        });
        let spread = self.since_cycle(case.account, case.body);
        let held = other_in_cycle || spread < u64::from(case.limits.spread_hold.0);
        judged.refuse(Rule::SpreadHold, !own.in_cycle() && held);
        let hour = self.hour(case.account, case.body);
        let (refuses, hour_left) =
            self.rolling(case, hour, self.cap(case.limits.hour_cap, &case.limits));
        judged.refuse(Rule::HourCap, refuses);
        let day = self.day(case.account, case.body);
        let (refuses, day_left) =
            self.rolling(case, day, self.cap(case.limits.day_cap, &case.limits));
        judged.refuse(Rule::DayCap, refuses);
        judged.most_run = judged.most_run.min(run_left);
        for left in [cap.saturating_sub(own.charged()), hour_left, day_left] {
            judged.most_dose = judged.most_dose.min(left);
        }
        judged.refuse(Rule::ChargeDurable, !open);
    }

    fn products(&self, case: &Case<'_, N>, judged: &mut Judged) {
        let product = self.product(case.feeder);
        let purge = u64::from(self.spec.purge.0);
        let meets = (0..N)
            .filter(|other| incompatible(self.product(*other), product))
            .any(|other| {
                let may_run = match case.water.feeders[other].feedback {
                    Fitted::NotFitted => false,
                    Fitted::Fitted(on) => on != Some(0),
                };
                let first = self.product(other) == dosewarden_guard::Product::Acid
                    && case.tick.requests[other].dose.0 > 0;
                self.feeders[other].permit > 0
                    || may_run
                    || first
                    || self.since_drive(self.account(other)) < purge
            });
        judged.refuse(Rule::OneAtATime, meets);
        let fouled = self.fouled();
        judged.lock(Rule::LineClear, fouled, Lockout::Line);
        judged.refuse(Rule::LineClear, !fouled && self.purged() < purge);
        let response = &self.responses[case.account];
        judged.lock(Rule::ResponseSane, response.wrong, Lockout::Response);
        let waits = !self.feeders[case.feeder].in_cycle()
            && response.unanswered >= self.spec.response.unanswered_max
            && response.since < u64::from(self.spec.response.probe_cycle_every.0);
        judged.refuse(Rule::ResponseSane, !response.wrong && waits);
    }

    fn plant(&self, case: &Case<'_, N>, judged: &mut Judged) {
        let fact = &case.water.feeders[case.feeder];
        judged.refuse(Rule::StockPresent, !fact.stock);
        let spec = self.feeder_spec(case.feeder);
        let own = &self.feeders[case.feeder];
        // The contact in series is open for all while any drive runs against command.
        let mut held = self.master_withdrawn();
        let mut disobeys = false;
        if let (Fitted::Fitted(on), Some(start)) = (fact.feedback, spec.feedback.get()) {
            disobeys =
                own.against > self.drive_off(case.feeder) || own.deaf_before > u64::from(start.0);
            judged.lock(Rule::DriveObeys, disobeys, Lockout::Drive);
            held |= on.is_none();
        }
        judged.refuse(Rule::DriveObeys, held && !disobeys);
        let outside = match (self.spec.hours.get(), case.water.minute) {
            (None, _) => false,
            (Some(_), None) => true,
            (Some(hours), Some(minute)) => !(hours.open.0..hours.close.0).contains(&minute),
        };
        judged.refuse(Rule::WindowOpen, outside);
    }

    fn persons(&self, case: &Case<'_, N>, judged: &mut Judged) {
        judged.refuse(Rule::LedgerTrusted, self.lost.is_some());
        // A person who feeds by hand, or entered fallback, does so because the probe has failed.
        let waived = case.request.mode != Mode::Automatic;
        let binds = |number: u8, of: usize| {
            let lockout = Lockout::ALL[usize::from(number)];
            (lockout.is_of_site() || of == case.feeder) && !(waived && lockout == Lockout::Probe)
        };
        let locked = self.lockouts.iter().any(|(number, of)| binds(*number, *of));
        judged.refuse(Rule::NoLockout, locked);
        let inhibits = case.water.inhibits;
        let stop = inhibits.any_of(Inhibits::EMERGENCY_STOP);
        judged.lock(Rule::InhibitsClear, stop, Lockout::EmergencyStop);
        judged.refuse(Rule::InhibitsClear, !stop && !inhibits.is_empty());
        if case.request.mode == Mode::Manual {
            let held = case.water.feeders[case.feeder].button == Some(true);
            let used = self.feeders[case.feeder].manual;
            let most = u64::from(self.spec.manual_max.0);
            let left = most.saturating_sub(used + self.drive_off(case.feeder));
            judged.refuse(Rule::ManualBounded, !held || left < self.grain(case.feeder));
            judged.most_run = judged.most_run.min(left);
        }
        if case.request.mode == Mode::Fallback {
            let caps = case.limits.fallback.get().filter(|_| self.fallback > 0);
            let Some(caps) = caps else {
                judged.refuse(Rule::FallbackBounded, true);
                return;
            };
            let day = self.day(case.account, case.body);
            let (refuses, left) = self.rolling(case, day, u64::from(caps.day.0));
            judged.refuse(Rule::FallbackBounded, refuses);
            let charged = self.feeders[case.feeder].charged();
            let cycle = u64::from(caps.cycle.0).saturating_sub(charged);
            judged.most_dose = judged.most_dose.min(left).min(cycle);
        }
    }
}

//! The table: which rule reads what. One line a rule; a rule without a line would not compile, and
//! one whose line did not run would count as a veto ([`Answer::NOT_RUN`]).

use super::{
    Context, Rule, RuleSet, body_known, charge_durable, clock_sane, cycle_cap, day_cap,
    drive_obeys, fallback_bounded, flow_proven, hour_cap, inhibits_clear, inside_cutoff,
    ledger_trusted, limits_sealed, line_clear, manual_bounded, no_lockout, one_at_a_time,
    power_on_delay, probe_settled, probe_trusted, response_sane, run_time_cap, spread_hold,
    state_sealed, stock_present, window_open, witnesses_agree,
};
use crate::answer::{Answer, PackedClear};
use crate::lockout::LockoutSet;
use crate::request::Mode;
use crate::seen::DriveSeen;
use crate::state::{CycleStage, LedgerTrust};
use crate::units::{Dose, Millis};

/// All answers for one feeder, put together as they come.
pub(crate) struct Answers<'a> {
    ran: RuleSet,
    /// Rules that refuse.
    pub(crate) vetoes: RuleSet,
    /// The smallest answers so far; dose and run.
    pub(crate) most_run: Millis,
    pub(crate) most_dose: Dose,
    /// Lockouts that the rules enter.
    pub(crate) site: LockoutSet,
    pub(crate) feeder: LockoutSet,
    clears: &'a mut [PackedClear; Rule::COUNT],
}

impl<'a> Answers<'a> {
    pub(crate) const fn new(clears: &'a mut [PackedClear; Rule::COUNT]) -> Self {
        Self {
            ran: RuleSet::NONE,
            vetoes: RuleSet::NONE,
            most_run: Answer::ALLOW.most_run,
            most_dose: Answer::ALLOW.most_dose,
            site: LockoutSet::NONE,
            feeder: LockoutSet::NONE,
            clears,
        }
    }

    /// Takes one rule's answer. The same as [`Answer::and`], in place.
    #[inline]
    fn take(&mut self, rule: Rule, answer: Answer) {
        self.ran = self.ran.with(rule);
        self.most_run = Millis(self.most_run.0.min(answer.most_run.0));
        self.most_dose = Dose(self.most_dose.0.min(answer.most_dose.0));
        if answer.refuses {
            self.refuse(rule, answer);
        }
    }

    #[cold]
    fn refuse(&mut self, rule: Rule, answer: Answer) {
        self.vetoes = self.vetoes.with(rule);
        if let Some(clears) = self.clears.get_mut(rule.index()) {
            *clears = PackedClear::pack(answer.clear);
        }
        match answer.lockout {
            Some(lockout) if lockout.is_of_site() => self.site = self.site.with(lockout),
            Some(lockout) => self.feeder = self.feeder.with(lockout),
            None => {}
        }
    }

    /// A rule that did not run is a veto.
    fn finish(&mut self) {
        if self.ran == RuleSet::ALL {
            return;
        }
        for rule in Rule::ALL {
            if !self.ran.has(rule) {
                self.take(rule, Answer::NOT_RUN);
            }
        }
    }
}

/// Runs every rule, without an early exit. `charge_durable` comes last: what the others allow is
/// what may be charged, and is returned.
pub(crate) fn judge<const N: usize, const B: usize, const H: usize, const D: usize>(
    c: &Context<'_, N, B, H, D>,
    all: &mut Answers<'_>,
) -> Answer {
    judge_plant(c, all);
    judge_doses(c, all);
    judge_persons(c, all);
    let charge = Answer {
        refuses: !all.vetoes.is_empty(),
        most_run: all.most_run,
        most_dose: all.most_dose,
        ..Answer::ALLOW
    };
    all.take(Rule::ChargeDurable, charge_durable::judge(c.own.stage));
    all.finish();
    charge
}

/// Rules on machine, water flow, probes and drives.
fn judge_plant<const N: usize, const B: usize, const H: usize, const D: usize>(
    c: &Context<'_, N, B, H, D>,
    all: &mut Answers<'_>,
) {
    let (site, state, own) = (c.limits.spec(), c.state, c.own);
    all.take(
        Rule::ClockSane,
        clock_sane::judge(c.seen.elapsed, site.tick_gap_max),
    );
    all.take(Rule::StateSealed, state_sealed::judge(c.state_intact));
    all.take(Rule::LimitsSealed, limits_sealed::judge(c.limits_intact));
    all.take(
        Rule::PowerOnDelay,
        power_on_delay::judge(state.powered, c.power_on_delay()),
    );
    all.take(
        Rule::FlowProven,
        flow_proven::judge(c.site_flow(), c.cell_flow(), site.flow_prove),
    );
    all.take(
        Rule::WitnessesAgree,
        witnesses_agree::judge(state.disagree, site.stuck_flow_max),
    );
    all.take(
        Rule::ProbeSettled,
        probe_settled::judge(
            c.probe_waived(),
            c.seen.flow,
            state.settled,
            site.probe_settle,
        ),
    );
    all.take(
        Rule::ProbeTrusted,
        probe_trusted::judge(
            c.probe_waived(),
            c.fact.governor_trusted,
            own.probe_failed,
            site.probe_failure_max,
        ),
    );
    all.take(
        Rule::InsideCutoff,
        inside_cutoff::judge(
            c.request.mode == Mode::Manual,
            c.body.cutoff,
            c.water(),
            c.caps.cycle,
            own.charged(),
            c.spec.dose_min,
        ),
    );
    all.take(
        Rule::BodyKnown,
        body_known::judge(site.body_valves.get(), c.seen.body.is_some(), state.steady),
    );
    all.take(Rule::StockPresent, stock_present::judge(c.fact.stock));
    all.take(Rule::DriveObeys, {
        let known = c.fact.drive != DriveSeen::Unknown;
        let (against, deaf) = (own.against, c.deaf);
        let seen = drive_obeys::Obedience {
            known,
            against,
            deaf,
            master_open: c.master_open,
        };
        drive_obeys::judge(seen, c.spec.drive_off, c.spec.feedback.get())
    });
}

/// Rules on what was fed and what stands in line and water.
fn judge_doses<const N: usize, const B: usize, const H: usize, const D: usize>(
    c: &Context<'_, N, B, H, D>,
    all: &mut Answers<'_>,
) {
    let (site, state, own) = (c.limits.spec(), c.state, c.own);
    all.take(
        Rule::CycleCap,
        cycle_cap::judge(
            own.stage == CycleStage::Open,
            own.left(),
            c.grain,
            own.charged(),
            c.cycle_cap(),
        ),
    );
    all.take(
        Rule::RunTimeCap,
        run_time_cap::judge(
            own.in_cycle(),
            own.run,
            Millis(c.spec.run_max.0.saturating_sub(c.spec.drive_off.0)),
            c.grain,
            Millis(c.overrun().0.saturating_add(c.spec.drive_off.0)),
        ),
    );
    all.take(
        Rule::SpreadHold,
        spread_hold::judge(
            own.in_cycle(),
            c.other_in_cycle(),
            c.since_cycle(),
            c.body.spread_hold,
        ),
    );
    all.take(Rule::HourCap, {
        let booked = state.ledger.totals(c.account, c.body_index).0;
        hour_cap::judge(c.rolling(booked, c.caps.hour), |target| {
            state.ledger.hour_clears(c.account, c.body_index, target)
        })
    });
    all.take(
        Rule::DayCap,
        day_cap::judge(c.rolling(c.day_booked(), c.caps.day), |target| {
            c.day_clears(target)
        }),
    );
    all.take(
        Rule::OneAtATime,
        one_at_a_time::judge(c.others(), site.purge),
    );
    all.take(
        Rule::LineClear,
        line_clear::judge(c.line_fouled(), state.line.purged, site.purge),
    );
    all.take(Rule::ResponseSane, {
        let response = state.response.get(c.account);
        response.map_or(Answer::NOT_RUN, |seen| {
            response_sane::judge(
                seen.wrong,
                own.in_cycle(),
                seen.unanswered >= site.response.unanswered_max,
                seen.since_cycle,
                site.response.probe_cycle_every,
            )
        })
    });
}

/// Rules on what persons want, and what only they may do.
fn judge_persons<const N: usize, const B: usize, const H: usize, const D: usize>(
    c: &Context<'_, N, B, H, D>,
    all: &mut Answers<'_>,
) {
    let (site, state, own) = (c.limits.spec(), c.state, c.own);
    all.take(
        Rule::LedgerTrusted,
        ledger_trusted::judge(state.trust == LedgerTrust::Trusted),
    );
    all.take(Rule::NoLockout, {
        let feeder = state
            .feeder_lockouts
            .get(c.feeder)
            .copied()
            .unwrap_or_default();
        no_lockout::judge(
            state.site_lockouts.union(feeder),
            c.probe_waived_by_person(),
        )
    });
    all.take(Rule::InhibitsClear, inhibits_clear::judge(c.seen.inhibits));
    all.take(
        Rule::WindowOpen,
        window_open::judge(site.hours.get(), c.seen.minute),
    );
    all.take(
        Rule::ManualBounded,
        manual_bounded::judge(
            c.request.mode == Mode::Manual,
            c.fact.held,
            own.manual,
            Millis(site.manual_max.0.saturating_sub(c.spec.drive_off.0)),
            c.grain,
        ),
    );
    all.take(
        Rule::FallbackBounded,
        fallback_bounded::judge(
            c.request.mode == Mode::Fallback,
            state.fallback_left,
            c.body.fallback.get().map(|caps| {
                let left = Dose(caps.cycle.0.saturating_sub(own.charged().0));
                (left, c.rolling(c.day_booked(), caps.day))
            }),
            |target| c.day_clears(target),
        ),
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rule_that_did_not_run_is_a_veto() {
        let mut clears = [PackedClear::pack(crate::answer::Clear::Person); Rule::COUNT];
        let mut answers = Answers::new(&mut clears);
        for rule in Rule::ALL {
            if rule != Rule::DayCap {
                answers.take(rule, Answer::ALLOW);
            }
        }
        answers.finish();
        assert!(answers.vetoes.is_only(Rule::DayCap));
        assert_eq!(answers.most_run, Millis(0));
        let mut clears = [PackedClear::pack(crate::answer::Clear::Person); Rule::COUNT];
        let mut answers = Answers::new(&mut clears);
        for rule in Rule::ALL {
            answers.take(rule, Answer::ALLOW);
        }
        answers.finish();
        assert!(answers.vetoes.is_empty());
        assert_eq!(answers.most_run, Answer::ALLOW.most_run);
    }
}

//! The table: which rule reads what. One line a rule; a rule without a line would not compile, and
//! one whose line did not run would count as a veto ([`Answer::NOT_RUN`]).

use super::flow_proven::Flow;
use super::inside_cutoff::Water;
use super::one_at_a_time::Others;
use super::rolling::Rolling;
use super::{
    Rule, body_known, charge_durable, clock_sane, cycle_cap, day_cap, drive_obeys,
    fallback_bounded, flow_proven, hour_cap, inhibits_clear, inside_cutoff, ledger_trusted,
    limits_sealed, line_clear, manual_bounded, no_lockout, one_at_a_time, power_on_delay,
    probe_settled, probe_trusted, response_sane, run_time_cap, spread_hold, state_sealed,
    stock_present, window_open, witnesses_agree,
};
use crate::answer::Answer;
use crate::limits::{BodyLimits, Caps, FeederSpec, Governor, Limits};
use crate::request::{FeedRequest, Mode, Requests};
use crate::seen::{DriveSeen, Seen, SeenFeeder};
use crate::state::{CycleStage, FeederState, LedgerTrust, State};
use crate::units::{Dose, Fitted, Millis};

/// Everything that stands in one tick, for one feeder.
pub(crate) struct Context<'a, const N: usize, const B: usize, const H: usize, const D: usize> {
    pub(crate) limits: &'a Limits<N, B>,
    pub(crate) state: &'a State<N, B, H, D>,
    pub(crate) seen: &'a Seen<N>,
    pub(crate) requests: &'a Requests<N>,
    pub(crate) state_intact: bool,
    pub(crate) limits_intact: bool,
    pub(crate) feeder: usize,
    pub(crate) spec: &'a FeederSpec<B>,
    pub(crate) body: &'a BodyLimits,
    pub(crate) body_index: usize,
    pub(crate) account: usize,
    pub(crate) own: &'a FeederState,
    pub(crate) fact: &'a SeenFeeder,
    pub(crate) request: FeedRequest,
    pub(crate) caps: Caps,
    /// Charged by all feeders of the account in this body, not yet booked.
    pub(crate) charged: Dose,
    /// Smallest run worth a permit: a tick, or 1 ms where a timer cuts.
    pub(crate) grain: Millis,
}

/// What `rule` answers.
pub(crate) fn judge<const N: usize, const B: usize, const H: usize, const D: usize>(
    rule: Rule,
    c: &Context<'_, N, B, H, D>,
) -> Answer {
    let (site, state, own) = (c.limits.spec(), c.state, c.own);
    let open = own.stage == CycleStage::Open;
    match rule {
        Rule::ClockSane => clock_sane::judge(c.seen.elapsed, site.tick_gap_max),
        Rule::StateSealed => state_sealed::judge(c.state_intact),
        Rule::LimitsSealed => limits_sealed::judge(c.limits_intact),
        Rule::PowerOnDelay => power_on_delay::judge(state.powered, c.power_on_delay()),
        Rule::FlowProven => flow_proven::judge(c.site_flow(), c.cell_flow(), site.flow_prove),
        Rule::WitnessesAgree => witnesses_agree::judge(state.disagree, site.stuck_flow_max),
        Rule::ProbeSettled => probe_settled::judge(
            c.probe_waived(),
            c.seen.flow,
            state.settled,
            site.probe_settle,
        ),
        Rule::ProbeTrusted => probe_trusted::judge(
            c.probe_waived(),
            c.fact.governor_trusted,
            own.probe_failed,
            site.probe_failure_max,
        ),
        Rule::InsideCutoff => inside_cutoff::judge(
            c.request.mode == Mode::Manual,
            c.body.cutoff,
            c.water(),
            c.caps.cycle,
        ),
        Rule::BodyKnown => {
            body_known::judge(site.body_valves.get(), c.seen.body.is_some(), state.steady)
        }
        Rule::CycleCap => cycle_cap::judge(open, own.left(), c.grain, own.charged(), c.cycle_cap()),
        Rule::RunTimeCap => run_time_cap::judge(
            own.in_cycle(),
            own.run,
            c.spec.run_max,
            c.grain,
            c.overrun(),
        ),
        Rule::SpreadHold => spread_hold::judge(
            own.in_cycle(),
            c.other_in_cycle(),
            c.since_cycle(),
            c.body.spread_hold,
        ),
        Rule::HourCap => {
            let booked = state.ledger.totals(c.account, c.body_index).0;
            hour_cap::judge(c.rolling(booked, c.caps.hour), |target| {
                state.ledger.hour_clears(c.account, c.body_index, target)
            })
        }
        Rule::DayCap => day_cap::judge(c.rolling(c.day_booked(), c.caps.day), |target| {
            c.day_clears(target)
        }),
        Rule::OneAtATime => one_at_a_time::judge(c.others(), site.purge),
        Rule::LineClear => line_clear::judge(c.line_fouled(), state.line.purged, site.purge),
        _ => judge_rest(rule, c),
    }
}

fn judge_rest<const N: usize, const B: usize, const H: usize, const D: usize>(
    rule: Rule,
    c: &Context<'_, N, B, H, D>,
) -> Answer {
    let (site, state, own) = (c.limits.spec(), c.state, c.own);
    match rule {
        Rule::ResponseSane => {
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
        }
        Rule::StockPresent => stock_present::judge(c.fact.stock),
        Rule::DriveObeys => {
            let known = c.fact.drive != DriveSeen::Unknown;
            let (against, deaf) = (own.against, own.deaf);
            let seen = drive_obeys::Obedience {
                known,
                against,
                deaf,
            };
            drive_obeys::judge(seen, c.spec.drive_off, c.spec.feedback.get())
        }
        Rule::LedgerTrusted => ledger_trusted::judge(state.trust == LedgerTrust::Trusted),
        Rule::ChargeDurable => charge_durable::judge(own.stage),
        Rule::NoLockout => {
            let feeder = state
                .feeder_lockouts
                .get(c.feeder)
                .copied()
                .unwrap_or_default();
            no_lockout::judge(
                state.site_lockouts.union(feeder),
                c.probe_waived_by_person(),
            )
        }
        Rule::InhibitsClear => inhibits_clear::judge(c.seen.inhibits),
        Rule::WindowOpen => window_open::judge(site.hours.get(), c.seen.minute),
        Rule::ManualBounded => manual_bounded::judge(
            c.request.mode == Mode::Manual,
            c.fact.held,
            own.manual,
            site.manual_max,
            c.grain,
        ),
        Rule::FallbackBounded => fallback_bounded::judge(
            c.request.mode == Mode::Fallback,
            state.fallback_left,
            c.body.fallback.get().map(|caps| {
                let left = Dose(caps.cycle.0.saturating_sub(own.charged().0));
                (left, c.rolling(c.day_booked(), caps.day))
            }),
            |target| c.day_clears(target),
        ),
        // Every other rule has its line in `judge`.
        _ => Answer::NOT_RUN,
    }
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> Context<'_, N, B, H, D> {
    fn power_on_delay(&self) -> Millis {
        let site = self.limits.spec();
        if self.state.new_probe {
            site.power_on_delay_new_probe
        } else {
            site.power_on_delay
        }
    }

    fn site_flow(&self) -> Flow {
        Flow {
            now: self.seen.flow,
            proven: self.state.flow_proven,
        }
    }

    fn cell_flow(&self) -> Option<Flow> {
        let cell = Flow {
            now: self.fact.cell_flow,
            proven: self.own.cell_proven,
        };
        self.spec.cell_flow_switch.get().map(|()| cell)
    }

    /// A person feeds by hand, or has entered fallback.
    fn probe_waived_by_person(&self) -> bool {
        matches!(self.request.mode, Mode::Manual | Mode::Fallback)
    }

    fn probe_waived(&self) -> bool {
        self.probe_waived_by_person() || self.spec.governor == Governor::TimedShare
    }

    fn water(&self) -> Water {
        let site = self.limits.spec();
        let by_orp = self.spec.governor == Governor::Orp && self.request.mode != Mode::Fallback;
        Water {
            ph: if site.ph_probe.is_fitted() {
                Fitted::Fitted(self.seen.ph)
            } else {
                Fitted::NotFitted
            },
            orp: if by_orp {
                Fitted::Fitted(self.seen.orp)
            } else {
                Fitted::NotFitted
            },
        }
    }

    /// The cycle's cap; a quarter of it in the first cycle after a wrong answer was released, but
    /// never less than the smallest dose.
    fn cycle_cap(&self) -> Dose {
        let quarter = self
            .state
            .response
            .get(self.account)
            .is_some_and(|seen| seen.quarter);
        if quarter {
            Dose(self.caps.cycle.0 >> 2).max(self.spec.dose_min)
        } else {
            self.caps.cycle
        }
    }

    fn overrun(&self) -> Millis {
        overrun(self.limits, self.spec)
    }

    fn since_cycle(&self) -> Millis {
        let account = self.state.since_cycle.get(self.account);
        account
            .and_then(|bodies| bodies.get(self.body_index))
            .copied()
            .unwrap_or(Millis(0))
    }

    /// Another feeder of the same product has a cycle.
    fn other_in_cycle(&self) -> bool {
        let mut states = self.state.feeders.iter().enumerate();
        states.any(|(other, state)| {
            other != self.feeder
                && state.stage != CycleStage::Idle
                && self.limits.account(other) == self.account
                && self.limits.feeder(other).is_some()
        })
    }

    fn rolling(&self, booked: Dose, cap: Dose) -> Rolling {
        let (charged, dose_min) = (self.charged, self.spec.dose_min);
        Rolling {
            in_cycle: self.own.in_cycle(),
            booked,
            charged,
            cap,
            dose_min,
        }
    }

    fn day_booked(&self) -> Dose {
        self.state.ledger.totals(self.account, self.body_index).1
    }

    fn day_clears(&self, target: Dose) -> Option<Millis> {
        self.state
            .ledger
            .day_clears(self.account, self.body_index, target)
    }

    /// All feeders whose product must not meet this one's.
    fn others(&self) -> Others {
        let mut all = Others {
            driven: false,
            asks_first: false,
            since: Millis(u32::MAX),
        };
        let facts = self.seen.feeders.iter().zip(self.state.feeders.iter());
        let rows = facts.zip(self.requests.iter()).enumerate();
        for (other, ((fact, state), request)) in rows {
            let Some(product) = self.limits.product(other) else {
                continue;
            };
            if !product.incompatible_with(self.spec.product) {
                continue;
            }
            all.driven |= state.permit.0 > 0 || fact.drive.may_run();
            all.asks_first |= request.stands() && product.goes_first();
            let since = self.state.since_drive.get(self.limits.account(other));
            all.since = all.since.min(since.copied().unwrap_or(Millis(0)));
        }
        all
    }

    fn line_fouled(&self) -> bool {
        line_fouled(self.limits, self.state)
    }
}

/// Drive-on time that a sudden loss of flow may still cost: a tick, and the drive's off delay.
pub(crate) fn overrun<const N: usize, const B: usize>(
    limits: &Limits<N, B>,
    spec: &FeederSpec<B>,
) -> Millis {
    Millis(
        limits
            .spec()
            .tick_gap_max
            .0
            .saturating_add(spec.drive_off.0),
    )
}

/// More than the overrun of one product, or two products, stand in the line.
pub(crate) fn line_fouled<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &State<N, B, H, D>,
) -> bool {
    let mut products = 0_u32;
    for (account, standing) in state.line.standing.iter().enumerate() {
        if standing.0 == 0 {
            continue;
        }
        products = products.saturating_add(1);
        let most = limits
            .feeder(account)
            .map_or(Millis(0), |spec| overrun(limits, spec));
        if *standing > most {
            return true;
        }
    }
    products > 1
}

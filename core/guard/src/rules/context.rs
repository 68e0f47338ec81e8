//! What stands in one tick for one feeder, and what the rules read of it.

use super::flow_proven::Flow;
use super::inside_cutoff::Water;
use super::one_at_a_time::Others;
use super::rolling::Rolling;
use crate::limits::{BodyLimits, Caps, FeederSpec, Governor, Limits};
use crate::request::{FeedRequest, Mode, Requests};
use crate::seen::{Seen, SeenFeeder};
use crate::state::{CycleStage, FeederState, State};
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
    /// Commanded time without feedback, as of the last tick.
    pub(crate) deaf: Millis,
    /// A drive runs against command: the contact in series stays open.
    pub(crate) master_open: bool,
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> Context<'_, N, B, H, D> {
    pub(super) fn power_on_delay(&self) -> Millis {
        let site = self.limits.spec();
        if self.state.new_probe {
            site.power_on_delay_new_probe
        } else {
            site.power_on_delay
        }
    }

    pub(super) fn site_flow(&self) -> Flow {
        Flow {
            now: self.seen.flow,
            proven: self.state.flow_proven,
        }
    }

    pub(super) fn cell_flow(&self) -> Option<Flow> {
        let cell = Flow {
            now: self.fact.cell_flow,
            proven: self.own.cell_proven,
        };
        self.spec.cell_flow_switch.get().map(|()| cell)
    }

    /// A person feeds by hand, or has entered fallback.
    pub(super) fn probe_waived_by_person(&self) -> bool {
        matches!(self.request.mode, Mode::Manual | Mode::Fallback)
    }

    pub(super) fn probe_waived(&self) -> bool {
        self.probe_waived_by_person() || self.spec.governor == Governor::TimedShare
    }

    pub(super) fn water(&self) -> Water {
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
    pub(super) fn cycle_cap(&self) -> Dose {
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

    pub(super) fn overrun(&self) -> Millis {
        overrun(self.limits, self.spec)
    }

    pub(super) fn since_cycle(&self) -> Millis {
        let account = self.state.since_cycle.get(self.account);
        account
            .and_then(|bodies| bodies.get(self.body_index))
            .copied()
            .unwrap_or(Millis(0))
    }

    /// Another feeder of the same product has a cycle.
    pub(super) fn other_in_cycle(&self) -> bool {
        let mut states = (0..N).zip(self.state.feeders.iter());
        states.any(|(other, state)| {
            other != self.feeder
                && state.stage != CycleStage::Idle
                && self.limits.account(other) == self.account
                && self.limits.feeder(other).is_some()
        })
    }

    pub(super) fn rolling(&self, booked: Dose, cap: Dose) -> Rolling {
        let (charged, dose_min) = (self.charged, self.spec.dose_min);
        Rolling {
            in_cycle: self.own.in_cycle(),
            booked,
            charged,
            cap,
            dose_min,
        }
    }

    pub(super) fn day_booked(&self) -> Dose {
        self.state.ledger.totals(self.account, self.body_index).1
    }

    pub(super) fn day_clears(&self, target: Dose) -> Option<Millis> {
        self.state
            .ledger
            .day_clears(self.account, self.body_index, target)
    }

    /// All feeders whose product must not meet this one's.
    pub(super) fn others(&self) -> Others {
        let mut all = Others {
            driven: false,
            asks_first: false,
            since: Millis(u32::MAX),
        };
        let facts = self.seen.feeders.iter().zip(self.state.feeders.iter());
        let rows = (0..N).zip(facts.zip(self.requests.iter()));
        for (other, ((fact, state), request)) in rows {
            let Some(product) = self.limits.product(other) else {
                continue;
            };
            if !product.incompatible_with(self.spec.product) {
                continue;
            }
            all.driven |= state.permit.0 > 0 || fact.drive.may_run();
            // A demand too small for a cycle has no turn, unless its cycle is under way.
            let dose_min = self
                .limits
                .feeder(other)
                .map_or(Dose(0), |spec| spec.dose_min);
            let asks = request.stands() && (request.dose >= dose_min || state.in_cycle());
            all.asks_first |= asks && product.goes_first();
            let since = self.state.since_drive.get(self.limits.account(other));
            all.since = all.since.min(since.copied().unwrap_or(Millis(0)));
        }
        all
    }

    pub(super) fn line_fouled(&self) -> bool {
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
    for (account, standing) in (0..N).zip(state.line.standing.iter()) {
        if standing.0 == 0 {
            continue;
        }
        products = products.saturating_add(1);
        // By the slowest drive of the product: which of them fed is not known.
        let most = (0..N)
            .filter(|feeder| limits.account(*feeder) == account)
            .filter_map(|feeder| limits.feeder(feeder))
            .map(|spec| overrun(limits, spec))
            .max()
            .unwrap_or(Millis(0));
        if *standing > most {
            return true;
        }
    }
    products > 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::FeederLimits;
    use crate::test_site::SPEC;

    #[test]
    fn a_line_is_fouled_past_what_its_own_product_may_still_drip() {
        let mut spec = SPEC;
        if let FeederLimits::Enabled(chlorine) = &mut spec.feeders[1] {
            chlorine.drive_off = Millis(500);
        }
        let limits = Limits::try_new(spec).unwrap();
        // A tick, and 200 ms of acid or 500 ms of chlorine.
        for (standing, fouled) in [
            ([2200, 0], false),
            ([2201, 0], true),
            ([0, 2500], false),
            ([0, 2501], true),
            ([0, 0], false),
            ([1, 1], true),
        ] {
            let mut state = State::<2, 1, 7, 25>::POWER_ON;
            state.line.standing = standing.map(Millis);
            assert_eq!(line_fouled(&limits, &state), fouled, "{standing:?}");
        }
    }
}

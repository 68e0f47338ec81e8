//! What has to survive the power besides the guard's record, to look at and to put back.

use super::Controller;
use crate::event::EventKind;
use crate::handover::Handover;
use crate::regulate::Regulator;
use crate::response::Estimate;
use crate::restraint::Restraints;
use crate::season::Opening;
use crate::stock::{DrumVerdict, Stock};

impl<const N: usize, const B: usize, const H: usize, const D: usize, R: Regulator>
    Controller<N, B, H, D, R>
{
    /// What the water's answers to a feeder's doses show of its real rate. `None` if the settings
    /// fit no [`ExpectedResponse`](crate::response::ExpectedResponse) for it. To be kept across a
    /// restart.
    #[must_use]
    pub fn response(&self, feeder: usize) -> Option<Estimate> {
        self.around.answers(feeder).copied()
    }

    /// Puts back what [`Controller::response`] gave before a restart. True if that feeder's answers
    /// are followed.
    pub fn set_response(&mut self, feeder: usize, estimate: Estimate) -> bool {
        let followed = self.around.answers(feeder).is_some();
        if followed {
            self.around.response.restore(estimate);
        }
        followed
    }

    /// What the last level that was read says of a feeder's rate. To be kept across a restart.
    #[must_use]
    pub fn drum_verdict(&self, feeder: usize) -> DrumVerdict {
        let all = &self.around.drum_verdicts;
        all.get(feeder).copied().unwrap_or_default()
    }

    /// A feeder's drum, to look at and to keep across a restart. `None` if there is no such feeder.
    #[must_use]
    pub fn stock(&self, feeder: usize) -> Option<Stock> {
        self.around.stocks.get(feeder).copied()
    }

    /// Puts back what [`Controller::stock`] gave before a restart. What was booked since the start,
    /// charges that stood open included, is taken from it. True if there is such a feeder.
    pub fn set_stock(&mut self, feeder: usize, stock: Stock) -> bool {
        let own = self.around.stocks.get_mut(feeder);
        own.map(|own| *own = stock.and_booked(own)).is_some()
    }

    /// What persons have put in the way of feed, to look at and to keep across a restart.
    #[must_use]
    pub const fn restraints(&self) -> &Restraints<N> {
        &self.around.restraints
    }

    /// Puts back what [`Controller::restraints`] gave before a restart, before the first tick. Time
    /// without power counts towards none of it. Where a record was restored and this is not done, the unit
    /// observes, as far as its stages need evidence: what was in the way of feed is not known.
    /// A dose by hand into a body that the site has not counts against each.
    pub fn set_restraints(&mut self, restraints: Restraints<N>) {
        self.around.restraints = restraints;
        for by_hand in &mut self.around.restraints.by_hand {
            by_hand.body = by_hand.body.filter(|body| usize::from(body.0) < B);
        }
        self.around.is_observing_assumed = false;
    }

    /// Under what [`Controller::response`] and [`Controller::drum_verdict`] say what they say: CRC-32 of
    /// the feeder's rate and of what is expected, or of the level's error. Under others they begin
    /// anew. `None`: no such feeder, or its answers are not followed.
    #[must_use]
    pub fn found_under(&self, feeder: usize) -> (Option<u32>, Option<u32>) {
        let Some(rate) = self.guard.limits().feeder(feeder).map(|own| own.rate) else {
            return (None, None);
        };
        let drum = self.around.drum_under(feeder, rate);
        (self.around.answers_under(feeder, rate), Some(drum))
    }

    /// Puts back what [`Controller::drum_verdict`] gave before a restart. True if there is such a
    /// feeder.
    pub fn set_drum_verdict(&mut self, feeder: usize, verdict: DrumVerdict) -> bool {
        let own = self.around.drum_verdicts.get_mut(feeder);
        own.map(|own| *own = verdict).is_some()
    }

    /// Whether this board still has its pool. To be kept across a restart.
    #[must_use]
    pub const fn handover(&self) -> Handover {
        self.around.handover
    }

    /// Puts back what [`Controller::handover`] gave before a restart, before the first tick.
    pub const fn set_handover(&mut self, handover: Handover) {
        self.around.handover = handover;
    }

    /// How far an opening is. To be kept across a restart.
    #[must_use]
    pub const fn opening(&self) -> Opening {
        self.around.opening
    }

    /// Puts back what [`Controller::opening`] gave before a restart, before the first tick.
    pub const fn set_opening(&mut self, opening: Opening) {
        self.around.opening = opening;
    }

    /// Whether cold water holds feed. To be kept across a restart.
    #[must_use]
    pub const fn is_too_cold(&self) -> bool {
        self.around.caring.is_cold
    }

    /// Puts back what [`Controller::is_too_cold`] gave before a restart: the hold stands until a
    /// fresh temperature says otherwise, or no hold of cold water is fitted.
    pub const fn set_too_cold(&mut self, is_too_cold: bool) {
        self.around.caring.is_cold = is_too_cold;
    }

    /// Whether what was kept is lost, and a technician has not ended the observing since.
    #[must_use]
    pub const fn is_kept_lost(&self) -> bool {
        self.around.kept_lost && self.around.restraints.evidence.is_observing
    }

    /// Says that what was kept is lost: an event and an alarm, while the unit only observes by its
    /// [`Restraints`].
    pub fn tell_kept_lost(&mut self) {
        self.around.kept_lost = true;
        self.around.events.push(EventKind::KeptLost);
    }
}

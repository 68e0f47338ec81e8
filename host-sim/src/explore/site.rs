//! A site to explore: its limits, the same in ticks, and what can happen to it.

use dosewarden::guard::units::{Dose, MilliPh, Millis, Millivolts, Percent, Rate};
use dosewarden::guard::{
    BodyLimits, Cutoff, Elapsed, FeederLimits, FeederSpec, Fitted, Governor, Limits, LimitsError,
    LimitsSpec, Product, ResponseLimits, Restart, TickClock,
};

use super::event::Event;

/// Milliseconds of a tick: the longest that a site may have, so that the fixed times of the guard
/// (20 s of off time) are few ticks.
pub(super) const TICK: u32 = 5000;
/// Microlitres that a feeder gives in a tick.
pub(super) const UNIT: u32 = 1000;

pub(super) const fn ticks(count: u32) -> Millis {
    Millis(count * TICK)
}

pub(super) const fn units(count: u32) -> Dose {
    Dose(count * UNIT)
}

/// Caps that nothing reaches: the ledger is off.
pub(super) const FAR: Dose = Dose(4_000_000_000);

/// A site to explore.
#[derive(Debug)]
pub(super) struct Site<const N: usize, const B: usize> {
    pub(super) name: &'static str,
    pub(super) limits: Limits<N, B>,
    /// The caps of hour and day are followed; else they are out of reach.
    pub(super) ledger: bool,
    /// Power fails and records are kept; else the power stays and each record is read back at once.
    pub(super) store: bool,
    /// The water's answers are followed.
    pub(super) response: bool,
    pub(super) manual: bool,
    /// Refusals have to name what is wrong; else only what is fed is judged.
    pub(super) naming: bool,
    pub(super) events: Vec<Event<N>>,
    pub(super) figures: Figures<N>,
    pub(super) in_time: Elapsed,
    pub(super) too_long: Elapsed,
}

/// The limits in ticks, as the properties need them.
#[derive(Clone, Copy, Debug)]
pub(super) struct Figures<const N: usize> {
    pub(super) power_on: u8,
    pub(super) new_probe: u8,
    pub(super) prove: u8,
    pub(super) settle: u8,
    pub(super) stuck: u8,
    pub(super) failure: u8,
    pub(super) steady: u8,
    pub(super) purge: u8,
    pub(super) manual: u8,
    pub(super) fallback: u8,
    pub(super) feeders: [FeederFigures; N],
}

/// One feeder's limits in ticks.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct FeederFigures {
    pub(super) acid: bool,
    pub(super) governed: bool,
    pub(super) drive_off: u8,
    pub(super) feedback: Option<u8>,
    pub(super) clear: u8,
    pub(super) cycle: u8,
    pub(super) hour: u8,
    pub(super) day: u8,
    pub(super) run_max: u8,
    pub(super) hold: u8,
}

impl FeederFigures {
    /// Past every bound on a cycle's drive-on time.
    pub(super) fn cycle_most(&self) -> u8 {
        self.run_max
            .min(self.cycle)
            .saturating_add(3 + self.drive_off)
    }
}

fn whole(time: Millis) -> u8 {
    u8::try_from(time.0 / TICK).unwrap_or(u8::MAX)
}

fn dose(dose: Dose) -> u8 {
    u8::try_from(dose.0 / UNIT).unwrap_or(u8::MAX)
}

impl<const N: usize> Figures<N> {
    fn of<const B: usize>(spec: &LimitsSpec<N, B>) -> Self {
        let mut feeders = [FeederFigures::default(); N];
        for (one, limits) in feeders.iter_mut().zip(&spec.feeders) {
            if let FeederLimits::Enabled(feeder) = limits {
                let body = &feeder.bodies[0];
                *one = FeederFigures {
                    acid: feeder.product == Product::Acid,
                    governed: feeder.governor != Governor::TimedShare,
                    drive_off: whole(feeder.drive_off),
                    feedback: feeder.feedback.get().map(whole),
                    clear: whole(feeder.feedback_clear),
                    cycle: dose(body.cycle_cap),
                    hour: dose(body.hour_cap),
                    day: dose(body.day_cap),
                    run_max: whole(feeder.run_max),
                    hold: whole(body.spread_hold),
                };
            }
        }
        Self {
            power_on: whole(spec.power_on_delay),
            new_probe: whole(spec.power_on_delay_new_probe),
            prove: whole(spec.flow_prove),
            settle: whole(spec.probe_settle),
            stuck: whole(spec.stuck_flow_max),
            failure: whole(spec.probe_failure_max),
            steady: spec.body_valves.get().map_or(0, whole),
            purge: whole(spec.purge),
            manual: whole(spec.manual_max),
            fallback: spec
                .fallback
                .get()
                .map_or(0, |fallback| whole(fallback.run_max)),
            feeders,
        }
    }
}

impl<const N: usize, const B: usize> Site<N, B> {
    /// # Errors
    /// What is wrong with the limits.
    pub(super) fn new(
        name: &'static str,
        spec: LimitsSpec<N, B>,
        events: Vec<Event<N>>,
    ) -> Result<Self, LimitsError> {
        let mut clock = TickClock::new();
        clock.step(0);
        let in_time = clock.step(TICK);
        let too_long = clock.step(3 * TICK);
        Ok(Self {
            name,
            figures: Figures::of(&spec),
            limits: Limits::try_new(spec)?,
            ledger: false,
            store: false,
            response: false,
            manual: false,
            naming: true,
            events,
            in_time,
            too_long,
        })
    }

    pub(super) fn feeder(&self, feeder: usize) -> Option<&FeederSpec<B>> {
        self.limits.feeder(feeder)
    }
}

/// A feeder without anything fitted, its caps out of reach.
pub(super) const fn plain<const B: usize>(product: Product, governor: Governor) -> FeederSpec<B> {
    let rate = Rate(720_000);
    FeederSpec {
        product,
        governor,
        rate,
        rate_tolerance: Percent(0),
        rate_any_tube: rate,
        catch_test_on_record: true,
        drive_off: Millis(0),
        feedback: Fitted::NotFitted,
        feedback_clear: ticks(1),
        cut_timer: Fitted::NotFitted,
        level_switch: Fitted::NotFitted,
        cell_flow_switch: Fitted::NotFitted,
        dose_min: units(1),
        slice_max: FAR,
        run_max: ticks(100),
        bodies: [BodyLimits {
            cycle_cap: units(2),
            hour_cap: FAR,
            day_cap: FAR,
            reduced_share: Percent(100),
            spread_hold: ticks(1),
            cutoff: match product {
                Product::Acid => Cutoff::AbovePh(MilliPh(7000)),
                Product::Base => Cutoff::BelowPh(MilliPh(8000)),
                _ => Cutoff::Oxidiser {
                    orp: Millivolts(750),
                    ph_floor: MilliPh(7000),
                    ph_weak: MilliPh(8000),
                    weak_share: Percent(50),
                    orp_ph: MilliPh(7500),
                    orp_fall: Millivolts(0),
                },
            },
            fallback: Fitted::NotFitted,
        }; B],
    }
}

/// A site with a flow switch and nothing else, every time one tick.
pub(super) const fn bare<const N: usize, const B: usize>(
    feeders: [FeederLimits<B>; N],
) -> LimitsSpec<N, B> {
    LimitsSpec {
        tick_gap_max: ticks(1),
        power_on_delay: ticks(1),
        power_on_delay_new_probe: ticks(1),
        restart_after_power_loss: Restart::Automatic,
        flow_switch: Fitted::YES,
        flow_meter: Fitted::NotFitted,
        pump_contact: Fitted::NotFitted,
        witness_age_max: ticks(1),
        flow_prove: ticks(1),
        stuck_flow_max: ticks(1),
        ph_probe: Fitted::NotFitted,
        orp_probe: Fitted::NotFitted,
        probe_age_max: ticks(1),
        probe_settle: ticks(1),
        probe_failure_max: ticks(1),
        body_valves: Fitted::NotFitted,
        purge: ticks(1),
        resume_within: ticks(1),
        save_max: ticks(1),
        manual_max: ticks(1),
        hours: Fitted::NotFitted,
        response: ResponseLimits {
            wrong_way_max: MilliPh(50),
            answer_max: MilliPh(400),
            answer_min: MilliPh(40),
            unanswered_max: 2,
            probe_cycle_every: Millis::from_hours(1),
        },
        fallback: Fitted::NotFitted,
        off_credit_max: Millis(0),
        off_credit_ratio: 0,
        feeders,
    }
}

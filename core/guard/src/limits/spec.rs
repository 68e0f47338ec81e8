//! The limits as somebody writes them down: named fields, unit types, no default anywhere.

use crate::product::Product;
use crate::units::{
    Dose, Fitted, FlowMlPerS, MilliPh, Millis, Millivolts, MinuteOfDay, Percent, Rate,
};

/// What happens after the power comes back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Restart {
    /// Feeding resumes when all rules allow it.
    Automatic,
    /// A person has to release it.
    Person,
}

/// Operating hours, local time. `open` after `close` spans midnight.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Hours {
    /// First minute in which feed is allowed.
    pub open: MinuteOfDay,
    /// First minute in which it is not allowed any more.
    pub close: MinuteOfDay,
}

/// How water must answer a full cycle of acid or base.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct ResponseLimits {
    /// Largest movement the wrong way after one full cycle, pH 0.001 to 2; more locks out.
    pub wrong_way_max: MilliPh,
    /// Largest movement the right way after one full cycle, over `answer_min` to pH 2; more locks out.
    pub answer_max: MilliPh,
    /// Smallest movement that counts as an answer, pH 0.001 to 2.
    pub answer_min: MilliPh,
    /// Full cycles in a row without an answer after which feed is held, 1 to 255.
    pub unanswered_max: u8,
    /// While held, one probing cycle is allowed each time this has passed, 1 h to 24 h.
    pub probe_cycle_every: Millis,
}

/// Fallback: a small fixed share of oxidiser while its probe is not trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct FallbackLimits {
    /// Longest time in fallback, 1 ms to 72 h.
    pub run_max: Millis,
    /// Oldest chlorine test with which it may begin, 1 ms to 24 h.
    pub test_age_max: Millis,
    /// An alarm stands while at most this is left, 0 to `run_max`.
    pub warn_before: Millis,
}

/// Who governs a feeder.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Governor {
    /// The pH probe.
    Ph,
    /// The ORP probe.
    Orp,
    /// No probe: a share of time, under caps made for it.
    TimedShare,
}

/// Past which water a product may not be fed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Cutoff {
    /// Acid: only above this pH, 6.5 to 9.
    AbovePh(MilliPh),
    /// Base: only below this pH, 6 to 8.
    BelowPh(MilliPh),
    /// Oxidiser: only below this ORP, and not below this pH; above `ph_weak` a reduced share, above `orp_ph` only below a
    /// lower ORP.
    Oxidiser {
        /// Only below this ORP, 1 to 1000 mV.
        orp: Millivolts,
        /// Not below this pH, 6.5 to 8 (read only where a pH probe is fitted).
        ph_floor: MilliPh,
        /// Above this pH, over `ph_floor` to 14, the cycle is at most `weak_share` of its cap: weak chlorine is better
        /// than none.
        ph_weak: MilliPh,
        /// Share of the cycle's cap above `ph_weak`, 1 to 100 %.
        weak_share: Percent,
        /// The pH up to which `orp` is meant, over `ph_floor` to 14 (read only where a pH probe is fitted); the pH
        /// that acid is fed for is a good choice.
        #[cfg_attr(feature = "serde", serde(default = "any_ph"))]
        orp_ph: MilliPh,
        /// By how much the cut-off is lower for each pH above `orp_ph`, 0 to 200 mV. A probe shows hypochlorous acid:
        /// above pH 7.5 its share of the free chlorine falls, and far above it tenfold with each pH (Morris 1966, from
        /// memory); a probe shows some 60 to 70 mV for a tenth of it (common practice, no source). With such a fall no
        /// pH makes the cut-off stand for more free chlorine; with 0, chlorine is fed after a pH that climbs.
        #[cfg_attr(feature = "serde", serde(default = "no_fall"))]
        orp_fall: Millivolts,
    },
}

/// What was written before cut-offs fell does not fall.
#[cfg(feature = "serde")]
const fn any_ph() -> MilliPh {
    MilliPh(14_000)
}

#[cfg(feature = "serde")]
const fn no_fall() -> Millivolts {
    Millivolts(0)
}

/// Caps of one product in fallback, in one body.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct FallbackCaps {
    /// Largest dose of one cycle, `dose_min` to `day` and `cycle_cap`.
    pub cycle: Dose,
    /// Largest total of a rolling day, all feed counted, up to `day_cap`.
    pub day: Dose,
}

/// What one product may do to one body of water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct BodyLimits {
    /// Largest dose of one cycle, over 0 to `hour_cap`.
    pub cycle_cap: Dose,
    /// Largest total of a rolling hour, `cycle_cap` to `day_cap`.
    pub hour_cap: Dose,
    /// Largest total of a rolling day, from `hour_cap`.
    pub day_cap: Dose,
    /// Share of all caps in the reduced stage, 1 to 100 %.
    pub reduced_share: Percent,
    /// Flowing time from the end of a cycle to the next of this product in this body, 1 ms to 24 h.
    pub spread_hold: Millis,
    /// Past which water it may not be fed.
    pub cutoff: Cutoff,
    /// Caps in fallback; oxidisers governed by ORP only.
    pub fallback: Fitted<FallbackCaps>,
}

/// One feeder.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct FeederSpec<const B: usize> {
    /// What it gives.
    pub product: Product,
    /// What governs it.
    pub governor: Governor,
    /// Rate as entered or measured, 1 uL/h to 1,000 L/h (a cell: 1 mg/h to 1,000 kg/h).
    pub rate: Rate,
    /// By how much the true rate may be above it, 0 to 100 %.
    pub rate_tolerance: Percent,
    /// Largest rate that it can have with any tube: what counts until a catch test is on record. At least
    /// `rate` and its tolerance.
    pub rate_any_tube: Rate,
    /// Whether a catch test is on record.
    pub catch_test_on_record: bool,
    /// Longest time from the command to the drive being off, 0 to 10 s.
    pub drive_off: Millis,
    /// Feedback of the drive; the time within which it must follow a command to run, 1 ms to 1 min.
    pub feedback: Fitted<Millis>,
    /// How long feedback must be off before a lockout by it may be released, 1 ms to 1 h.
    pub feedback_clear: Millis,
    /// A hardware timer cuts at the exact end of a permit. Without it a tick's worth is kept back.
    pub cut_timer: Fitted<()>,
    /// Level switch in the drum.
    pub level_switch: Fitted<()>,
    /// Flow switch of a generator's cell.
    pub cell_flow_switch: Fitted<()>,
    /// Smallest dose worth a cycle, from 1 uL (1 mg of a cell); it has to run for `drive_off` and a tick.
    pub dose_min: Dose,
    /// Largest part of a cycle that is charged at once, from `dose_min`; the next is charged while it runs.
    pub slice_max: Dose,
    /// Longest drive-on time of one cycle, whatever rate is configured.
    pub run_max: Millis,
    /// Limits in each body. Feeders of one product must agree on them.
    #[cfg_attr(feature = "serde", serde(with = "super::serial::array"))]
    pub bodies: [BodyLimits; B],
}

/// A feeder's limits, or the statement that the site does not use it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum FeederLimits<const B: usize> {
    /// Not in use: never gets a permit, and is shown as disabled.
    Disabled,
    /// In use.
    Enabled(FeederSpec<B>),
}

/// Everything that bounds the feed of one site. Has no default.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(deny_unknown_fields))]
pub struct LimitsSpec<const N: usize, const B: usize> {
    /// Longest time between two ticks, 200 ms to 5 s.
    pub tick_gap_max: Millis,
    /// Delay from power-on to the first feed, 1 ms to 1 h.
    pub power_on_delay: Millis,
    /// The delay once a person has said that a probe is new, `power_on_delay` to 24 h.
    pub power_on_delay_new_probe: Millis,
    /// What happens after the power comes back.
    pub restart_after_power_loss: Restart,
    /// A flow switch is fitted.
    pub flow_switch: Fitted<()>,
    /// A flow meter is fitted; at or over this it says flow, 1 to 1,000,000 mL/s.
    pub flow_meter: Fitted<FlowMlPerS>,
    /// A pump-run contact is fitted.
    pub pump_contact: Fitted<()>,
    /// Oldest age of a switch, meter, contact, level or valve reading that counts, 1 ms to
    /// `tick_gap_max`, so that a reading that stands still ends the feed as fast as a lost tick.
    pub witness_age_max: Millis,
    /// How long every witness must have said flow without a break, 1 ms to 1 h.
    pub flow_prove: Millis,
    /// Longest time of flow while the pump contact says off, 1 ms to 10 min; more locks out.
    pub stuck_flow_max: Millis,
    /// A pH probe is fitted.
    pub ph_probe: Fitted<()>,
    /// An ORP probe is fitted.
    pub orp_probe: Fitted<()>,
    /// Oldest age of a probe reading that counts, 1 ms to 5 min.
    pub probe_age_max: Millis,
    /// How long water must have moved past the probes, 1 ms to 1 h.
    pub probe_settle: Millis,
    /// Longest failure of a governing probe, 1 ms to 24 h; more locks out.
    pub probe_failure_max: Millis,
    /// Valves select the body, and must be steady for this long, 1 ms to 1 h. Not fitted: one body.
    pub body_valves: Fitted<Millis>,
    /// Flowing time that clears the line, 1 ms to 1 h.
    pub purge: Millis,
    /// Longest cut after which an open cycle may go on, 0 to 1 h.
    pub resume_within: Millis,
    /// Longest time for a record to be saved, 1 ms to 10 min; more alarms.
    pub save_max: Millis,
    /// Longest manual feed, up to 10 min, and long enough for a smallest dose.
    pub manual_max: Millis,
    /// Operating hours, whole minutes; open and close differ.
    pub hours: Fitted<Hours>,
    /// How water must answer acid or base.
    pub response: ResponseLimits,
    /// Fallback.
    pub fallback: Fitted<FallbackLimits>,
    /// Largest time without power that may count towards ageing the ledger, 0 to 24 h; 0 counts none.
    pub off_credit_max: Millis,
    /// Milliseconds of credit that one millisecond with power earns, 0 to 4.
    pub off_credit_ratio: u8,
    /// The feeders.
    #[cfg_attr(feature = "serde", serde(with = "super::serial::array"))]
    pub feeders: [FeederLimits<B>; N],
}

//! Decides, every tick, what automatic pool dosing may feed.
//!
//! This is the part that a safety reviewer reads whole: no dependencies, no allocation, no float,
//! no unsafe code, integers only. A regulator *asks* for feed and may be wrong; the guard *grants*
//! or refuses, and only a [`Permit`] from the guard drives a feeder (run-time assurance: Sha 2001,
//! "Using simplicity to control complexity", IEEE Software).
//!
//! ```text
//!   regulator ──FeedRequest──▶ ┌─────────────────────────────┐ ──Permit<F>──▶ drive of feeder F
//!   probes, switches ─Facts──▶ │ guard: 27 rules, each says  │ ─MasterPermit▶ contact in series
//!   persons ───PersonAction──▶ │ "at most this much, now";   │ ──Decision───▶ display, events
//!   TickClock ──Elapsed──────▶ │ the grant is the smallest   │ ──record─────▶ two places in flash
//!                              └─────────────────────────────┘ ◀──Ticket────  read back, equal
//! ```
//!
//! # Invariants
//! - Rules only take away: one more rule, one more fault or a worse fact never means more feed in
//!   the same tick.
//! - A cycle's dose is charged, and the charge read back from both records, before the first drop.
//! - What is not known counts as no. What a site does not have is said by its [`Limits`]
//!   ([`Fitted`]), never guessed.
//! - The state holds ages that saturate, never a point in time: nothing wraps, nothing goes back.
//! - A hold clears by itself; a [`Lockout`] needs its cause gone **and** a person, and outlives the
//!   power.
//!
//! # One tick
//! ```
//! use dosewarden_guard::units::{Dose, MilliPh, Millis, Percent, Rate};
//! use dosewarden_guard::*;
//!
//! const ACID: FeederSpec<1> = FeederSpec {
//!     product: Product::Acid,
//!     governor: Governor::Ph,
//!     rate: Rate::from_ml_per_min(30),
//!     rate_tolerance: Percent(10),
//!     rate_any_tube: Rate::from_ml_per_min(60),
//!     catch_test_on_record: true,
//!     drive_off: Millis(200),
//!     feedback: Fitted::NotFitted,
//!     feedback_clear: Millis(10_000),
//!     cut_timer: Fitted::NotFitted,
//!     level_switch: Fitted::NotFitted,
//!     cell_flow_switch: Fitted::NotFitted,
//!     dose_min: Dose::from_ml(5),
//!     slice_max: Dose::from_ml(45),
//!     run_max: Millis::from_mins(3),
//!     bodies: [BodyLimits {
//!         cycle_cap: Dose::from_ml(45),
//!         hour_cap: Dose::from_ml(180),
//!         day_cap: Dose::from_ml(900),
//!         reduced_share: Percent(50),
//!         spread_hold: Millis::from_mins(10),
//!         cutoff: Cutoff::AbovePh(MilliPh(7000)),
//!         fallback: Fitted::NotFitted,
//!     }],
//! };
//! const SITE: LimitsSpec<1, 1> = LimitsSpec {
//!     tick_gap_max: Millis(2000),
//!     power_on_delay: Millis::from_secs(30),
//!     power_on_delay_new_probe: Millis::from_hours(1),
//!     restart_after_power_loss: Restart::Automatic,
//!     flow_switch: Fitted::YES,
//!     flow_meter: Fitted::NotFitted,
//!     pump_contact: Fitted::YES,
//!     witness_age_max: Millis(2000),
//!     flow_prove: Millis::from_secs(60),
//!     stuck_flow_max: Millis::from_secs(30),
//!     ph_probe: Fitted::YES,
//!     orp_probe: Fitted::NotFitted,
//!     probe_age_max: Millis(5000),
//!     probe_settle: Millis::from_mins(3),
//!     probe_failure_max: Millis::from_mins(30),
//!     body_valves: Fitted::NotFitted,
//!     purge: Millis::from_secs(45),
//!     resume_within: Millis::from_mins(1),
//!     save_max: Millis::from_secs(5),
//!     manual_max: Millis::from_secs(20),
//!     hours: Fitted::NotFitted,
//!     response: ResponseLimits {
//!         wrong_way_max: MilliPh(150),
//!         answer_max: MilliPh(400),
//!         answer_min: MilliPh(10),
//!         unanswered_max: 3,
//!         probe_cycle_every: Millis::from_hours(4),
//!     },
//!     fallback: Fitted::NotFitted,
//!     off_credit_max: Millis(0),
//!     off_credit_ratio: 0,
//!     feeders: [FeederLimits::Enabled(ACID)],
//! };
//! // `try_new` is const: a broken relation fails the build.
//! const LIMITS: Limits<1, 1> = match Limits::try_new(SITE) {
//!     Ok(limits) => limits,
//!     Err(_) => panic!("the limits are broken"),
//! };
//!
//! // 7 buckets of 10 min cover the hour, 25 of 1 h the day.
//! let (mut guard, found) = Guard::<1, 1, 7, 25>::restore(LIMITS, None, None);
//! assert_eq!(found, Restored::Lost); // a new unit: a person has to initialise it
//! let mut clock = TickClock::new();
//! let request = [FeedRequest { dose: Dose::from_ml(45), mode: Mode::Automatic }];
//! let mut verdict = guard.judge(clock.step(0), Facts::UNKNOWN, request, None);
//! assert!(verdict.permit::<0>().is_none());
//! assert_eq!(verdict.explain(0, Rule::LedgerTrusted), Clear::Person);
//! ```
//!
//! # Bounds, stated
//! - Flow lost to drive off: `tick_gap_max` + `drive_off`.
//! - Any rolling hour, day, cycle: its cap at [`FeederSpec::rate_for_caps`]. With
//!   [`Action::Initialise`] in the window, twice the day's cap. With off time credited, the cap and
//!   what the bank frees. With an older pair of records put back together (which nobody can see
//!   without a third place for the sequence), one cap more.
//! - A true rate above the entered one, beyond its tolerance, scales all of that.
//!
//! # What it is not
//! Not a certified safety function. It does not replace a hard-wired interlock, local codes or
//! licensed practice. It does not see the water but through the facts it is given: the table in
//! [`facts`] says what happens if one lies.
#![no_std]
#![forbid(unsafe_code)]
#![cfg_attr(
    test,
    allow(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::indexing_slicing,
        clippy::arithmetic_side_effects,
        clippy::as_conversions
    )
)]

#[cfg(test)]
extern crate self as dosewarden_guard;
#[cfg(test)]
extern crate std;
#[cfg(test)]
#[path = "../tests/bench/site.rs"]
mod test_site;

mod action;
mod ages;
mod answer;
mod clock;
mod codec;
mod cycle;
mod decision;
mod drive;
pub mod facts;
mod guard;
mod ledger;
pub mod limits;
mod lockout;
mod off_time;
mod product;
mod reading;
mod record;
mod request;
mod restore;
mod rules;
mod seen;
mod state;
mod step;
mod sum;
pub mod units;
mod verdict;

pub use action::authority_for;
pub use answer::{Answer, Clear};
pub use clock::{Elapsed, TickClock};
pub use decision::{Closed, Decision, FeederDecision, Notices};
pub use facts::{Facts, FeederFacts, Inhibits};
pub use guard::{Guard, Restored, SetLimits};
pub use ledger::{Account, Ledger};
pub use limits::{
    BodyLimits, Caps, Cutoff, FallbackCaps, FallbackLimits, FeederLimits, FeederSpec, Governor,
    Hours, Limits, LimitsError, LimitsSpec, ResponseLimits, Restart,
};
pub use lockout::{Lockout, LockoutSet};
pub use product::Product;
pub use reading::{Health, Reading};
pub use record::{Record, RecordError, Ticket};
pub use request::{
    Action, ActionResult, Authority, FeedRequest, Mode, PersonAction, Remedy, Requests, Stage,
};
pub use rules::{Rule, RuleSet};
pub use state::{CycleStage, FeederState, LedgerTrust, LineState, OFF_MAX, ResponseState, State};
pub use step::{Input, step};
pub use sum::Crc32;
pub use units::Fitted;
pub use verdict::{MasterPermit, Permit, Verdict};

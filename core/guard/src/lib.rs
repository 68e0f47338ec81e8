//! Decides, every tick, what an automatic pool doser may feed.
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
extern crate std;

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

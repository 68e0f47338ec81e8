//! Proof tests: a person trips an interlock, and the controller looks whether feed stops, and in
//! what time. Fail-safes that nobody tests are what hurts people.
//!
//! It lives beside the controller, as upkeep does: acts go through
//! [`Controller::prove`](crate::Controller::prove), and
//! [`Controller::watch_proof`](crate::Controller::watch_proof) follows each tick.
//!
//! # Invariants
//! - A test reads facts and decisions. It asks for no feed and drives nothing: what it needs to see
//!   is that the guard's rule refuses, and that the permits that stood are gone.
//! - Only the interlock's own sign counts: feed that stopped because another one saw it is no proof.
//! - A test that was not finished leaves the record as it was.
//!
//! # Due, overdue, failed
//! An overdue test is an alarm and no more: an interlock is not worse on the day after its date,
//! and a pool that is not fed harms bathers as well; what a date would stop, people learn to sign
//! off unseen. An interlock that **failed** is known not to protect: feed is held until a test of
//! it passes. The person who made the test stands beside it.

mod desk;
mod interlock;
mod record;
mod run;
#[cfg(test)]
mod tests;

pub use desk::ProofTests;
pub use interlock::{Interlock, InterlockSet, ProofDays, ProofSettings};
pub use record::{Proof, Proofs};
pub(crate) use run::Sight;
pub use run::{GIVES_UP, ProofAct, ProofEnd, ProofRefused, ProofRun, ProofStep};

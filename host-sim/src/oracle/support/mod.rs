//! What the oracles share.

pub(super) mod bounds;
pub(super) mod by_hand;
#[cfg(test)]
mod closed_loop;
pub(super) mod feeds;
pub(super) mod standing;
pub(super) mod stored;
#[cfg(test)]
pub(super) mod testkit;
pub(super) mod verdict;
pub(super) mod window;

//! What persons do to probes: each act checked, with the authority that it needs, and logged
//! whether it was done or refused.

use heapless::Deque;

use crate::guard::Authority;

/// An act.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum ProbeAct {
    /// pH calibrated in two buffers: slope, millionths.
    Calibrate,
    /// pH trimmed to a kit: trim, pH x 1000.
    Trim,
    /// The trim taken off: trim, pH x 1000.
    ClearTrim,
    /// ORP checked in a reference solution: error, mV.
    CheckReference,
    /// ORP set point anchored: set point, mV.
    Anchor,
    /// A jump found to be true.
    Confirm,
    /// The probe replaced: what was known of the old one is forgotten.
    Replace,
}

impl ProbeAct {
    /// Least authority for it.
    #[must_use]
    pub const fn authority(self) -> Authority {
        match self {
            Self::ClearTrim => Authority::Owner,
            Self::Calibrate | Self::Trim | Self::CheckReference | Self::Confirm | Self::Replace => {
                Authority::Operator
            }
            Self::Anchor => Authority::Technician,
        }
    }
}

/// Which probe.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum ProbeKind {
    /// pH.
    Ph,
    /// ORP.
    Orp,
}

/// An act, done or refused. What the figures are says [`ProbeAct`]; 0 where there is none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ProbeEntry {
    /// Probe.
    pub probe: ProbeKind,
    /// Act.
    pub act: ProbeAct,
    /// Who.
    pub by: Authority,
    /// Whether it was done.
    pub done: bool,
    /// Figure before.
    pub before: i32,
    /// Figure after; the same where it was refused.
    pub after: i32,
}

/// How many entries a [`ProbeLog`] keeps.
pub const PROBE_LOG_KEPT: usize = 8;

/// The last acts; the oldest goes, and is counted. Fetched by the maker of the unit, who has a
/// clock to stamp them with.
#[derive(Clone, Debug, Default)]
pub struct ProbeLog {
    kept: Deque<ProbeEntry, PROBE_LOG_KEPT>,
    dropped: u32,
}

impl ProbeLog {
    /// Empty.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            kept: Deque::new(),
            dropped: 0,
        }
    }

    /// Takes the oldest.
    pub fn take(&mut self) -> Option<ProbeEntry> {
        self.kept.pop_front()
    }

    /// How many went unfetched.
    #[must_use]
    pub const fn dropped(&self) -> u32 {
        self.dropped
    }

    pub(super) fn push(&mut self, entry: ProbeEntry) {
        if self.kept.is_full() {
            self.kept.pop_front();
            self.dropped = self.dropped.saturating_add(1);
        }
        // There is room now.
        let _kept = self.kept.push_back(entry);
    }
}

/// Why an act was not done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ProbeRefused<E> {
    /// It needs at least this authority.
    NeedsAuthority(Authority),
    /// By its own checks.
    Because(E),
}

impl<E: core::fmt::Display> core::fmt::Display for ProbeRefused<E> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NeedsAuthority(needed) => write!(f, "needs the authority of {needed:?}"),
            Self::Because(reason) => write!(f, "{reason}"),
        }
    }
}

impl<E: core::fmt::Display + core::fmt::Debug> core::error::Error for ProbeRefused<E> {}

/// An act that is being tried: by whom, on which probe, with which figure before.
pub(super) struct Trying {
    pub(super) probe: ProbeKind,
    pub(super) act: ProbeAct,
    pub(super) by: Authority,
    pub(super) before: i32,
}

impl Trying {
    /// Does it if it may be done, and logs it either way. `figure` of what was done.
    pub(super) fn run<T, E>(
        self,
        log: &mut ProbeLog,
        figure: impl FnOnce(&T) -> i32,
        work: impl FnOnce() -> Result<T, E>,
    ) -> Result<T, ProbeRefused<E>> {
        let needed = self.act.authority();
        let result = if self.by < needed {
            Err(ProbeRefused::NeedsAuthority(needed))
        } else {
            work().map_err(ProbeRefused::Because)
        };
        log.push(ProbeEntry {
            probe: self.probe,
            act: self.act,
            by: self.by,
            done: result.is_ok(),
            before: self.before,
            after: result.as_ref().map_or(self.before, figure),
        });
        result
    }
}

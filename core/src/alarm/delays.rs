//! How long each alarm waits for its condition, and which mean nothing while nothing is to be fed.

use super::id::{FeederAlarm, SiteAlarm};
use super::life::Delays;
use super::watch::Watched;
use crate::guard::units::Millis;
use crate::settings::AlarmSettings;

const AT_ONCE: Delays = Delays {
    on: Millis(0),
    off: Millis(0),
};

pub(super) fn delays_of_site<const N: usize>(
    id: SiteAlarm,
    settings: &AlarmSettings,
    seen: &Watched<N>,
) -> Delays {
    let delayed = Delays {
        on: settings.on_delay,
        off: settings.off_delay,
    };
    match id {
        SiteAlarm::PhLow
        | SiteAlarm::PhHigh
        | SiteAlarm::PhStatus
        | SiteAlarm::OrpLow
        | SiteAlarm::OrpHigh
        | SiteAlarm::OrpStatus
        | SiteAlarm::PumpWithoutFlow
        | SiteAlarm::WeakChlorine => delayed,
        SiteAlarm::PhRate | SiteAlarm::OrpRate => Delays {
            on: Millis(0),
            ..delayed
        },
        // Where a timetable is known, it says when water should flow.
        SiteAlarm::FlowAbsent if seen.pump_due.is_none() => Delays {
            on: settings.flow_absent_after,
            ..delayed
        },
        SiteAlarm::FlowAbsent => delayed,
        _ => AT_ONCE,
    }
}

pub(super) const fn delays_of_feeder(id: FeederAlarm, settings: &AlarmSettings) -> Delays {
    match id {
        FeederAlarm::DemandUnmet => Delays {
            on: settings.demand_unmet_after,
            off: Millis(0),
        },
        FeederAlarm::StockEmpty => Delays {
            on: settings.on_delay,
            off: settings.off_delay,
        },
        _ => AT_ONCE,
    }
}

/// The bit of [`FeederAlarm::DemandUnmet`], which means nothing where nothing is to be fed.
pub(super) const DEMAND: u32 = 1;

/// The bits of the alarms [`of_water`].
pub(super) const OF_WATER: u32 = {
    let (mut bits, mut bit, mut all) = (0, 1_u32, SiteAlarm::ALL);
    while let [id, more @ ..] = all {
        if of_water(*id) {
            bits |= bit;
        }
        (bit, all) = (bit.wrapping_shl(1), more);
    }
    bits
};

/// Alarms that mean nothing while the pool is laid up.
pub(super) const fn of_water(id: SiteAlarm) -> bool {
    matches!(
        id,
        SiteAlarm::PhLow
            | SiteAlarm::PhHigh
            | SiteAlarm::PhRate
            | SiteAlarm::PhStatus
            | SiteAlarm::OrpLow
            | SiteAlarm::OrpHigh
            | SiteAlarm::OrpRate
            | SiteAlarm::OrpStatus
            | SiteAlarm::FlowAbsent
            | SiteAlarm::WeakChlorine
            | SiteAlarm::TestOverdue
            | SiteAlarm::ProofOverdue
    )
}

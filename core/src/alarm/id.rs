//! Names of the alarms. Numbers are stable: a number is never given to another alarm.

use crate::guard::Lockout;

macro_rules! alarms {
    ($(#[$meta:meta])* $name:ident { $($(#[$doc:meta])* $variant:ident = $number:literal, $word:literal;)* }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
        #[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
        pub enum $name {
            $($(#[$doc])* $variant,)*
        }

        impl $name {
            /// All, in the order of their numbers.
            pub const ALL: &[Self] = &[$(Self::$variant),*];
            /// How many there are.
            pub const COUNT: usize = Self::ALL.len();

            /// Its number.
            #[must_use]
            pub const fn number(self) -> u8 {
                match self { $(Self::$variant => $number),* }
            }

            /// Its name.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $word),* }
            }
        }
    };
}

alarms! {
    /// Alarms of the whole site.
    SiteAlarm {
        /// pH is low.
        PhLow = 0, "ph_low";
        /// pH is high.
        PhHigh = 1, "ph_high";
        /// pH moves too fast.
        PhRate = 2, "ph_rate";
        /// The pH probe is not healthy or says nothing; or the temperature, most often of the same
        /// probe, says nothing where cold water holds feed (`EventKind::TemperatureLost`).
        PhStatus = 3, "ph_status";
        /// ORP is low.
        OrpLow = 4, "orp_low";
        /// ORP is high.
        OrpHigh = 5, "orp_high";
        /// ORP moves too fast.
        OrpRate = 6, "orp_rate";
        /// The ORP probe is not healthy or says nothing.
        OrpStatus = 7, "orp_status";
        /// A record was not confirmed in time.
        SaveOverdue = 8, "save_overdue";
        /// The pump runs and no flow is seen.
        PumpWithoutFlow = 9, "pump_without_flow";
        /// Water has not flowed for too long, or not when the timetable says so.
        FlowAbsent = 10, "flow_absent";
        /// Water does not answer the doses.
        NoAnswer = 11, "no_answer";
        /// Fallback ends soon.
        FallbackEnds = 12, "fallback_ends";
        /// The oxidiser is fed at its reduced share: pH is high.
        WeakChlorine = 13, "weak_chlorine";
        /// The two records differed at start, or one was not whole.
        RecordsDiffer = 14, "records_differ";
        /// A drive runs against its command. Safety trip.
        RunsAgainst = 15, "runs_against";
        /// The series contact's output failed. Safety trip.
        MasterFault = 16, "master_fault";
        /// Lockout: the guard's state changed by itself. Safety trip.
        LockedStateSeal = 17, "locked_state_seal";
        /// Lockout: the limits changed by themselves. Safety trip.
        LockedLimitsSeal = 18, "locked_limits_seal";
        /// Lockout: flow while the pump is off. Safety trip.
        LockedWitnesses = 19, "locked_witnesses";
        /// Lockout: product in standing water. Safety trip.
        LockedLine = 20, "locked_line";
        /// Lockout: no usable record. Safety trip.
        LockedRecordLost = 21, "locked_record_lost";
        /// Lockout: emergency stop. Safety trip.
        LockedEmergencyStop = 22, "locked_emergency_stop";
        /// Lockout: power was lost. Safety trip.
        LockedPowerLoss = 23, "locked_power_loss";
        /// A test of the water is overdue.
        TestOverdue = 24, "test_overdue";
        /// A proof test of an interlock is due, was never made, or failed.
        ProofOverdue = 25, "proof_overdue";
        /// The time between ticks is none, or more than can be, again and again: nothing can be timed.
        ClockFault = 26, "clock_fault";
        /// What persons did and found is lost: the unit only observes, until a technician ends that.
        KeptLost = 27, "kept_lost";
    }
}

alarms! {
    /// Alarms of one feeder.
    FeederAlarm {
        /// Asked for, and not fed, for hours: under-feeding is a hazard too.
        DemandUnmet = 0, "demand_unmet";
        /// The drum is low, by amount or by days.
        StockLow = 1, "stock_low";
        /// The level switch sees no product.
        StockEmpty = 2, "stock_empty";
        /// The drive's output failed. Safety trip.
        LineFault = 3, "line_fault";
        /// Lockout: the governing probe failed for too long. Safety trip.
        LockedProbe = 4, "locked_probe";
        /// Lockout: the drive ran for too long. Safety trip.
        LockedRunTime = 5, "locked_run_time";
        /// Lockout: water answered the wrong way or far too strongly. Safety trip.
        LockedResponse = 6, "locked_response";
        /// Lockout: the drive did not obey. Safety trip.
        LockedDrive = 7, "locked_drive";
        /// The real rate looks wrong by half or more, by the water's answers or by the drum.
        RateWrong = 8, "rate_wrong";
    }
}

impl SiteAlarm {
    /// Whether it may never be shelved, suppressed or taken out of service.
    #[must_use]
    pub const fn is_safety_trip(self) -> bool {
        let number = self.number();
        number >= Self::RunsAgainst.number() && number <= Self::LockedPowerLoss.number()
    }

    /// Whether it stays listed until a person resets it. Lockouts have a release of their own.
    #[must_use]
    pub const fn is_latching(self) -> bool {
        matches!(
            self,
            Self::RecordsDiffer | Self::RunsAgainst | Self::MasterFault
        )
    }

    /// The lockout that it stands for.
    #[must_use]
    pub const fn lockout(self) -> Option<Lockout> {
        match self {
            Self::LockedStateSeal => Some(Lockout::StateSeal),
            Self::LockedLimitsSeal => Some(Lockout::LimitsSeal),
            Self::LockedWitnesses => Some(Lockout::Witnesses),
            Self::LockedLine => Some(Lockout::Line),
            Self::LockedRecordLost => Some(Lockout::RecordLost),
            Self::LockedEmergencyStop => Some(Lockout::EmergencyStop),
            Self::LockedPowerLoss => Some(Lockout::PowerLoss),
            _ => None,
        }
    }
}

impl FeederAlarm {
    /// Whether it may never be shelved, suppressed or taken out of service.
    #[must_use]
    pub const fn is_safety_trip(self) -> bool {
        matches!(self, Self::LineFault) || self.lockout().is_some()
    }

    /// Whether it stays listed until a person resets it. Lockouts have a release of their own.
    #[must_use]
    pub const fn is_latching(self) -> bool {
        matches!(self, Self::LineFault)
    }

    /// The lockout that it stands for.
    #[must_use]
    pub const fn lockout(self) -> Option<Lockout> {
        match self {
            Self::LockedProbe => Some(Lockout::Probe),
            Self::LockedRunTime => Some(Lockout::RunTime),
            Self::LockedResponse => Some(Lockout::Response),
            Self::LockedDrive => Some(Lockout::Drive),
            _ => None,
        }
    }
}

/// One alarm.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum AlarmId {
    /// Of the site.
    Site(SiteAlarm),
    /// Of a feeder, by its index.
    Feeder(u8, FeederAlarm),
}

impl AlarmId {
    /// Whether it may never be shelved, suppressed or taken out of service.
    #[must_use]
    pub const fn is_safety_trip(self) -> bool {
        match self {
            Self::Site(alarm) => alarm.is_safety_trip(),
            Self::Feeder(_, alarm) => alarm.is_safety_trip(),
        }
    }

    /// Its number, among those of the site or of its feeder.
    pub(crate) const fn number(self) -> u8 {
        match self {
            Self::Site(alarm) => alarm.number(),
            Self::Feeder(_, alarm) => alarm.number(),
        }
    }

    /// Its name, without the feeder.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Site(alarm) => alarm.name(),
            Self::Feeder(_, alarm) => alarm.name(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_lockout_has_one_alarm_and_it_is_a_safety_trip() {
        for lockout in Lockout::ALL {
            let site = SiteAlarm::ALL
                .iter()
                .filter(|alarm| alarm.lockout() == Some(lockout));
            let feeder = FeederAlarm::ALL
                .iter()
                .filter(|alarm| alarm.lockout() == Some(lockout));
            let (site, feeder): (std::vec::Vec<_>, std::vec::Vec<_>) =
                (site.collect(), feeder.collect());
            let expected = if lockout.is_of_site() { (1, 0) } else { (0, 1) };
            assert_eq!((site.len(), feeder.len()), expected, "{lockout:?}");
            assert!(site.iter().all(|alarm| alarm.is_safety_trip()));
            assert!(feeder.iter().all(|alarm| alarm.is_safety_trip()));
        }
    }

    #[test]
    fn what_is_only_due_may_be_shelved() {
        for alarm in [SiteAlarm::TestOverdue, SiteAlarm::ProofOverdue] {
            assert!(!alarm.is_safety_trip());
        }
        assert!(SiteAlarm::LockedPowerLoss.is_safety_trip());
        assert!(!SiteAlarm::RecordsDiffer.is_safety_trip());
    }

    #[test]
    fn an_alarm_is_called_the_same_at_each_feeder_and_none_as_another() {
        let mut names = std::collections::BTreeSet::new();
        for alarm in SiteAlarm::ALL {
            let id = AlarmId::Site(*alarm);
            assert_eq!(
                (id.name(), id.is_safety_trip()),
                (alarm.name(), alarm.is_safety_trip())
            );
            assert!(names.insert(id.name()), "{}", id.name());
        }
        for alarm in FeederAlarm::ALL {
            let ids = [AlarmId::Feeder(0, *alarm), AlarmId::Feeder(1, *alarm)];
            for id in ids {
                assert_eq!(
                    (id.name(), id.is_safety_trip()),
                    (alarm.name(), alarm.is_safety_trip())
                );
            }
            assert!(names.insert(alarm.name()), "{}", alarm.name());
        }
    }

    #[test]
    fn numbers_count_up() {
        for (number, alarm) in SiteAlarm::ALL.iter().enumerate() {
            assert_eq!(usize::from(alarm.number()), number);
        }
        for (number, alarm) in FeederAlarm::ALL.iter().enumerate() {
            assert_eq!(usize::from(alarm.number()), number);
        }
    }

    #[test]
    fn what_stays_listed_until_it_is_reset_and_what_may_not_be_set_aside() {
        let latching = SiteAlarm::ALL
            .iter()
            .copied()
            .filter(|alarm| alarm.is_latching());
        let latching: std::vec::Vec<_> = latching.collect();
        let (differ, against, fault) = (
            SiteAlarm::RecordsDiffer,
            SiteAlarm::RunsAgainst,
            SiteAlarm::MasterFault,
        );
        assert_eq!(latching.len(), 3);
        assert!(
            [differ, against, fault]
                .iter()
                .all(|alarm| latching.contains(alarm))
        );
        for alarm in FeederAlarm::ALL.iter().copied() {
            let is_line = alarm == FeederAlarm::LineFault;
            assert_eq!(alarm.is_latching(), is_line, "{alarm:?}");
            let trips = is_line || alarm.lockout().is_some();
            assert_eq!(alarm.is_safety_trip(), trips, "{alarm:?}");
            assert_eq!(AlarmId::Feeder(0, alarm).number(), alarm.number());
        }
        for alarm in SiteAlarm::ALL.iter().copied() {
            assert_eq!(AlarmId::Site(alarm).number(), alarm.number());
        }
    }
}

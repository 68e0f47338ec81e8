//! Where a person looks first when something stands in the way.
//!
//! The order is common practice, no source: what is quick to see and often the cause comes first.

use crate::guard::{Lockout, Rule};

/// A thing to look at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize))]
#[cfg_attr(feature = "serde", serde(rename_all = "snake_case"))]
pub enum Look {
    /// Skimmer and pump baskets.
    Baskets,
    /// Valves of the circulation.
    Valves,
    /// Air in the pump or the sample line.
    Air,
    /// The filter's pressure.
    Filter,
    /// Whether the circulation pump runs, and its breaker.
    Pump,
    /// The timetable of the circulation pump, or the operating hours.
    Timetable,
    /// The flow switch: stuck, bridged or dirty.
    FlowSwitch,
    /// The contact of the pump's contactor.
    PumpContact,
    /// The probe: dirty, dry, old, its cable and plug.
    Probe,
    /// The water itself, by a test kit.
    WaterTest,
    /// The probe against the kit or a buffer.
    Calibration,
    /// The drum: level, product, strength, suction line.
    Drum,
    /// The feed pump's tube.
    Tube,
    /// The injection point and its line.
    InjectionLine,
    /// The rate, by a catch test.
    Rate,
    /// The drive: relay, contactor, feedback.
    Drive,
    /// Wiring.
    Wiring,
    /// The power supply.
    Supply,
    /// The memory that holds the records.
    Store,
    /// The real-time clock and its battery.
    Clock,
    /// Switches that stop feeding: emergency stop, service, pause.
    Switches,
    /// The button for feed by hand.
    Button,
    /// Settings and limits.
    Settings,
    /// The log of events.
    Events,
}

impl Look {
    /// In plain words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Baskets => "skimmer and pump baskets",
            Self::Valves => "valves of the circulation",
            Self::Air => "air in the pump or the sample line",
            Self::Filter => "filter pressure",
            Self::Pump => "circulation pump and its breaker",
            Self::Timetable => "timetable and operating hours",
            Self::FlowSwitch => "flow switch: stuck, bridged or dirty",
            Self::PumpContact => "run contact of the circulation pump",
            Self::Probe => "probe: dirty, dry or old; cable and plug",
            Self::WaterTest => "the water, by a test kit",
            Self::Calibration => "probe against the test kit or a buffer",
            Self::Drum => "drum: level, product, strength, suction line",
            Self::Tube => "tube of the feed pump",
            Self::InjectionLine => "injection point and its line",
            Self::Rate => "feed rate, by a catch test",
            Self::Drive => "drive of the feeder: relay, contactor, feedback",
            Self::Wiring => "wiring and terminals",
            Self::Supply => "power supply",
            Self::Store => "memory that holds the records",
            Self::Clock => "clock and its battery",
            Self::Switches => "emergency stop, service and pause switches",
            Self::Button => "button for feed by hand",
            Self::Settings => "settings and limits",
            Self::Events => "log of events",
        }
    }
}

/// Where to look first when a rule refuses. Empty where waiting is all there is to do.
#[must_use]
pub const fn look_at(rule: Rule) -> &'static [Look] {
    use Look::{
        Air, Baskets, Button, Calibration, Clock, Drive, Drum, Events, Filter, FlowSwitch,
        InjectionLine, Probe, Pump, PumpContact, Rate, Settings, Store, Supply, Switches,
        Timetable, Tube, Valves, WaterTest, Wiring,
    };
    match rule {
        Rule::ClockSane => &[Supply, Events],
        Rule::StateSealed | Rule::LimitsSealed => &[Events, Supply],
        Rule::PowerOnDelay | Rule::SpreadHold | Rule::CycleCap | Rule::RunTimeCap => &[],
        Rule::FlowProven => &[
            Pump,
            Baskets,
            Valves,
            Air,
            Filter,
            FlowSwitch,
            PumpContact,
            Wiring,
        ],
        Rule::WitnessesAgree => &[FlowSwitch, PumpContact, Wiring],
        Rule::ProbeSettled => &[Valves, Air],
        Rule::ProbeTrusted => &[Probe, Calibration, Wiring],
        Rule::InsideCutoff => &[WaterTest, Calibration, Probe],
        Rule::BodyKnown => &[Valves, Wiring],
        Rule::HourCap | Rule::DayCap => &[WaterTest, Settings, Rate],
        Rule::OneAtATime => &[],
        Rule::LineClear => &[InjectionLine, Valves],
        Rule::ResponseSane => &[Drum, Tube, InjectionLine, Probe, Rate],
        Rule::StockPresent => &[Drum, Wiring],
        Rule::DriveObeys => &[Drive, Wiring],
        Rule::LedgerTrusted => &[Store, Events],
        Rule::ChargeDurable => &[Store],
        Rule::NoLockout => &[Events],
        Rule::InhibitsClear => &[Switches, Wiring],
        Rule::WindowOpen => &[Timetable, Clock],
        Rule::ManualBounded => &[Button],
        Rule::FallbackBounded => &[WaterTest, Probe],
    }
}

/// Where to look first before a lockout is released.
#[must_use]
pub const fn look_at_lockout(lockout: Lockout) -> &'static [Look] {
    match lockout {
        Lockout::PowerLoss => &[Look::Supply, Look::Events],
        Lockout::EmergencyStop => &[Look::Switches, Look::Events],
        Lockout::RunTime => &[Look::Drive, Look::Wiring, Look::Settings],
        other => look_at(crate::machine::rule_of(other)),
    }
}

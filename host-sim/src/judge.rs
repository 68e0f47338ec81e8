//! From a scenario to what the oracles hold it to.

/// The oracles by name.
pub const ORACLES: [&str; 13] = [
    "standing_water",
    "line_gas",
    "power_on_delay",
    "never_both",
    "acid_floor",
    "cycle_total",
    "hour_total",
    "day_total",
    "holds_kept",
    "chlorine_ceiling",
    "poor_water_alarmed",
    "fed_or_asked",
    "cell_flow",
];

//! The verdict expected of each.

/// What is expected of a scenario. All of the water's figures count from the second day on.
pub(crate) struct Expected {
    pub(crate) file: &'static str,
    pub(crate) text: &'static str,
    /// Oracles that it is meant to break.
    pub(crate) broken: &'static [&'static str],
    /// Every alarm that comes and goes after the unit was begun, by its name.
    pub(crate) alarms: &'static [&'static str],
    /// An alarm that has to come, not before, and at the latest.
    pub(crate) asked: Option<(&'static str, &'static str, &'static str)>,
    /// Least share of the time near the set point, and at or above the least chlorine, %.
    pub(crate) shares: (f64, f64),
    /// pH stays within.
    pub(crate) ph: (f64, f64),
    /// Free chlorine stays within, mg/L.
    pub(crate) chlorine: (f64, f64),
}

macro_rules! scenario {
    ($file:literal) => {
        include_str!(concat!("../../../../examples/scenarios/", $file))
    };
}

/// Some days each.
pub(crate) const SHORT: [Expected; 9] = [
    Expected {
        file: "tripped-pump-with-bathers.toml",
        text: scenario!("tripped-pump-with-bathers.toml"),
        broken: &[],
        alarms: &["flow_absent", "locked_witnesses"],
        asked: Some(("locked_witnesses", "day 2 13:00", "day 2 13:25")),
        shares: (99.0, 99.0),
        ph: (7.3, 7.5),
        chlorine: (1.0, 2.0),
    },
    Expected {
        file: "three-hundred-resets.toml",
        text: scenario!("three-hundred-resets.toml"),
        broken: &[],
        alarms: &["records_differ"],
        asked: None,
        shares: (99.0, 99.0),
        ph: (7.45, 7.6),
        chlorine: (2.2, 2.8),
    },
    Expected {
        file: "busy-spa.toml",
        text: scenario!("busy-spa.toml"),
        broken: &[],
        alarms: &[],
        asked: None,
        shares: (99.0, 99.0),
        ph: (7.4, 7.6),
        chlorine: (1.0, 4.0),
    },
    Expected {
        file: "empty-acid.toml",
        text: scenario!("empty-acid.toml"),
        broken: &["kept_in_range"],
        alarms: &[
            "acid: demand_unmet",
            "acid: stock_empty",
            "chlorine: demand_unmet",
            "orp_low",
            "ph_high",
            "weak_chlorine",
        ],
        asked: Some(("acid: stock_empty", "day 1 18:00", "day 1 18:30")),
        shares: (0.0, 99.0),
        ph: (7.4, 9.5),
        chlorine: (1.0, 10.0),
    },
    Expected {
        file: "hot-lido.toml",
        text: scenario!("hot-lido.toml"),
        broken: &[],
        alarms: &["chlorine: stock_low"],
        asked: Some(("chlorine: stock_low", "day 2 00:00", "day 2 18:00")),
        shares: (99.0, 99.0),
        ph: (7.3, 7.5),
        chlorine: (1.0, 2.0),
    },
    Expected {
        file: "wrong-drum.toml",
        text: scenario!("wrong-drum.toml"),
        broken: &[],
        alarms: &["acid: demand_unmet", "acid: rate_wrong"],
        asked: Some(("acid: rate_wrong", "day 3 10:00", "day 3 16:00")),
        shares: (99.0, 99.0),
        ph: (7.45, 7.65),
        chlorine: (2.2, 4.2),
    },
    Expected {
        file: "wrong-can.toml",
        text: scenario!("wrong-can.toml"),
        broken: &["kept_in_range"],
        alarms: &[
            "acid: demand_unmet",
            "acid: rate_wrong",
            "chlorine: demand_unmet",
            "no_answer",
            "orp_low",
            "ph_high",
            "weak_chlorine",
        ],
        asked: Some(("acid: rate_wrong", "day 3 10:00", "day 3 16:00")),
        shares: (0.0, 99.0),
        ph: (7.4, 9.0),
        chlorine: (1.0, 10.0),
    },
    Expected {
        file: "low-alkalinity.toml",
        text: scenario!("low-alkalinity.toml"),
        broken: &[],
        alarms: &["acid: rate_wrong"],
        asked: Some(("acid: rate_wrong", "day 1 08:00", "day 4 00:00")),
        shares: (99.0, 99.0),
        ph: (7.45, 7.6),
        chlorine: (2.2, 2.8),
    },
    Expected {
        file: "acid-tablets.toml",
        text: scenario!("acid-tablets.toml"),
        broken: &["kept_in_range"],
        alarms: &["ph_low"],
        asked: Some(("ph_low", "day 3 08:00", "day 5 08:00")),
        shares: (55.0, 99.0),
        ph: (7.1, 7.6),
        chlorine: (1.9, 2.8),
    },
];

/// Weeks and months each.
pub(crate) const LONG: [Expected; 5] = [
    Expected {
        file: "fouled-orp.toml",
        text: scenario!("fouled-orp.toml"),
        broken: &[],
        alarms: &["cell: demand_unmet", "orp_low", "orp_status"],
        asked: Some(("cell: demand_unmet", "day 3 08:00", "day 5 08:00")),
        shares: (99.0, 99.0),
        ph: (7.4, 7.6),
        chlorine: (2.0, 5.0),
    },
    Expected {
        file: "new-plaster.toml",
        text: scenario!("new-plaster.toml"),
        broken: &[],
        alarms: &[],
        asked: None,
        shares: (99.0, 99.0),
        ph: (7.4, 7.6),
        chlorine: (2.2, 2.9),
    },
    Expected {
        file: "worn-tube.toml",
        text: scenario!("worn-tube.toml"),
        broken: &["cycle_total", "charge_stored"],
        alarms: &[
            "acid: demand_unmet",
            "acid: locked_drive",
            "acid: rate_wrong",
            "chlorine: locked_drive",
            "proof_overdue",
            "test_overdue",
        ],
        // With eight seeds 2.4 to 5.9 days after the tube, which is fitted at day 20 10:00.
        asked: Some(("acid: rate_wrong", "day 20 10:00", "day 26 08:00")),
        shares: (99.0, 99.0),
        ph: (7.4, 7.7),
        chlorine: (2.2, 2.9),
    },
    Expected {
        file: "weekly-bicarbonate.toml",
        text: scenario!("weekly-bicarbonate.toml"),
        broken: &[],
        alarms: &[
            "acid: demand_unmet",
            "acid: locked_drive",
            "chlorine: locked_drive",
            "proof_overdue",
            "test_overdue",
        ],
        asked: Some(("test_overdue", "day 61 00:00", "day 62 00:00")),
        shares: (99.0, 99.0),
        ph: (7.4, 7.7),
        chlorine: (2.2, 2.9),
    },
    Expected {
        file: "winter.toml",
        text: scenario!("winter.toml"),
        broken: &[],
        // Before it is closed for want of feed in the cold, and after it is open again; none in winter.
        alarms: &[
            "acid: demand_unmet",
            "acid: locked_drive",
            "chlorine: demand_unmet",
            "chlorine: locked_drive",
            "orp_low",
            "ph_high",
            "proof_overdue",
            "weak_chlorine",
        ],
        asked: Some(("chlorine: demand_unmet", "day 10 08:00", "day 10 13:00")),
        shares: (95.0, 85.0),
        ph: (7.3, 7.7),
        chlorine: (0.5, 3.5),
    },
];

//! Each broken relation, by the smallest step.

use std::string::ToString;

use super::*;

/// A glass electrode of some hundred Mohm, 10 Gohm to 2.5 V, a reference of 1.25 V.
pub(in super::super) const GLASS: FrontSpec = FrontSpec {
    full_scale_mv: 2048,
    offset_mv: 1250,
    gain_milli: 1000,
    low_mv: -500,
    high_mv: 500,
    open_at_mv: 700,
    moves_min_mv: Fitted::Fitted(3),
    moves_max_mv: 150,
    settle: Millis(1000),
    convert_max: Millis(300),
    poll_max: Millis(100),
    check_every: Millis::from_secs(60),
    age_max: Millis(5000),
};

/// A metal electrode of a few kiloohm, 10 Mohm to 2.5 V.
pub(in super::super) const METAL: FrontSpec = FrontSpec {
    full_scale_mv: 4096,
    low_mv: -200,
    high_mv: 1000,
    offset_mv: 500,
    open_at_mv: 1500,
    moves_min_mv: Fitted::NotFitted,
    moves_max_mv: 20,
    settle: Millis(100),
    ..GLASS
};

fn error(spec: FrontSpec) -> FrontError {
    FrontLimits::try_new(spec).unwrap_err()
}

#[test]
fn both_kinds_of_electrode_pass() {
    assert_eq!(FrontLimits::try_new(GLASS).map(|l| *l.spec()), Ok(GLASS));
    assert_eq!(FrontLimits::try_new(METAL).map(|l| *l.spec()), Ok(METAL));
}

#[test]
fn every_field_has_a_range() {
    // Field, a step below its range, a step above.
    type Set = fn(&mut FrontSpec, i32);
    let fields: [(&str, i32, i32, Set); 12] = [
        ("full_scale_mv", 99, 6145, |s, v| s.full_scale_mv = v),
        ("offset_mv", -6145, 6145, |s, v| s.offset_mv = v),
        ("gain_milli", 99, 100_001, |s, v| s.gain_milli = v),
        ("low_mv", -2001, 2001, |s, v| s.low_mv = v),
        ("high_mv", -2001, 2001, |s, v| s.high_mv = v),
        ("open_at_mv", -2001, 2001, |s, v| s.open_at_mv = v),
        ("moves_min_mv", 0, 1001, |s, v| {
            s.moves_min_mv = Fitted::Fitted(v)
        }),
        ("moves_max_mv", 0, 1001, |s, v| s.moves_max_mv = v),
        ("settle", 0, 60_001, |s, v| {
            s.settle = Millis(v.cast_unsigned())
        }),
        ("convert_max", 0, 10_001, |s, v| {
            s.convert_max = Millis(v.cast_unsigned())
        }),
        ("poll_max", 0, -1, |s, v| {
            s.poll_max = Millis(v.cast_unsigned())
        }),
        ("check_every", 9999, 3_600_001, |s, v| {
            s.check_every = Millis(v.cast_unsigned())
        }),
    ];
    for (name, below, past, set) in fields {
        for wrong in [below, past] {
            let mut spec = GLASS;
            set(&mut spec, wrong);
            let told = error(spec);
            assert!(
                matches!(told, FrontError::Range { field, .. } if field == name),
                "{name} {wrong}: {told:?}"
            );
            assert!(told.to_string().starts_with(name), "{told}");
        }
    }
}

#[test]
fn the_ends_of_a_range_are_in_it_and_a_time_past_any_figure_is_shown_as_the_greatest() {
    let out = |ms| {
        let spec = FrontSpec {
            settle: Millis(ms),
            ..GLASS
        };
        match FrontLimits::try_new(spec) {
            Err(FrontError::Range { value, .. }) => Some(value),
            _ => None,
        }
    };
    assert_eq!([1, 60_000].map(out), [None; 2]);
    assert_eq!([0, 60_001].map(out), [Some(0), Some(60_001)]);
    assert_eq!(out(0x7F00_0000), Some(0x7F00_0000));
    assert_eq!([0x8000_0000, u32::MAX].map(out), [Some(i32::MAX); 2]);
}

#[test]
fn what_has_to_be_above_is_above() {
    let crossed = FrontSpec {
        low_mv: 500,
        ..GLASS
    };
    let told = error(crossed);
    assert_eq!(
        told,
        FrontError::Order {
            field: "high_mv",
            value: 500,
            above: 500
        }
    );
    assert_eq!(told.to_string(), "high_mv is 500; it has to be above 500");
    let open = FrontSpec {
        open_at_mv: 650,
        ..GLASS
    };
    assert_eq!(
        error(open),
        FrontError::Order {
            field: "open_at_mv",
            value: 650,
            above: 650
        }
    );
    assert!(
        FrontLimits::try_new(FrontSpec {
            open_at_mv: 651,
            ..GLASS
        })
        .is_ok()
    );
    let moves = FrontSpec {
        moves_min_mv: Fitted::Fitted(150),
        ..GLASS
    };
    assert_eq!(
        error(moves),
        FrontError::Order {
            field: "moves_max_mv",
            value: 150,
            above: 150
        }
    );
}

#[test]
fn the_converter_sees_all_of_the_electrode() {
    let off = |spec, name| match error(spec) {
        FrontError::OffScale { field, .. } => assert_eq!(field, name),
        other => panic!("{other:?}"),
    };
    off(
        FrontSpec {
            open_at_mv: 798,
            ..GLASS
        },
        "open_at_mv",
    );
    assert!(
        FrontLimits::try_new(FrontSpec {
            open_at_mv: 797,
            ..GLASS
        })
        .is_ok()
    );
    off(
        FrontSpec {
            full_scale_mv: 1750,
            ..GLASS
        },
        "high_mv",
    );
    off(
        FrontSpec {
            offset_mv: -1548,
            ..GLASS
        },
        "low_mv",
    );
    let told = error(FrontSpec {
        gain_milli: 2000,
        ..GLASS
    });
    assert_eq!(
        told.to_string(),
        "high_mv is 2250 mV at the converter, which ends at 2048 mV"
    );
}

#[test]
fn a_converter_without_power_passes_for_no_electrode() {
    let told = error(FrontSpec {
        offset_mv: 0,
        ..GLASS
    });
    assert_eq!(
        told,
        FrontError::ZeroIsAValue {
            low_at_mv: -500,
            high_at_mv: 500
        }
    );
    assert!(told.to_string().ends_with("move offset_mv"));
    assert!(matches!(
        error(FrontSpec {
            offset_mv: 509,
            ..GLASS
        }),
        FrontError::ZeroIsAValue { .. }
    ));
    assert!(
        FrontLimits::try_new(FrontSpec {
            offset_mv: 510,
            ..GLASS
        })
        .is_ok()
    );
    assert!(matches!(
        error(FrontSpec {
            offset_mv: -509,
            ..GLASS
        }),
        FrontError::ZeroIsAValue { .. }
    ));
    assert!(
        FrontLimits::try_new(FrontSpec {
            offset_mv: -510,
            ..GLASS
        })
        .is_ok()
    );
}

#[test]
fn a_check_is_short_enough_for_the_guard() {
    // 3 x (300 + 100) + 2 x (1000 + 100).
    let told = error(FrontSpec {
        age_max: Millis(3399),
        ..GLASS
    });
    assert_eq!(
        told,
        FrontError::CheckTooLong {
            blind_ms: 3400,
            age_max_ms: 3399
        }
    );
    assert!(told.to_string().starts_with("a value gets 3400 ms old"));
    assert!(
        FrontLimits::try_new(FrontSpec {
            age_max: Millis(3400),
            ..GLASS
        })
        .is_ok()
    );
}

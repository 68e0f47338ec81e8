//! A year of healthy water, made up: doses by day, sun, bathers, a pump with a timetable, and a
//! calm winter under a cover in which hardly anything moves. Invented data.

/// Water at the probe at one moment.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Water {
    pub(crate) ph: f64,
    pub(crate) orp_mv: f64,
    pub(crate) celsius: f64,
    /// It has moved for 5 minutes.
    pub(crate) is_steady: bool,
}

const DAY_S: u32 = 86_400;
const WINTER_FROM: u32 = 300;

/// Rises from 0 to 1 and falls again over the part of the day from `from` to `to`, h.
fn hump(hour: f64, from: f64, to: f64) -> f64 {
    let x = (hour - from) / (to - from);
    (4.0 * x * (1.0 - x)).max(0.0)
}

/// How far a dose given `s` ago has mixed in.
fn mixed(s: f64, over_s: f64) -> f64 {
    if s <= 0.0 { 0.0 } else { s / (s + over_s) }
}

/// `s` after the new year of the pool: spring, summer, autumn, and 65 days of winter.
pub(crate) fn at(s: u32) -> Water {
    let day = s / DAY_S;
    let hour = f64::from(s % DAY_S) / 3600.0;
    let winter = day >= WINTER_FROM;
    let (pump_from, pump_to) = if winter { (10.0, 12.0) } else { (8.0, 20.0) };
    let running_h = hour - pump_from;
    let runs = hour >= pump_from && hour < pump_to;
    let season = hump(f64::from(day), 0.0, 330.0);
    let sun = hump(hour, 6.0, 20.0);
    let celsius = if winter {
        5.0
    } else {
        8.0 + 20.0 * season + 1.5 * sun
    };
    let (mut ph, mut orp_mv) = if winter {
        (7.520, 640.0)
    } else {
        pool(hour, sun, f64::from(day % 7) / 7.0)
    };
    if !runs && !winter {
        // It stands in the cell, and goes its own way.
        let standing_h = if running_h < 0.0 {
            hour + 4.0
        } else {
            hour - pump_to
        };
        let (end_ph, end_orp) = pool(20.0, 0.0, f64::from(day % 7) / 7.0);
        ph = end_ph + 0.02 * standing_h;
        orp_mv = end_orp - 8.0 * standing_h;
    }
    Water {
        ph,
        orp_mv,
        celsius,
        is_steady: runs && running_h >= 5.0 / 60.0,
    }
}

/// The pool by day: pH rises by 0.03 an hour, and a dose of acid each 4 h takes 0.12 off within
/// minutes; chlorine falls in the sun and with bathers, and is fed each 3 h.
fn pool(hour: f64, sun: f64, weekday: f64) -> (f64, f64) {
    let mut ph = 7.45 + 0.03 * (hour - 8.0);
    let mut orp_mv = 700.0 - 25.0 * sun - 20.0 * weekday * hump(hour, 12.0, 18.0);
    for dose in [10.0, 14.0, 18.0] {
        ph -= 0.12 * mixed((hour - dose) * 3600.0, 240.0);
    }
    for dose in [9.0, 12.0, 15.0, 18.0] {
        orp_mv += 12.0 * mixed((hour - dose) * 3600.0, 600.0);
    }
    (ph, orp_mv)
}

#[test]
fn the_water_moves_as_it_should() {
    let day = |day: u32| (0..DAY_S).step_by(60).map(move |s| at(day * DAY_S + s));
    let spread = |values: &[f64]| {
        let (low, high) = values
            .iter()
            .fold((f64::MAX, f64::MIN), |(l, h), v| (l.min(*v), h.max(*v)));
        high - low
    };
    let ph = |d: u32| spread(&day(d).map(|w| w.ph).collect::<Vec<_>>());
    let orp = |d: u32| spread(&day(d).map(|w| w.orp_mv).collect::<Vec<_>>());
    assert!(ph(150) > 0.15 && ph(150) < 0.6 && orp(150) > 60.0);
    assert_eq!([ph(330), orp(330)], [0.0, 0.0], "calm");
    assert!(day(150).filter(|w| w.is_steady).count() > 700);
    assert!(at(150 * DAY_S + 43_200).celsius > 25.0 && at(330 * DAY_S).celsius < 6.0);
}

use std::string::ToString;
use std::vec::Vec;

use super::*;
use crate::guard::units::{MilliPh, Millivolts, Percent};
use crate::probe::{CentiCelsius, MicrogramsPerL};

const POOL: Place = Place {
    is_spa: false,
    chlorine_min: MicrogramsPerL(800),
};
const SPA: Place = Place {
    is_spa: true,
    ..POOL
};

/// Inside of every limit, of a pool and of a spa.
const SOUND: Seen = Seen {
    ph_probe: Some(MilliPh(7500)),
    ph_kit: Some(MilliPh(7500)),
    free_chlorine: Some(MicrogramsPerL(4000)),
    orp: Some(Millivolts(760)),
    cyanurate: Some(MicrogramsPerL(0)),
    alkalinity: Some(MicrogramsPerL(100_000)),
    hardness: Some(MicrogramsPerL(250_000)),
    temperature: Some(CentiCelsius(2800)),
    flow_share: Some(Percent(100)),
    circulates: Some(true),
    disinfects: Some(true),
};

/// The limits that are not kept, as `code: what has to hold`.
fn not_kept(place: &Place, seen: &Seen, as_what: Judged) -> Vec<std::string::String> {
    let found = LIMITS.iter().filter(|it| it.judge(place, seen) == as_what);
    found
        .map(|it| std::format!("{}: {it}", it.code.name()))
        .collect()
}

type Set = fn(&mut Seen, i32);

fn micro(value: i32) -> Option<MicrogramsPerL> {
    Some(MicrogramsPerL(value.unsigned_abs()))
}

const PH: Set = |seen, value| seen.ph_probe = Some(MilliPh(value));
const PH_KIT: Set = |seen, value| seen.ph_kit = Some(MilliPh(value));
const CHLORINE: Set = |seen, value| seen.free_chlorine = micro(value);
const STABILISED: Set = |seen, value| {
    seen.cyanurate = micro(1000);
    seen.free_chlorine = micro(value);
};
const CYANURATE: Set = |seen, value| seen.cyanurate = micro(value);
const ALKALINITY: Set = |seen, value| seen.alkalinity = micro(value);
const HARDNESS: Set = |seen, value| seen.hardness = micro(value);
const ORP: Set = |seen, value| seen.orp = Some(Millivolts(value));
const WARM_ORP: Set = |seen, value| {
    seen.temperature = Some(CentiCelsius(3501));
    seen.orp = Some(Millivolts(value));
};
const WARMTH: Set = |seen, value| {
    seen.orp = Some(Millivolts(700));
    seen.temperature = Some(CentiCelsius(value));
};
const FLOW: Set = |seen, value| {
    seen.flow_share = Some(Percent(value.unsigned_abs()));
};

/// Place, what is set, the last value inside, the first one past it, and the limit that then is.
/// US CDC Model Aquatic Health Code 6.6.3.1; California 22 CCR 65529(b), 65525(b); Delaware
/// 4464-14.2.4; Quebec Q-2 r. 39; Montana ARM 37.115.1308 table 6.
const EDGES: [(Place, Set, i32, i32, &str); 23] = [
    (POOL, PH, 6500, 6499, "mahc: pH at least 6.5"),
    (POOL, PH, 8000, 8001, "mahc: pH at most 8.0"),
    (POOL, PH_KIT, 6500, 6499, "mahc: pH at least 6.5"),
    (POOL, PH_KIT, 8000, 8001, "mahc: pH at most 8.0"),
    (
        POOL,
        CHLORINE,
        800,
        799,
        "mahc: free chlorine at least the site's own minimum",
    ),
    (
        POOL,
        CHLORINE,
        1000,
        999,
        "california: free chlorine at least 1.0 mg/L",
    ),
    (
        POOL,
        STABILISED,
        2000,
        1999,
        "california: free chlorine at least 2.0 mg/L with cyanuric acid",
    ),
    (
        SPA,
        CHLORINE,
        3000,
        2999,
        "california: free chlorine at least 3.0 mg/L in a spa",
    ),
    (
        POOL,
        CHLORINE,
        10_000,
        10_001,
        "california: free chlorine at most 10.0 mg/L",
    ),
    (
        POOL,
        FLOW,
        75,
        74,
        "california: recirculation at least 75 % of the required rate",
    ),
    (POOL, PH, 7200, 7199, "delaware: pH at least 7.2"),
    (POOL, PH, 7800, 7801, "delaware: pH at most 7.8"),
    (
        POOL,
        CYANURATE,
        100_000,
        100_001,
        "delaware: cyanuric acid at most 100 mg/L",
    ),
    (
        POOL,
        CHLORINE,
        5000,
        5001,
        "quebec: free chlorine at most 5.0 mg/L",
    ),
    (
        POOL,
        CHLORINE,
        300,
        299,
        "quebec: free chlorine at least 0.3 mg/L",
    ),
    (POOL, PH_KIT, 7200, 7199, "quebec: pH at least 7.2"),
    (POOL, PH_KIT, 7800, 7801, "quebec: pH at most 7.8"),
    (
        POOL,
        ALKALINITY,
        60_000,
        59_999,
        "quebec: total alkalinity at least 60 mg/L",
    ),
    (
        POOL,
        ALKALINITY,
        150_000,
        150_001,
        "quebec: total alkalinity at most 150 mg/L",
    ),
    (
        POOL,
        HARDNESS,
        150_000,
        149_999,
        "quebec: calcium hardness at least 150 mg/L",
    ),
    (
        POOL,
        HARDNESS,
        400_000,
        400_001,
        "quebec: calcium hardness at most 400 mg/L",
    ),
    (
        POOL,
        WARM_ORP,
        751,
        750,
        "quebec: ORP over 750 mV above 35 C",
    ),
    (
        POOL,
        WARMTH,
        3500,
        3501,
        "quebec: ORP over 750 mV above 35 C",
    ),
];

fn at(place: &Place, set: Set, value: i32) -> Vec<std::string::String> {
    let mut seen = SOUND;
    set(&mut seen, value);
    not_kept(place, &seen, Judged::Met)
}

#[test]
fn sound_water_meets_no_condition_and_no_figures_tell_nothing() {
    for place in [POOL, SPA] {
        assert_eq!(not_kept(&place, &SOUND, Judged::Met), [""; 0]);
        assert_eq!(not_kept(&place, &SOUND, Judged::CannotTell), [""; 0]);
    }
    let unknown = not_kept(&SPA, &Seen::NOTHING, Judged::CannotTell);
    assert_eq!(unknown.len(), LIMITS.len());
    // All but the one for a spa.
    let unknown = not_kept(&POOL, &Seen::NOTHING, Judged::CannotTell);
    assert_eq!(unknown.len(), LIMITS.len() - 1);
}

#[test]
fn each_limit_at_both_sides_of_its_bound() {
    for (place, set, inside, past, limit) in EDGES {
        let found = at(&place, set, inside);
        assert!(!found.iter().any(|it| it == limit), "{limit}: {inside}");
        let found = at(&place, set, past);
        assert!(found.iter().any(|it| it == limit), "{limit}: {past}");
    }
    let orp = |value| at(&POOL, ORP, value);
    assert_eq!(orp(650), [""; 0]);
    assert_eq!(orp(649), ["montana: ORP at least 650 mV"]);
    let mut seen = SOUND;
    seen.circulates = Some(false);
    let standing = not_kept(&POOL, &seen, Judged::Met);
    assert_eq!(
        standing,
        ["mahc: filtration runs", "delaware: filtration runs"]
    );
    let mut seen = SOUND;
    seen.disinfects = Some(false);
    assert_eq!(
        not_kept(&POOL, &seen, Judged::Met),
        ["mahc: disinfection runs"]
    );
}

#[test]
fn every_limit_stands_in_the_table_of_edges() {
    let own = ["montana: ORP at least 650 mV", "mahc: disinfection runs"];
    for limit in LIMITS {
        let name = std::format!("{}: {limit}", limit.code.name());
        let named = EDGES.iter().any(|(.., it)| *it == name);
        let runs = name.ends_with("filtration runs");
        assert!(named || runs || own.contains(&&*name), "{name}");
    }
}

#[test]
fn a_limit_reads_right_where_it_is_kept_and_where_it_is_passed() {
    let told = |name: &str| {
        let mut own = LIMITS.iter().filter(|it| it.to_string() == name);
        own.next().expect(name).past().to_string()
    };
    for (kept, past) in [
        ("pH at least 6.5", "pH under 6.5"),
        ("pH at most 8.0", "pH over 8.0"),
        (
            "free chlorine at least the site's own minimum",
            "free chlorine under the site's own minimum",
        ),
        ("filtration runs", "filtration does not run"),
        ("disinfection runs", "disinfection does not run"),
        (
            "free chlorine at least 3.0 mg/L in a spa",
            "free chlorine under 3.0 mg/L in a spa",
        ),
        (
            "ORP over 750 mV above 35 C",
            "ORP not over 750 mV above 35 C",
        ),
    ] {
        assert_eq!(told(kept), past);
    }
}

#[test]
fn what_each_code_asks_for() {
    let of = |code: Code| {
        let mut words: Vec<&str> = LIMITS
            .iter()
            .filter(|it| it.code == code && it.asks.closes())
            .map(|it| it.asks.words())
            .collect();
        words.dedup();
        words
    };
    assert_eq!(of(Code::Mahc), ["correct at once or close"]);
    assert_eq!(of(Code::Delaware), ["suspend use"]);
    assert_eq!(of(Code::Quebec), ["evacuate"]);
    assert_eq!(Asks::Keep.words(), "outside of the limit");
    for code in [Code::California, Code::Ohio, Code::Montana] {
        assert_eq!(
            of(code),
            [""; 0],
            "its text, as read, does not say to close"
        );
    }
}

#[test]
fn either_of_probe_and_kit_is_enough_and_without_both_nobody_can_tell() {
    let limit = LIMITS[0];
    let judge = |probe: Option<i32>, kit: Option<i32>| {
        let seen = Seen {
            ph_probe: probe.map(MilliPh),
            ph_kit: kit.map(MilliPh),
            ..Seen::NOTHING
        };
        limit.judge(&POOL, &seen)
    };
    assert_eq!(judge(Some(7500), Some(6400)), Judged::Met);
    assert_eq!(judge(Some(6400), Some(7500)), Judged::Met);
    assert_eq!(judge(None, Some(7500)), Judged::Inside);
    assert_eq!(judge(Some(7500), None), Judged::Inside);
    assert_eq!(judge(None, None), Judged::CannotTell);
}

#[test]
fn a_limit_that_may_not_hold_is_kept_only_by_what_would_keep_it_if_it_did() {
    let limit = LIMITS[6];
    assert_eq!(limit.when, When::WithCyanurate);
    let judge = |chlorine: Option<u32>, cyanurate: Option<u32>| {
        let seen = Seen {
            free_chlorine: chlorine.map(MicrogramsPerL),
            cyanurate: cyanurate.map(MicrogramsPerL),
            ..Seen::NOTHING
        };
        limit.judge(&POOL, &seen)
    };
    assert_eq!(judge(Some(1500), None), Judged::CannotTell);
    assert_eq!(judge(Some(2000), None), Judged::Inside);
    assert_eq!(judge(None, Some(0)), Judged::Inside);
    assert_eq!(judge(None, Some(1)), Judged::CannotTell);
}

#[test]
fn stretches_follow_each_other_without_a_gap_in_what_was_stepped() {
    let mut watch = Watch::NEW;
    let mut ended = Vec::new();
    for (at, judged) in [
        (0, Judged::Inside),
        (1, Judged::Met),
        (1, Judged::Inside),
        (2, Judged::Inside),
        (3, Judged::CannotTell),
    ] {
        ended.extend(watch.step(at, judged));
    }
    ended.extend(watch.standing());
    let seen: Vec<_> = ended
        .iter()
        .map(|it| (it.judged, it.from_min, it.to_min))
        .collect();
    assert_eq!(
        seen,
        [
            (Judged::Inside, 0, 0),
            (Judged::Met, 1, 1),
            (Judged::Inside, 1, 2),
            (Judged::CannotTell, 3, 3),
        ]
    );
}

#[test]
fn names_stay_and_sources_are_named() {
    let names: Vec<&str> = Code::ALL.iter().map(|code| code.name()).collect();
    assert_eq!(
        names,
        [
            "mahc",
            "california",
            "ohio",
            "delaware",
            "quebec",
            "montana"
        ]
    );
    for code in Code::ALL {
        assert!(code.source().to_string().len() > 10);
    }
}

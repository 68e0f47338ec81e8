//! What `visit` says of a pool that was lived in with a known fault: it names that one, and nothing else.

mod pool;

use dosewarden_sim::explain::{Explained, Source};
use dosewarden_sim::visit::VisitResult;
use pool::{Lived, Wrong, explained, found, live};

fn names(found: &VisitResult) -> Vec<String> {
    let of = |feeder: &Option<String>| feeder.clone().unwrap_or_default();
    let all = found.causes.iter();
    all.map(|one| {
        format!("{} {}", one.name, of(&one.feeder))
            .trim()
            .to_owned()
    })
    .collect()
}

/// Four weeks of it.
fn lived(wrong: Wrong) -> (VisitResult, Explained, Lived) {
    let lived = live(wrong, 4, 11);
    let (found, explained) = (found(&lived.text), explained(&lived.text));
    println!("{}{found}{explained}", lived.text);
    (found, explained, lived)
}

/// Alkalinity that these sources moved, mg/L.
fn moved(explained: &Explained, of: &[Source]) -> f64 {
    let parts = explained.parts.iter();
    let own = parts.filter(|part| of.contains(&part.source));
    own.map(|part| part.alkalinity_mg_l).sum()
}

/// What acid really took of the alkalinity by the feeder, mg/L: all that reached the water through the line.
fn truly(lived: &Lived) -> f64 {
    let (first, last) = (&lived.truths[0], &lived.truths[lived.truths.len() - 1]);
    let mol = last.acid_in_mol - first.acid_in_mol;
    -mol / last.amounts.water_l * 50_043.0
}

fn suspects(explained: &Explained) -> Vec<&'static str> {
    explained.suspects.iter().map(|one| one.name).collect()
}

#[test]
fn a_sound_pool_raises_no_question_and_blames_nothing() {
    let (found, explained, life) = lived(Wrong::default());
    assert_eq!(names(&found), [""; 0]);
    assert_eq!(found.questions, []);
    let rate = &found.rates[0];
    let off = (rate.ratio.value - 1.0).abs();
    assert!(off < 2.0 * rate.ratio.error && off < 0.1, "{rate:?}");
    assert_eq!(suspects(&explained), [""; 0]);
    let acid = moved(&explained, &[Source::FedAcid]);
    let truth = truly(&life);
    assert!((acid / truth - 1.0).abs() < 0.1, "{acid} {truth}");
}

#[test]
fn a_pump_that_gives_half_as_much_again_is_named_with_its_rate() {
    let (found, explained, life) = lived(Wrong {
        rate_off: 0.5,
        ..Wrong::default()
    });
    assert_eq!(names(&found), ["feeds_more acid"]);
    let rate = &found.rates[0];
    let off = (rate.ratio.value - 1.5).abs();
    assert!(off < 2.0 * rate.ratio.error && off < 0.15, "{rate:?}");
    // Nobody made a catch test.
    let or = found.causes[0].or.as_ref();
    assert!(or.is_some_and(|or| or.contains("siphon")));
    assert_eq!(found.alkalinity.expect("tests").says, "closes");
    // The third that was not booked.
    assert_eq!(suspects(&explained), [""; 0]);
    let truth = truly(&life);
    let booked = moved(&explained, &[Source::FedAcid]);
    let over = moved(&explained, &[Source::OverDelivery]);
    assert!((booked / truth - 0.667).abs() < 0.1, "{booked} {truth}");
    assert!((over / truth - 0.333).abs() < 0.15, "{over} {truth}");
}

#[test]
fn a_probe_that_is_off_is_named_and_no_feeder() {
    let (found, explained, life) = lived(Wrong {
        probe_off: 0.35,
        ..Wrong::default()
    });
    assert_eq!(names(&found), ["probe_off"]);
    let probe = found.probe.expect("both were read");
    let off = (probe.off_all.value - 0.35).abs();
    assert!(off < 2.0 * probe.off_all.error, "{probe:?}");
    // The acid was fed, and is explained: what is wrong is the probe.
    assert_eq!(suspects(&explained), [""; 0]);
    let drift = explained.drift.as_ref().expect("both were read");
    assert!((drift.off.value - 0.35).abs() < 0.2, "{drift:?}");
    let acid = moved(&explained, &[Source::FedAcid, Source::OverDelivery]);
    let truth = truly(&life);
    assert!((acid / truth - 1.0).abs() < 0.1, "{acid} {truth}");
}

#[test]
fn acid_from_tablets_is_named_and_neither_probe_nor_pump() {
    let (found, explained, life) = lived(Wrong {
        tablets_ml_h: 9,
        ..Wrong::default()
    });
    assert_eq!(names(&found), ["second_source"]);
    let balance = found.alkalinity.expect("tests");
    let acid = balance.unexplained_acid.expect("acid is fed");
    // 9 mL an hour of 9.971 mol/L for 28 days, as the site's 4.25 mol/L.
    let poured = 0.009 * 24.0 * 28.0 * 9.971 / 4.25;
    let off = (acid.value - poured).abs();
    assert!(off < 2.0 * acid.error && off < 0.3 * poured, "{acid:?}");
    assert!(
        suspects(&explained).contains(&"second_source"),
        "{explained}"
    );
    assert!(
        !suspects(&explained).contains(&"feeder_over"),
        "the drum clears it"
    );
    let acid = moved(&explained, &[Source::FedAcid, Source::OverDelivery]);
    let fed = truly(&life);
    assert!((acid - fed).abs() < 3.0, "{acid} {fed}");
}

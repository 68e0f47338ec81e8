//! What is due, what runs out, and several pools.

use super::{DRUM, found};
use crate::visit::{Round, Urgency};

#[test]
fn what_is_due_comes_from_age_trend_and_hours() {
    // Slope from 98 to 91 % in 14 days: 85 % in 12 more.
    let found = found(
        "new_part,tube of acid,,; fed,acid,44 L,; calibrated,,98 %,-2 mV; proved,flow switch,passed,",
        "fed,acid,594.4 L,; calibrated,,91 %,-2 mV; proved,level switch of acid,failed,",
    );
    let due = |what: &str| {
        let one = found.due.iter().find(|one| one.what.contains(what));
        one.map(|one| (one.in_days, one.why.clone())).expect(what)
    };
    let (days, why) = due("calibration of the pH probe");
    assert!(
        days == 12 && why.contains("slope falls to 85 %"),
        "{days} {why}"
    );
    assert_eq!(due("proof test: flow switch").0, 90 - 14);
    let (days, why) = due("level switch of acid");
    assert!(days == 0 && why.contains("FAILED"), "{why}");
    // 500.4 L at 1.56 L/h are 321 h in 14 days: the other 179 h of 500 take 7.
    let (days, why) = due("tube of acid");
    assert!(days == 7 && why.contains("ran 321 h"), "{days} {why}");
    assert_eq!(due("injection valve of acid").0, 365 - 14);
    assert_eq!(due("test of alkalinity"), (0, "never entered".to_owned()));
}

#[test]
fn a_drum_that_will_not_last_is_told_and_brought() {
    let found = found(DRUM, "fed,acid,58.3 L,; level,acid,5 L,");
    let ahead = &found.forecast.figures[0];
    // 13 L in 14 days: 5 L last 5.
    assert!(
        (ahead.lasts_days.expect("it is used") - 5.4).abs() < 0.1,
        "{ahead:?}"
    );
    assert!(
        ahead.runs_out && found.urgency == Urgency::Soon,
        "{:?}",
        found.urgency
    );
    assert_eq!(found.forecast.next_visit, "2031-05-30");
    let round = Round::of(vec![found.clone(), found]);
    // Twice 14 days of 0.93 L and 30 % more, less the 5 L: 28.8 L for each of two pools.
    assert_eq!(round.order[0].what, "acid of 4.25 mol/L");
    assert!(
        (round.order[0].amount - 57.6).abs() < 0.2,
        "{:?}",
        round.order
    );
}

#[test]
fn the_worst_pool_is_first_and_says_why() {
    let fine = found("", "test,ph,pH 7.5,");
    let rate = found(DRUM, "fed,acid,48.4 L,; level,acid,12 L,");
    let asked = found(DRUM, "fed,acid,48.4 L,; level,acid,18.5 L,");
    let closed = found("", "test,free_chlorine,12 mg/L,diluted");
    let round = Round::of(vec![fine, rate, asked, closed]);
    let how: Vec<Urgency> = round.pools.iter().map(|one| one.urgency).collect();
    assert_eq!(how[..3], [Urgency::Close, Urgency::Now, Urgency::Mend]);
    assert!(
        round.pools[1]
            .why()
            .contains(&"drum_rose (acid)?".to_owned())
    );
    assert!(round.has_something_wrong());
}

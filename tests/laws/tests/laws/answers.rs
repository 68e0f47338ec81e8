//! Law 3: one more rule never grants more, and the order of the rules does not matter.

use dosewarden_guard::units::{Dose, Millis};
use dosewarden_guard::{Answer, Clear, Lockout};
use proptest::prelude::*;

use crate::check;

fn answers() -> impl Strategy<Value = Answer> {
    prop_oneof![
        Just(Answer::ALLOW),
        Just(Answer::NOT_RUN),
        Just(Answer::hold(Clear::Refill)),
        Just(Answer::lock(Lockout::Line)),
        any::<u32>().prop_map(|run| Answer::ALLOW.run(Millis(run))),
        any::<u32>().prop_map(|dose| Answer::ALLOW.dose(Dose(dose))),
        (any::<u32>(), any::<u32>())
            .prop_map(|(run, dose)| Answer::ALLOW.run(Millis(run)).dose(Dose(dose))),
    ]
}

/// What is granted: whether anything is, how long, how much.
fn grant(answers: &[Answer]) -> (bool, Millis, Dose) {
    let all = answers.iter().fold(Answer::ALLOW, |all, one| all.and(*one));
    (!all.refuses, all.most_run, all.most_dose)
}

#[test]
fn law_3_a_rule_more_never_grants_more_and_order_does_not_matter() {
    let many = proptest::collection::vec(answers(), 0..27);
    check((many, answers(), any::<usize>()), |(mut many, one, at)| {
        let before = grant(&many);
        let at = at % (many.len() + 1);
        many.insert(at, one);
        let with = grant(&many);
        if (with.0 && !before.0) || with.1 > before.1 || with.2 > before.2 {
            return Err(format!("{before:?}, with {one:?}: {with:?}"));
        }
        let mut other = many.clone();
        other.rotate_left(at);
        let rotated = grant(&other);
        other.reverse();
        if rotated != with || grant(&other) != with {
            return Err(format!("{with:?} in one order, {rotated:?} in another"));
        }
        // Two halves put together give the same as one after the other.
        let (left, right) = many.split_at(at);
        let fold = |part: &[Answer]| part.iter().fold(Answer::ALLOW, |all, one| all.and(*one));
        let halves = fold(left).and(fold(right));
        if (!halves.refuses, halves.most_run, halves.most_dose) != with {
            return Err(format!("{with:?} one by one, {halves:?} by halves"));
        }
        Ok(())
    });
}

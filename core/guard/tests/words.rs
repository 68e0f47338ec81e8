//! What the guard calls things: displays, logs and the hazard list go by these words.

use std::collections::BTreeSet;

use dosewarden_guard::{RecordError, Rule};

/// `FlowProven` to `flow_proven`.
fn snake(name: &str) -> String {
    let mut snake = String::new();
    for letter in name.chars() {
        if letter.is_uppercase() && !snake.is_empty() {
            snake.push('_');
        }
        snake.extend(letter.to_lowercase());
    }
    snake
}

#[test]
fn a_rule_is_called_as_its_variant_is() {
    for rule in Rule::ALL {
        assert_eq!(rule.name(), snake(&format!("{rule:?}")));
    }
}

#[test]
fn what_each_rule_holds_is_said_in_words_of_its_own() {
    let said: BTreeSet<&str> = Rule::ALL.iter().map(|rule| rule.holds_that()).collect();
    assert_eq!(said.len(), Rule::ALL.len());
    assert!(said.iter().all(|words| words.contains(' ')), "{said:?}");
}

#[test]
fn why_a_record_was_refused_is_said_with_its_figure() {
    let all = [
        (RecordError::NotWhole, "torn"),
        (RecordError::Version(77), "77"),
        (RecordError::Shape, "buckets"),
        (RecordError::Meaning, "meaning"),
        (RecordError::Space { needed: 491 }, "491"),
        (RecordError::StateChanged, "itself"),
    ];
    let said: BTreeSet<String> = all.iter().map(|(error, _)| error.to_string()).collect();
    assert_eq!(said.len(), all.len());
    for (error, part) in all {
        assert!(error.to_string().contains(part), "{error}");
    }
}

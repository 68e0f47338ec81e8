//! Sets of rules, lockouts, inhibits and notices are sets: adding twice is adding once.

use dosewarden_guard::{Inhibits, Lockout, LockoutSet, Notices, Rule, RuleSet};

#[test]
fn rules_added_twice_are_there_once() {
    let flow = RuleSet::NONE.with(Rule::FlowProven);
    let both = flow.with(Rule::DayCap);
    assert_eq!(both.with(Rule::FlowProven), both);
    assert_eq!(flow.union(both), both);
    assert_eq!(both.union(flow), both);
    let day = RuleSet::NONE.with(Rule::DayCap);
    assert_eq!(flow.union(day), both);
    assert_eq!(flow.union(RuleSet::NONE), flow);
    assert_eq!(both.without(Rule::FlowProven), day);
    assert_eq!(day.without(Rule::FlowProven), day);
    assert!(both.iter().eq([Rule::FlowProven, Rule::DayCap]));
    assert!(!RuleSet::NONE.has(Rule::FlowProven) && RuleSet::NONE.is_empty());
    assert!(flow.is_only(Rule::FlowProven) && !both.is_only(Rule::FlowProven));
    assert!(!both.is_empty());
}

#[test]
fn lockouts_added_twice_are_there_once() {
    let line = LockoutSet::NONE.with(Lockout::Line);
    let both = line.with(Lockout::Drive);
    assert_eq!(both.with(Lockout::Line), both);
    assert_eq!(line.union(both), both);
    let drive = LockoutSet::NONE.with(Lockout::Drive);
    assert_eq!(line.union(drive), both);
    assert_eq!(both.without(Lockout::Line), drive);
    assert_eq!(drive.without(Lockout::Line), drive);
    assert!(both.iter().eq([Lockout::Line, Lockout::Drive]));
    assert!(!line.has(Lockout::Drive) && !both.is_empty());
    assert_eq!(LockoutSet::from_bits(both.bits()), Some(both));
    assert_eq!(LockoutSet::from_bits(1 << Lockout::ALL.len()), None);
}

#[test]
fn inhibits_and_notices_added_twice_are_there_once() {
    let paused = Inhibits::PAUSED;
    let both = paused.with(Inhibits::SERVICE);
    assert_eq!(both.with(paused), both);
    assert!(both.any_of(paused) && !paused.any_of(Inhibits::SERVICE));
    assert!(!both.is_empty() && Inhibits::NONE.is_empty());
    assert_eq!(Inhibits::from_bits(u16::MAX), Inhibits::ALL);
    assert_eq!(Inhibits::from_bits(both.bits()), both);
    let weak = Notices::WEAK_CHLORINE;
    let all = weak.with(Notices::NO_ANSWER);
    assert_eq!(all.with(weak), all);
    assert!(all.any_of(weak) && !weak.any_of(Notices::NO_ANSWER));
    // As the constants are listed.
    assert_eq!((weak.bits(), all.bits()), (0b10_0000, 0b10_0100));
}

//! Every entry point of the guard alone: two feeders, two bodies, the shipping buckets.
#![no_std]
#![no_main]

use dosewarden_guard::units::{Body, Dose, Fitted, MilliPh, Millis, Percent, Rate};
use dosewarden_guard::{
    Account, Answer, Crc32, Decision, Elapsed, FeedRequest, FeederDecision, FeederSpec,
    FeederState, Guard, Inhibits, Ledger, Limits, Lockout, LockoutSet, MasterPermit, Notices,
    Permit, Product, Reading, Record, Rule, RuleSet, TickClock, Ticket, Verdict, authority_for,
    step,
};
use no_panic::{keep, keep_what_panics};

type Pool = Guard<2, 2, 7, 25>;
type PoolRecord = Record<2, 2, 7, 25>;
type PoolLedger = Ledger<2, 2, 7, 25>;

// Iterators do their work only when they are walked.
fn rules(set: RuleSet) -> u32 {
    set.iter().fold(0, |sum, rule| sum ^ rule.number())
}

fn lockouts(set: LockoutSet) -> LockoutSet {
    set.iter().fold(LockoutSet::NONE, LockoutSet::with)
}

// What is generic over a type of the caller's, with the types that the facts use.
fn trusted(reading: &Reading<Body>, ph: &Reading<MilliPh>, age_max: Millis) -> bool {
    reading.trusted(age_max).is_some() | ph.trusted(age_max).is_some()
}

fn fitted(value: &Fitted<Millis>) -> Option<Millis> {
    value.get().filter(|_| value.is_fitted())
}

fn same(one: &PoolRecord, other: &PoolRecord) -> bool {
    one == other
}

fn copied(account: &Account<7, 25>) -> Account<7, 25> {
    *account
}

fn guard_and_records() {
    keep!(
        Pool::restore,
        Pool::judge,
        Pool::seal_record,
        Pool::set_limits,
        Pool::limits,
        Pool::state,
        Pool::decision,
        Pool::explain,
        Pool::clock,
        step::<2, 2, 7, 25>,
        PoolRecord::encode,
        PoolRecord::decode,
        Ticket::of,
        Crc32::new,
        Crc32::of,
        Crc32::value,
        same,
        copied,
    );
}

fn limits_and_ledger() {
    keep!(
        Limits::<2, 2>::try_new,
        Limits::<2, 2>::spec,
        Limits::<2, 2>::feeder,
        Limits::<2, 2>::product,
        Limits::<2, 2>::account,
        Limits::<2, 2>::body,
        Limits::<2, 2>::caps,
        Limits::<2, 2>::no_looser_than,
        FeederSpec::<2>::rate_for_caps,
        PoolLedger::add,
        PoolLedger::totals,
        PoolLedger::age,
        PoolLedger::hour_clears,
        PoolLedger::day_clears,
        FeederState::in_cycle,
        FeederState::charged,
        FeederState::left,
    );
}

fn verdicts() {
    keep!(
        Verdict::<2>::permit::<0>,
        Verdict::<2>::permit::<1>,
        Verdict::<2>::master,
        Verdict::<2>::decision,
        Verdict::<2>::feeder,
        Verdict::<2>::explain,
        Permit::<0>::run_max,
        Permit::<0>::feeder,
        MasterPermit::run_max,
        FeederDecision::clears,
        Decision::<2>::clone,
        Notices::with,
        Notices::any_of,
        Notices::bits,
        Answer::hold,
        Answer::lock,
        Answer::hold_unless,
        Answer::run,
        Answer::dose,
        Answer::and,
    );
}

fn words() {
    keep!(
        TickClock::new,
        TickClock::step,
        Elapsed::millis,
        FeedRequest::stands,
        authority_for,
        Inhibits::with,
        Inhibits::any_of,
        Inhibits::is_empty,
        Inhibits::bits,
        Inhibits::from_bits,
        Lockout::is_of_site,
        LockoutSet::has,
        LockoutSet::is_empty,
        LockoutSet::with,
        LockoutSet::without,
        LockoutSet::union,
        LockoutSet::bits,
        LockoutSet::from_bits,
        lockouts,
        Rule::name,
        Rule::holds_that,
        Rule::number,
        Rule::index,
        RuleSet::with,
        RuleSet::without,
        RuleSet::has,
        RuleSet::is_empty,
        RuleSet::is_only,
        RuleSet::bits,
        rules,
    );
}

fn units_and_products() {
    keep!(
        Product::is_oxidiser,
        Product::incompatible_with,
        Product::goes_first,
        Reading::<MilliPh>::now,
        Reading::<MilliPh>::unknown,
        trusted,
        fitted,
        Millis::from_secs,
        Millis::from_mins,
        Millis::from_hours,
        Dose::from_ml,
        Dose::share_floor,
        Rate::from_ml_per_min,
        Rate::dose_ceil,
        Rate::run_floor,
        Rate::raised_ceil,
        Percent::clone,
    );
}

/// Where the program begins; it is linked and never run.
// SAFETY: no other object of the program holds this name.
#[unsafe(no_mangle)]
pub extern "C" fn start() {
    keep_what_panics();
    guard_and_records();
    limits_and_ledger();
    verdicts();
    words();
    units_and_products();
}

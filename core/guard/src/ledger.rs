//! Rolling totals of one hour and one day, per account (product) and body.
//!
//! Time is cut into buckets. A bucket leaves only when all of it is over age, so an hour counts up
//! to one bucket longer and a day too: never shorter. What is charged but not yet closed stands
//! apart, in the feeder's cycle, and counts in full.

use crate::units::{DAY_MS, Dose, HOUR_MS, Millis};

/// Totals of one account in one body: `H` buckets of the hour, `D` of the day, newest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Account<const H: usize, const D: usize> {
    /// Hour's buckets, newest first.
    pub hour: [Dose; H],
    /// Day's buckets, newest first.
    pub day: [Dose; D],
    /// Sum of the hour's buckets; kept, so that a tick adds nothing up.
    pub hour_total: Dose,
    /// Sum of the day's buckets.
    pub day_total: Dose,
}

impl<const H: usize, const D: usize> Account<H, D> {
    /// Nothing was fed.
    pub const EMPTY: Self = Self {
        hour: [Dose(0); H],
        day: [Dose(0); D],
        hour_total: Dose(0),
        day_total: Dose(0),
    };

    fn add(&mut self, dose: Dose) {
        add_to_first(&mut self.hour, dose);
        add_to_first(&mut self.day, dose);
        self.resum();
    }

    /// Sums are taken anew: subtracting from a sum that once saturated would understate it.
    pub(crate) fn resum(&mut self) {
        self.hour_total = sum(&self.hour);
        self.day_total = sum(&self.day);
    }
}

fn add_to_first(buckets: &mut [Dose], dose: Dose) {
    if let Some(first) = buckets.first_mut() {
        first.0 = first.0.saturating_add(dose.0);
    }
}

fn sum(buckets: &[Dose]) -> Dose {
    Dose(
        buckets
            .iter()
            .fold(0_u32, |total, dose| total.saturating_add(dose.0)),
    )
}

/// Every bucket takes the one before it; the oldest leaves.
fn shift(buckets: &mut [Dose]) {
    let mut newer = Dose(0);
    for bucket in buckets {
        core::mem::swap(bucket, &mut newer);
    }
}

/// Rolling totals of all accounts in all bodies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Ledger<const N: usize, const B: usize, const H: usize, const D: usize> {
    /// Accounts: the first index is that of [`Limits::account`](crate::Limits::account).
    pub accounts: [[Account<H, D>; B]; N],
    /// Age of the hour's newest bucket.
    pub hour_age: Millis,
    /// Age of the day's newest bucket.
    pub day_age: Millis,
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> Ledger<N, B, H, D> {
    /// Nothing was fed.
    pub const EMPTY: Self = Self {
        accounts: [[Account::EMPTY; B]; N],
        hour_age: Millis(0),
        day_age: Millis(0),
    };

    /// Length of an hour's bucket. With `H` buckets, `H - 1` whole ones cover the hour.
    pub const HOUR_BUCKET: Millis = Millis(bucket(HOUR_MS, H));
    /// Length of a day's bucket.
    pub const DAY_BUCKET: Millis = Millis(bucket(DAY_MS, D));

    /// Adds to the newest bucket of an account in a body.
    pub fn add(&mut self, account: usize, body: usize, dose: Dose) {
        if let Some(one) = self
            .accounts
            .get_mut(account)
            .and_then(|bodies| bodies.get_mut(body))
        {
            one.add(dose);
        }
    }

    /// Totals of the hour and the day. What does not exist counts as full.
    #[must_use]
    pub fn totals(&self, account: usize, body: usize) -> (Dose, Dose) {
        match self
            .accounts
            .get(account)
            .and_then(|bodies| bodies.get(body))
        {
            Some(one) => (one.hour_total, one.day_total),
            None => (Dose(u32::MAX), Dose(u32::MAX)),
        }
    }

    /// Lets time pass. True if a bucket ended.
    pub fn age(&mut self, passed: Millis) -> bool {
        let hours = pass(&mut self.hour_age, passed, Self::HOUR_BUCKET);
        let days = pass(&mut self.day_age, passed, Self::DAY_BUCKET);
        if hours == 0 && days == 0 {
            return false;
        }
        for account in self.accounts.iter_mut().flatten() {
            for _ in 0..hours.min(H) {
                shift(&mut account.hour);
            }
            for _ in 0..days.min(D) {
                shift(&mut account.day);
            }
            if hours > 0 {
                account.hour_total = sum(&account.hour);
            }
            if days > 0 {
                account.day_total = sum(&account.day);
            }
        }
        true
    }

    /// How long until the hour's total is at most `target`, by time alone. `None`: never.
    #[must_use]
    pub fn hour_clears(&self, account: usize, body: usize, target: Dose) -> Option<Millis> {
        let one = self.accounts.get(account)?.get(body)?;
        clears(&one.hour, self.hour_age, Self::HOUR_BUCKET, target)
    }

    /// How long until the day's total is at most `target`, by time alone. `None`: never.
    #[must_use]
    pub fn day_clears(&self, account: usize, body: usize, target: Dose) -> Option<Millis> {
        let one = self.accounts.get(account)?.get(body)?;
        clears(&one.day, self.day_age, Self::DAY_BUCKET, target)
    }
}

const fn bucket(window: u32, buckets: usize) -> u32 {
    assert!(buckets >= 2, "a ledger needs two buckets at least");
    assert!(buckets <= 255, "a ledger has 255 buckets at most");
    let mut whole = 0_u32;
    let mut index = 1;
    while index < buckets {
        whole = whole.saturating_add(1);
        index = index.saturating_add(1);
    }
    window.div_ceil(whole)
}

/// Adds to an age and takes whole buckets out of it. How many ended.
fn pass(age: &mut Millis, passed: Millis, bucket: Millis) -> usize {
    age.0 = age.0.saturating_add(passed.0);
    let mut ended = 0_usize;
    while age.0 >= bucket.0 {
        age.0 = age.0.saturating_sub(bucket.0);
        ended = ended.saturating_add(1);
    }
    ended
}

/// The newest buckets that together stay within `target` may remain; the others have to leave, the
/// oldest first.
fn clears(buckets: &[Dose], age: Millis, bucket: Millis, target: Dose) -> Option<Millis> {
    let mut rest = buckets;
    let mut total = 0_u32;
    while let [newest, older @ ..] = rest {
        total = total.saturating_add(newest.0);
        if total > target.0 {
            break;
        }
        rest = older;
    }
    let [_, more @ ..] = rest else {
        return Some(Millis(0));
    };
    let next = bucket.0.saturating_sub(age.0);
    Some(Millis(
        more.iter()
            .fold(next, |wait, _| wait.saturating_add(bucket.0)),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    type Small = Ledger<1, 1, 7, 25>;

    #[test]
    fn a_bucket_leaves_only_when_all_of_it_is_over_age() {
        let mut ledger = Small::EMPTY;
        assert_eq!(Small::HOUR_BUCKET, Millis(600_000));
        assert_eq!(Small::DAY_BUCKET, Millis::from_hours(1));
        ledger.age(Millis(599_999));
        ledger.add(0, 0, Dose(10)); // one ms before the bucket ends
        ledger.age(Millis(HOUR_MS));
        assert_eq!(
            ledger.totals(0, 0),
            (Dose(10), Dose(10)),
            "an hour later it still counts"
        );
        ledger.age(Millis(1));
        assert_eq!(ledger.totals(0, 0), (Dose(0), Dose(10)));
        // The day's bucket, an hour long, ended while the dose aged.
        ledger.age(Millis(DAY_MS));
        assert_eq!(ledger.totals(0, 0), (Dose(0), Dose(0)));
    }

    #[test]
    fn totals_never_leave_before_their_window_is_over() {
        for start in [0, 1, 300_000, 599_999, 3_000_000, 3_599_999] {
            let mut ledger = Small::EMPTY;
            ledger.age(Millis(start));
            ledger.add(0, 0, Dose(5));
            ledger.age(Millis(HOUR_MS - 1));
            assert_eq!(ledger.totals(0, 0).0, Dose(5), "hour, start {start}");
            ledger.age(Millis(DAY_MS - HOUR_MS));
            assert_eq!(ledger.totals(0, 0).1, Dose(5), "day, start {start}");
            ledger.age(Millis(2 * HOUR_MS));
            assert_eq!(ledger.totals(0, 0).1, Dose(0), "day over, start {start}");
        }
    }

    #[test]
    fn the_stated_wait_is_exact() {
        let mut ledger = Small::EMPTY;
        ledger.add(0, 0, Dose(30));
        ledger.age(Millis(700_000));
        ledger.add(0, 0, Dose(40));
        let wait = ledger.hour_clears(0, 0, Dose(40)).unwrap();
        let mut before = ledger;
        before.age(Millis(wait.0 - 1));
        assert!(before.totals(0, 0).0 > Dose(40));
        ledger.age(wait);
        assert_eq!(ledger.totals(0, 0).0, Dose(40));
        assert_eq!(ledger.hour_clears(0, 0, Dose(40)), Some(Millis(0)));
    }

    #[test]
    fn a_saturated_total_stays_saturated_until_its_parts_leave() {
        let mut ledger = Small::EMPTY;
        ledger.add(0, 0, Dose(u32::MAX));
        ledger.age(Small::DAY_BUCKET);
        ledger.add(0, 0, Dose(7));
        assert_eq!(ledger.totals(0, 0).1, Dose(u32::MAX));
        ledger.age(Millis(DAY_MS));
        assert_eq!(
            ledger.totals(0, 0).1,
            Dose(7),
            "the first dose left, the second still counts"
        );
        ledger.age(Small::DAY_BUCKET);
        assert_eq!(ledger.totals(0, 0).1, Dose(0));
    }

    #[test]
    fn an_account_that_does_not_exist_is_full() {
        assert_eq!(Small::EMPTY.totals(3, 0), (Dose(u32::MAX), Dose(u32::MAX)));
    }

    #[test]
    fn one_bucket_is_under_way_and_the_others_hold_the_window() {
        assert_eq!(bucket(HOUR_MS, 7), 600_000);
        assert_eq!(bucket(DAY_MS, 25), HOUR_MS);
        assert_eq!(bucket(HOUR_MS, 2), HOUR_MS);
        // Rounded up: what leaves early would count for nothing too soon.
        assert_eq!(bucket(HOUR_MS, 8), 514_286);
        assert_eq!(bucket(HOUR_MS, 255), 14_174);
    }
}

//! The ledger: single entries, each in its bucket of the hour and of the day.

use dosewarden_guard::units::Dose;

use super::{Model, signed};

/// Seven buckets of ten minutes count for the hour, twenty-five of an hour for the day: one more
/// than the window has, so that a bucket leaves only when all of it is over age.
const HOUR_BUCKET: u64 = 600_000;
const HOUR_BUCKETS: u64 = 7;
const DAY_BUCKET: u64 = 3_600_000;
const DAY_BUCKETS: u64 = 25;

/// One booking.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Entry {
    account: usize,
    body: usize,
    /// Bucket of the hour and of the day, on the ledger's clock.
    hour: u64,
    day: u64,
    dose: u64,
}

impl<const N: usize, const B: usize> Model<N, B> {
    /// Books a dose and starts the hold. Where the body is not known, in every body.
    pub(super) fn book(&mut self, account: usize, body: Option<usize>, dose: u64) {
        for index in 0..B {
            if body.is_none_or(|body| body == index) {
                self.enter(account, index, dose);
                self.cycle_mark[account][index] = signed(self.body_flow[index]);
            }
        }
    }

    fn enter(&mut self, account: usize, body: usize, dose: u64) {
        self.entries.push(Entry {
            account,
            body,
            hour: self.ledger_ms / HOUR_BUCKET,
            day: self.ledger_ms / DAY_BUCKET,
            dose,
        });
    }

    /// "The day counts as used": a day's cap more for every product in every body.
    pub(super) fn use_up(&mut self) {
        for account in 0..N {
            if self.account(account) != account {
                continue;
            }
            for body in 0..B {
                let Dose(cap) = self.feeder_spec(account).bodies[body].day_cap;
                self.enter(account, body, u64::from(cap));
            }
        }
    }

    /// The newest buckets of hour and day begin anew.
    pub(super) fn buckets_begin(&mut self) {
        let (hour, day) = (self.ledger_ms / HOUR_BUCKET, self.ledger_ms / DAY_BUCKET);
        // Far enough on that both begin together, and every entry as many buckets back as it was.
        let start = 1_000_000 * DAY_BUCKET;
        for entry in &mut self.entries {
            entry.hour = start / HOUR_BUCKET - (hour - entry.hour).min(HOUR_BUCKETS);
            entry.day = start / DAY_BUCKET - (day - entry.day).min(DAY_BUCKETS);
        }
        self.ledger_ms = start;
    }

    pub(super) fn empty_ledger(&mut self) {
        self.entries.clear();
        self.ledger_ms = 0;
    }

    /// A bucket that ends has to be saved.
    pub(super) fn age_ledger(&mut self, by: u64) {
        let before = self.ledger_ms / HOUR_BUCKET;
        self.ledger_ms += by;
        if self.ledger_ms / HOUR_BUCKET != before {
            self.changed = true;
        }
    }

    /// Off time ages the ledger, as far as the bank goes; time with power fills the bank.
    pub(super) fn credit(&mut self, good: u64, off_credit: u64) {
        let credit = off_credit.min(self.bank);
        let earned = good * u64::from(self.spec.off_credit_ratio);
        let most = u64::from(self.spec.off_credit_max.0);
        self.bank = (self.bank - credit + earned).min(most);
        if credit > 0 {
            self.age_ledger(credit);
            self.changed = true;
        }
    }

    /// As a long time with power does.
    pub(crate) fn fill_bank(&mut self) {
        self.bank = u64::from(self.spec.off_credit_max.0);
    }

    pub(super) fn hour(&self, account: usize, body: usize) -> u64 {
        let now = self.ledger_ms / HOUR_BUCKET;
        self.sum(account, body, |entry| now - entry.hour < HOUR_BUCKETS)
    }

    pub(super) fn day(&self, account: usize, body: usize) -> u64 {
        let now = self.ledger_ms / DAY_BUCKET;
        self.sum(account, body, |entry| now - entry.day < DAY_BUCKETS)
    }

    fn sum(&self, account: usize, body: usize, counts: impl Fn(&Entry) -> bool) -> u64 {
        let mine = self
            .entries
            .iter()
            .filter(|entry| entry.account == account && entry.body == body);
        mine.filter(|entry| counts(entry))
            .map(|entry| entry.dose)
            .sum()
    }
}

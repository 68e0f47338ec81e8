//! What the guard takes up at power-on, and under other limits.

use crate::action;
use crate::drive::book;
use crate::limits::{Limits, Restart};
use crate::lockout::Lockout;
use crate::product::Product;
use crate::state::{FeederState, LedgerTrust, ResponseState, State};
use crate::units::Millis;

/// What each feeder gives; `None` if it is not in use, or if that is not known.
pub(crate) type Products<const N: usize> = [Option<Product>; N];

pub(crate) fn products<const N: usize, const B: usize>(limits: &Limits<N, B>) -> Products<N> {
    let mut all = [None; N];
    for (feeder, one) in (0..N).zip(all.iter_mut()) {
        *one = limits.product(feeder);
    }
    all
}

/// The account of a feeder: the first that gives the same product.
fn account_of<const N: usize>(products: &Products<N>, feeder: usize) -> usize {
    let product = products.get(feeder).copied().flatten();
    (0..N)
        .zip(products.iter())
        .find(|(_, one)| product.is_some() && **one == product)
        .map_or(feeder, |(account, _)| account)
}

/// An account that held another product before, or none, tells nothing of this one's last day: it
/// counts as used, and its hold and a purge are owed. What the water answered goes with the product.
pub(crate) fn change_products<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    before: &Products<N>,
) {
    let now = products(limits);
    if *before == now {
        return;
    }
    // What was given until now may stand in the line, also if nobody gives it any more.
    state.line.purged = Millis(0);
    move_lockouts(state, before, &now);
    let answers = state.response;
    for account in 0..N {
        let product = now.get(account).copied().flatten();
        if product.is_none() || limits.account(account) != account {
            continue;
        }
        let same = before.get(account).copied().flatten() == product
            && account_of(before, account) == account;
        if same {
            continue;
        }
        action::use_up(limits, state, account);
        if let Some(bodies) = state.since_cycle.get_mut(account) {
            *bodies = [Millis(0); B];
        }
        if let Some(since) = state.since_drive.get_mut(account) {
            *since = Millis(0);
        }
        let came_from = (0..N).zip(before.iter()).find(|(_, one)| **one == product);
        let from = came_from.map_or(account, |(from, _)| from);
        let judged = product.is_some_and(|product| !product.is_oxidiser());
        if let (Some(to), Some(answer)) = (state.response.get_mut(account), answers.get(from)) {
            *to = if judged {
                ResponseState {
                    wrong: answer.wrong,
                    quarter: answer.quarter,
                    unanswered: answer.unanswered,
                    ..ResponseState::REST
                }
            } else {
                ResponseState::REST
            };
        }
    }
}

/// A lockout for what the water answered belongs to the product: it goes where that is given now,
/// and stays where it was only if nobody gives it any more. All others belong to the feeder.
fn move_lockouts<const N: usize, const B: usize, const H: usize, const D: usize>(
    state: &mut State<N, B, H, D>,
    before: &Products<N>,
    now: &Products<N>,
) {
    let standing = state.feeder_lockouts;
    for ((was, set), feeder) in before.iter().zip(standing).zip(0..N) {
        let moved = now.get(feeder) != Some(was);
        if !set.has(Lockout::Response) || was.is_none() || !moved || !now.contains(was) {
            continue;
        }
        if let Some(own) = state.feeder_lockouts.get_mut(feeder) {
            *own = own.without(Lockout::Response);
        }
    }
    for (was, set) in before.iter().zip(standing) {
        if !set.has(Lockout::Response) || was.is_none() {
            continue;
        }
        for (to, is) in state.feeder_lockouts.iter_mut().zip(now.iter()) {
            if is == was {
                *to = to.with(Lockout::Response);
            }
        }
    }
}

/// Nothing is known of the last day.
pub(crate) fn lose<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
) {
    state.trust = LedgerTrust::Lost(Millis(0));
    state.site_lockouts = state.site_lockouts.with(Lockout::RecordLost);
    action::use_up_all(limits, state);
    state.save_wanted = true;
}

/// What these limits leave of the bank of off time and of fallback.
pub(crate) fn bound_times<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
) {
    let longest = limits
        .spec()
        .fallback
        .get()
        .map_or(Millis(0), |f| f.run_max);
    state.fallback_left = state.fallback_left.min(longest);
    state.off_bank = state.off_bank.min(limits.spec().off_credit_max);
}

/// Takes up a recorded state. Open charges count as fed in full; each owes its hold and a purge.
/// How many stood open.
pub(crate) fn resume<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
    before: &Products<N>,
) -> usize {
    let mut open = 0_usize;
    let recorded = state.feeders;
    for (feeder, own) in (0..N).zip(recorded.iter()) {
        if own.charged().0 == 0 {
            continue;
        }
        open = open.saturating_add(1);
        // On the account that it was charged to: what changed since is used up as a whole.
        let account = account_of(before, feeder);
        book(state, account, Some(own.body), own.charged());
        if let Some(since) = state.since_drive.get_mut(account) {
            *since = Millis(0);
        }
        if let Some(response) = state.response.get_mut(account) {
            response.since_cycle = Millis(0);
        }
        state.line.purged = Millis(0);
    }
    state.feeders = [FeederState::REST; N];
    for response in &mut state.response {
        response.awaited = 0;
    }
    if limits.spec().restart_after_power_loss == Restart::Person {
        state.site_lockouts = state.site_lockouts.with(Lockout::PowerLoss);
    }
    if limits.spec().body_valves.is_fitted() {
        // They may have been turned while nobody looked.
        state.line.purged = Millis(0);
    }
    bound_times(limits, state);
    state.save_wanted = true;
    open
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::LimitsSpec;
    use crate::lockout::LockoutSet;
    use crate::test_site::{LIMITS, SPEC};
    use crate::units::MilliPh;

    #[test]
    fn what_the_water_answered_goes_with_the_product() {
        let [acid, chlorine] = SPEC.feeders;
        let swapped = Limits::try_new(LimitsSpec {
            feeders: [chlorine, acid],
            ..SPEC
        })
        .unwrap();
        let mut state = State::<2, 1, 7, 25>::POWER_ON;
        state.response[0] = ResponseState {
            before: Some(MilliPh(7400)),
            awaited: 4,
            unanswered: 2,
            quarter: true,
            wrong: true,
            since_cycle: Millis(7),
        };
        state.feeder_lockouts[0] = LockoutSet::NONE.with(Lockout::Response);
        change_products(&swapped, &mut state, &products(&LIMITS));
        // What was awaited came from another place of the line; what was seen of the product stays.
        let seen = ResponseState {
            unanswered: 2,
            quarter: true,
            wrong: true,
            ..ResponseState::REST
        };
        assert_eq!(state.response, [ResponseState::REST, seen]);
        let response = LockoutSet::NONE.with(Lockout::Response);
        assert_eq!(state.feeder_lockouts, [LockoutSet::NONE, response]);
    }

    /// Where lockouts of the water's answer stand after products changed; each feeder's by a letter:
    /// acid, base, hypochlorite, `-` out of use.
    fn moved(before: &str, standing: [bool; 3], now: &str) -> [bool; 3] {
        let named = |letters: &str| {
            let mut all = [None; 3];
            for (one, letter) in all.iter_mut().zip(letters.chars()) {
                *one = match letter {
                    'a' => Some(Product::Acid),
                    'b' => Some(Product::Base),
                    'h' => Some(Product::Hypochlorite),
                    _ => None,
                };
            }
            all
        };
        let probe = LockoutSet::NONE.with(Lockout::Probe);
        let mut state = State::<3, 1, 7, 25>::POWER_ON;
        state.feeder_lockouts = standing.map(|stands| {
            if stands {
                probe.with(Lockout::Response)
            } else {
                probe
            }
        });
        move_lockouts(&mut state, &named(before), &named(now));
        state.feeder_lockouts.map(|set| {
            assert!(set.has(Lockout::Probe), "all others belong to the feeder");
            set.has(Lockout::Response)
        })
    }

    #[test]
    fn a_lockout_of_the_answer_follows_its_product() {
        let (first, second, third) = (
            [true, false, false],
            [false, true, false],
            [false, false, true],
        );
        for (before, standing, now, expected) in [
            ("ah-", first, "ha-", second),
            ("ah-", second, "ha-", first),
            ("ah-", [true, true, false], "ha-", [true, true, false]),
            ("ah-", [false; 3], "ha-", [false; 3]),
            ("ab-", first, "b-a", third),
            // It stays where nothing moved, and where nobody gives the product any more.
            ("abh", first, "ab-", first),
            ("abh", first, "hb-", first),
            ("abh", third, "ab-", third),
            // A feeder out of use gave nothing that could be elsewhere now.
            ("-ab", first, "a-b", first),
            // Whoever gives it.
            ("ah-", first, "aha", [true, false, true]),
            ("aah", first, "haa", [false, true, true]),
        ] {
            let found = moved(before, standing, now);
            assert_eq!(found, expected, "{before} {standing:?} {now}");
        }
    }
}

//! New limits under way: what tightens applies at once, what loosens waits until all have stopped.

use dosewarden_guard::units::{Dose, Millis, Rate};
use dosewarden_guard::{FeederLimits, Limits, LimitsSpec, SetLimits};
use proptest::prelude::*;

use crate::check;
use crate::engine::{G, Now, R, Unit};
use crate::facts::healthy;
use crate::site::a_plan;

type Site = LimitsSpec<2, 1>;

/// A site with room below every figure.
fn base() -> Site {
    let mut site: Site = a_plan().spec();
    let FeederLimits::Enabled(acid) = &mut site.feeders[0] else {
        panic!("acid is in use");
    };
    acid.bodies[0].reduced_share = dosewarden_guard::units::Percent(60);
    site
}

/// A change of acid's limits: whether it loosens something, or changes what closes a cycle.
fn changed(which: u8, by: u32) -> (Site, bool) {
    let mut site = base();
    let FeederLimits::Enabled(acid) = &mut site.feeders[0] else {
        panic!("acid is in use");
    };
    let body = &mut acid.bodies[0];
    let by = by % 900 + 1;
    let loosens = match which % 14 {
        0 => {
            body.cycle_cap.0 -= by;
            false
        }
        1 => {
            body.cycle_cap.0 += by;
            true
        }
        2 => {
            body.hour_cap.0 -= by;
            false
        }
        3 => {
            body.hour_cap.0 += by;
            true
        }
        4 => {
            body.day_cap.0 -= by;
            false
        }
        5 => {
            body.spread_hold.0 += by;
            false
        }
        6 => {
            body.spread_hold.0 -= by;
            true
        }
        7 => {
            acid.run_max.0 -= by;
            false
        }
        8 => {
            acid.run_max.0 += by;
            true
        }
        9 => {
            acid.rate = Rate(acid.rate.0 - by);
            true
        }
        10 => {
            site.flow_prove.0 += by;
            false
        }
        11 => {
            site.flow_prove.0 -= by;
            true
        }
        12 => {
            site.purge.0 += by;
            false
        }
        _ => {
            site.purge.0 -= by;
            true
        }
    };
    (site, loosens)
}

/// A guard that is begun and feeds acid.
fn feeding() -> G<2, 1> {
    use dosewarden_guard::{
        Action, Authority, FeedRequest, Mode, PersonAction, Stage, TickClock, Ticket,
    };
    let limits = Limits::try_new(base()).unwrap();
    let (mut guard, _) = G::<2, 1>::restore(limits, None, None);
    let mut clock = TickClock::new();
    clock.step(0);
    let mut facts = healthy::<2>();
    for tick in 1..100_u32 {
        let action = match tick {
            1 => Some(Action::Initialise),
            2 => Some(Action::SetStage(Stage::Full)),
            _ => None,
        };
        let action = action.map(|action| PersonAction {
            by: Authority::Technician,
            action,
        });
        let request = FeedRequest {
            dose: Dose(1_000_000),
            mode: Mode::Automatic,
        };
        let requests = [request, FeedRequest::NONE];
        let decision = *guard
            .judge(clock.step(tick * 1000), facts, requests, action)
            .decision();
        if decision.feeders[0].run.0 > 0 {
            return guard;
        }
        if decision.save {
            let mut bytes = vec![0; R::<2, 1>::LEN];
            guard.seal_record(&mut bytes).unwrap();
            facts.saved = Ticket::of(&bytes);
        }
    }
    panic!("acid is not fed");
}

#[test]
fn what_tightens_applies_at_once_and_what_loosens_waits() {
    check((any::<u8>(), any::<u32>()), |(which, by)| {
        let (site, loosens) = changed(which, by);
        let limits = Limits::try_new(site).map_err(|error| error.to_string())?;
        let mut guard = feeding();
        let before = guard.limits().clone();
        let result = guard.set_limits(limits.clone());
        let expected = if loosens {
            (SetLimits::ClosingFirst, &before)
        } else {
            (SetLimits::Applied, &limits)
        };
        if (result, guard.limits()) != expected {
            return Err(format!("{result:?}, expected {:?}", expected.0));
        }
        if !loosens {
            return Ok(());
        }
        // Nothing is asked for: the cycle is booked, and then the limits may loosen.
        let mut clock = dosewarden_guard::TickClock::new();
        clock.step(0);
        for tick in 1..4 {
            let none = [dosewarden_guard::FeedRequest::NONE; 2];
            let verdict = guard.judge(clock.step(tick * 1000), healthy(), none, None);
            if verdict.decision().feeders[0].run != Millis(0) {
                return Err("it feeds on".into());
            }
        }
        if guard.set_limits(limits.clone()) == SetLimits::Applied && guard.limits() == &limits {
            Ok(())
        } else {
            Err("all have stopped, and it does not apply".into())
        }
    });
}

#[test]
fn a_changed_product_counts_the_day_as_used() {
    let mut unit = Unit::<2, 1>::start(a_plan().limits(), false, [None, None]).0;
    let now = Now {
        facts: healthy(),
        requests: [dosewarden_guard::FeedRequest::NONE; 2],
        action: Some(dosewarden_guard::PersonAction {
            by: dosewarden_guard::Authority::Technician,
            action: dosewarden_guard::Action::Initialise,
        }),
        state_intact: true,
        limits_intact: true,
        off_credit: 0,
    };
    unit.judge(1000, now);
    assert_eq!(unit.state().ledger.totals(0, 0), (Dose(0), Dose(0)));
    let mut site: Site = a_plan().spec();
    site.feeders.swap(0, 1);
    let swapped = Limits::try_new(site).unwrap();
    unit.set_limits(swapped);
    for feeder in 0..2 {
        let cap = unit.state().ledger.totals(feeder, 0).1;
        assert!(cap >= unit.limits.body(feeder, 0).unwrap().day_cap);
    }
}

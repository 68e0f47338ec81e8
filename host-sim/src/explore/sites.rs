//! The pinned configurations, and why each figure is what it is. All times are ticks.

use dosewarden::guard::{
    FallbackCaps, FallbackLimits, FeederLimits, Fitted, Governor, Hours, LimitsError, Lockout,
    Product, Restart, units::MinuteOfDay,
};

use super::event::{
    Act, Ask, Button, Drive, Ends, Event, Found, Gap, Inhibit, Intact, Probe, Water, acted, times,
};
use super::site::{Site, bare, plain, ticks, units};

/// Nothing is asked for.
const fn idle<const N: usize>() -> Event<N> {
    Event {
        asks: [Ask::Nothing; N],
        ..Event::HEALTHY
    }
}

/// X1: ledger, record and power. One feeder of hypochlorite by a share of time: no probe, no valves.
///
/// Cycle 1, hour 1, day 2 doses of one tick; a timer cuts the drive, so that a dose of one tick can
/// be fed. The hour is one bucket and the one that fills, the day two and the one that fills.
pub(super) fn x1(restart: Restart) -> Result<Site<1, 1>, LimitsError> {
    let mut feeder = plain(Product::Hypochlorite, Governor::TimedShare);
    feeder.cut_timer = Fitted::YES;
    feeder.run_max = ticks(1);
    let body = &mut feeder.bodies[0];
    (body.cycle_cap, body.hour_cap, body.day_cap) = (units(1), units(1), units(2));
    if restart == Restart::Person {
        // Longer than any wait after power-on, so that a hold lost with the power is seen.
        body.spread_hold = ticks(3);
    }
    let mut spec = bare([FeederLimits::Enabled(feeder)]);
    spec.restart_after_power_loss = restart;
    spec.power_on_delay = ticks(2);
    spec.power_on_delay_new_probe = ticks(2);
    let plain = times(&[idle()], &[|_| {}, |e| e.asks = [Ask::Automatic]]);
    // With a person at each start the same water would make four times as many states.
    let waters: &[fn(&mut Event<1>)] = match restart {
        Restart::Automatic => &[|_| {}, |e| e.water = Water::Stands],
        Restart::Person => &[|_| {}],
    };
    let plain = times(&plain, waters);
    let plain = times(&plain, &[|_| {}, |e| e.saved = true]);
    let plain = times(
        &plain,
        &[|_| {}, |e| e.ends = Ends::Hour, |e| e.ends = Ends::Day],
    );
    let mut events = times(&plain, &[|_| {}, |e| e.gap = Gap::TooLong]);
    events.extend(times(&plain, &[|e| e.later = true]));
    let acts = [
        Act::Initialise,
        Act::Release(Lockout::RecordLost, 0),
        Act::Release(Lockout::PowerLoss, 0),
        Act::Release(Lockout::Line, 0),
    ];
    events.extend(acted(&plain, &acts));
    events.extend(times(
        &[idle()],
        &[
            |e| e.cut = Some(Found::Old),
            |e| e.cut = Some(Found::New),
            |e| e.cut = Some(Found::Lost),
        ],
    ));
    let name = match restart {
        Restart::Automatic => "x1-automatic",
        Restart::Person => "x1-person",
    };
    let mut site = Site::new(name, spec, events)?;
    (site.ledger, site.store) = (true, true);
    Ok(site)
}

/// X2: exclusion. Acid and hypochlorite on one line, both with feedback and a drive that goes off a
/// tick late; no store, no caps in the way.
///
/// Purge and hold are two ticks and the proving time one, so that `one_at_a_time`, `line_clear` and
/// `spread_hold` refuse alone.
pub(super) fn x2() -> Result<Site<2, 1>, LimitsError> {
    let mut acid = plain(Product::Acid, Governor::TimedShare);
    let mut chlorine = plain(Product::Hypochlorite, Governor::TimedShare);
    for feeder in [&mut acid, &mut chlorine] {
        feeder.feedback = Fitted::Fitted(ticks(1));
        feeder.drive_off = ticks(1);
        feeder.dose_min = units(2);
        feeder.run_max = ticks(3);
        feeder.bodies[0].cycle_cap = units(3);
        feeder.bodies[0].spread_hold = ticks(2);
    }
    let mut spec = bare([FeederLimits::Enabled(acid), FeederLimits::Enabled(chlorine)]);
    spec.purge = ticks(2);
    spec.manual_max = ticks(2);
    let asked = times(
        &[idle()],
        &[
            |_| {},
            |e| e.asks = [Ask::Automatic, Ask::Nothing],
            |e| e.asks = [Ask::Nothing, Ask::Automatic],
            |e| e.asks = [Ask::Automatic; 2],
        ],
    );
    let asked = times(&asked, &[|_| {}, |e| e.water = Water::Stands]);
    let driven = times(
        &asked,
        &[
            |_| {},
            |e| e.drives[0] = Drive::Runs,
            |e| e.drives[0] = Drive::Dead,
            |e| e.drives[0] = Drive::Unseen,
        ],
    );
    let mut events = times(
        &driven,
        &[
            |_| {},
            |e| e.drives[1] = Drive::Runs,
            |e| e.drives[1] = Drive::Dead,
            |e| e.drives[1] = Drive::Unseen,
        ],
    );
    events.extend(times(&asked, &[|e| e.gap = Gap::TooLong]));
    let acts = [
        Act::Release(Lockout::Line, 0),
        Act::Release(Lockout::Drive, 0),
        Act::Release(Lockout::Drive, 1),
        Act::Release(Lockout::RunTime, 0),
        Act::Release(Lockout::RunTime, 1),
    ];
    events.extend(acted(&asked, &acts));
    Site::new("x2", spec, events)
}

/// X3, probes and persons: an oxidiser governed by ORP, its lockouts, manual feed and fallback.
pub(super) fn x3_persons() -> Result<Site<1, 1>, LimitsError> {
    let mut feeder = plain(Product::Hypochlorite, Governor::Orp);
    feeder.run_max = ticks(2);
    feeder.level_switch = Fitted::YES;
    feeder.bodies[0].spread_hold = ticks(2);
    feeder.bodies[0].fallback = Fitted::Fitted(FallbackCaps {
        cycle: units(2),
        day: super::site::FAR,
    });
    let mut spec = bare([FeederLimits::Enabled(feeder)]);
    spec.power_on_delay_new_probe = ticks(3);
    spec.pump_contact = Fitted::YES;
    spec.orp_probe = Fitted::YES;
    spec.probe_settle = ticks(2);
    spec.manual_max = ticks(2);
    spec.hours = Fitted::Fitted(Hours {
        open: MinuteOfDay(480),
        close: MinuteOfDay(1200),
    });
    spec.fallback = Fitted::Fitted(FallbackLimits {
        run_max: ticks(3),
        test_age_max: ticks(1),
        warn_before: ticks(1),
    });
    let asked = times(
        &[idle()],
        &[
            |_| {},
            |e| e.asks = [Ask::Automatic],
            |e| e.asks = [Ask::Manual],
            |e| e.asks = [Ask::Fallback],
        ],
    );
    let asked = times(&asked, &[|_| {}, |e| e.button = Button::Held]);
    let asked = times(&asked, &[|_| {}, |e| e.probe = Probe::Failed]);
    let mut events = times(
        &asked,
        &[
            |_| {},
            |e| e.water = Water::Stands,
            |e| e.water = Water::SwitchOnly,
            |e| e.water = Water::PumpOnly,
            |e| e.gap = Gap::TooLong,
            |e| e.button = Button::Unknown,
            |e| e.probe = Probe::Service,
            |e| e.probe = Probe::Past,
            |e| e.inhibit = Inhibit::Paused,
            |e| e.inhibit = Inhibit::NotKnown,
            |e| e.inhibit = Inhibit::Stop,
            |e| e.hours = false,
            |e| e.stock = false,
            |e| e.intact = Intact::Limits,
        ],
    );
    let acts = [
        Act::Release(Lockout::Witnesses, 0),
        Act::Release(Lockout::EmergencyStop, 0),
        Act::Release(Lockout::Probe, 0),
        Act::Release(Lockout::LimitsSeal, 0),
        Act::Release(Lockout::Line, 0),
        Act::EnterFallback(true),
        Act::EnterFallback(false),
        Act::LeaveFallback,
        Act::NewProbe,
    ];
    events.extend(acted(&asked, &acts));
    let mut site = Site::new("x3-persons", spec, events)?;
    site.manual = true;
    Ok(site)
}

/// X3, two bodies and one drive with feedback that goes off a tick late.
///
/// The longest run is a tick shorter than the cycle's cap, so that `run_time_cap` ends it alone.
pub(super) fn x3_bodies() -> Result<Site<1, 2>, LimitsError> {
    let mut feeder = plain(Product::Hypochlorite, Governor::TimedShare);
    feeder.drive_off = ticks(1);
    feeder.feedback = Fitted::Fitted(ticks(1));
    feeder.run_max = ticks(3);
    feeder.dose_min = units(2);
    for body in &mut feeder.bodies {
        body.cycle_cap = units(4);
    }
    let mut spec = bare([FeederLimits::Enabled(feeder)]);
    spec.manual_max = ticks(2);
    spec.body_valves = Fitted::Fitted(ticks(2));
    let asked = times(&[idle()], &[|_| {}, |e| e.asks = [Ask::Automatic]]);
    let asked = times(&asked, &[|_| {}, |e| e.body = Some(1), |e| e.body = None]);
    let asked = times(&asked, &[|_| {}, |e| e.water = Water::Stands]);
    let driven = times(
        &asked,
        &[
            |_| {},
            |e| e.drives = [Drive::Runs],
            |e| e.drives = [Drive::Dead],
            |e| e.drives = [Drive::Unseen],
        ],
    );
    let mut events = driven.clone();
    events.extend(times(
        &asked,
        &[|e| e.gap = Gap::TooLong, |e| e.intact = Intact::State],
    ));
    let acts = [
        Act::Release(Lockout::Line, 0),
        Act::Release(Lockout::Drive, 0),
        Act::Release(Lockout::RunTime, 0),
        Act::Release(Lockout::StateSeal, 0),
        Act::Reduce,
    ];
    events.extend(acted(&asked, &acts));
    // A drive that runs must not be released.
    let runs = |event: &Event<1>| event.drives[0] != Drive::Obeys;
    let runs: Vec<Event<1>> = driven.into_iter().filter(runs).collect();
    events.extend(acted(&runs, &acts[1..3]));
    Site::new("x3-bodies", spec, events)
}

/// X3, the water's answer: acid governed by pH.
///
/// The cap is four doses, so that a quarter of it is the smallest; two cycles without an answer are
/// one too many.
pub(super) fn x3_answers() -> Result<Site<1, 1>, LimitsError> {
    let mut feeder = plain(Product::Acid, Governor::Ph);
    feeder.run_max = ticks(4);
    feeder.bodies[0].cycle_cap = units(4);
    feeder.bodies[0].spread_hold = ticks(2);
    let mut spec = bare([FeederLimits::Enabled(feeder)]);
    spec.ph_probe = Fitted::YES;
    let asked = times(&[idle()], &[|_| {}, |e| e.asks = [Ask::Automatic]]);
    let asked = times(&asked, &[|_| {}, |e| e.water = Water::Stands]);
    let asked = times(
        &asked,
        &[
            |_| {},
            |e| e.probe = Probe::Level(1),
            |e| e.probe = Probe::Level(2),
            |e| e.probe = Probe::Past,
            |e| e.probe = Probe::Service,
            |e| e.probe = Probe::Failed,
        ],
    );
    let mut events = times(&asked, &[|_| {}, |e| e.later = true]);
    events.extend(times(
        &asked,
        &[|e| e.gap = Gap::TooLong, |e| e.inhibit = Inhibit::Paused],
    ));
    let acts = [
        Act::Release(Lockout::Response, 0),
        Act::Release(Lockout::Probe, 0),
        Act::Release(Lockout::Line, 0),
    ];
    events.extend(acted(&asked, &acts));
    let mut site = Site::new("x3-answers", spec, events)?;
    site.response = true;
    Ok(site)
}

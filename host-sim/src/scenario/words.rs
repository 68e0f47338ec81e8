//! Events told in words, for the log and the report.

use dosewarden::guard::Remedy;
/// A lockout as people say it.
pub use dosewarden::lockout_words as lockout;

use super::faults;
use super::person::PersonAct;
use super::poured::{Poured, ToBody};
use super::timeline::{Act, Supply};
use crate::plant::ProbeId;

/// A time as people say it: "20 min", "3 h", "45 s".
#[must_use]
pub fn time(ms: u64) -> String {
    match ms {
        _ if ms >= 172_800_000 && ms.is_multiple_of(86_400_000) => {
            format!("{} days", ms / 86_400_000)
        }
        _ if ms >= 3_600_000 && ms.is_multiple_of(3_600_000) => format!("{} h", ms / 3_600_000),
        _ if ms >= 3_600_000 => format!("{} h {} min", ms / 3_600_000, ms / 60_000 % 60),
        _ if ms >= 60_000 && ms.is_multiple_of(60_000) => format!("{} min", ms / 60_000),
        _ if ms >= 60_000 => format!("{} min {} s", ms / 60_000, ms / 1000 % 60),
        _ => format!("{} s", ms / 1000),
    }
}

const fn remedy(remedy: Remedy) -> &'static str {
    match remedy {
        Remedy::Probe => "the probe was seen to",
        Remedy::Product => "the product was checked",
        Remedy::Rate => "the rate was measured",
        Remedy::Line => "the line was seen to",
        Remedy::WaterTested => "the water was tested",
    }
}

fn name(feeders: &[String], index: usize) -> &str {
    feeders.get(index).map_or("?", String::as_str)
}

/// What happens, in words.
#[must_use]
pub fn act(act: &Act, feeders: &[String]) -> String {
    match act {
        Act::PowerCut { supply, for_ms } => {
            let what = match supply {
                Supply::All => "the power goes",
                Supply::Controller => "the controller's power goes",
                Supply::Pump => "the power of pump and feeders goes",
            };
            format!("{what} for {}", time(*for_ms))
        }
        Act::Fault { fault, for_ms } => {
            let fault = faults::words(*fault, feeders);
            match for_ms {
                Some(ms) => format!("fault for {}: {fault}", time(*ms)),
                None => format!("fault: {fault}"),
            }
        }
        Act::FaultEnds(fault) => format!("fault ends: {}", faults::words(*fault, feeders)),
        Act::Unit { fault, for_ms } => {
            let long = for_ms.map_or_else(String::new, |ms| format!(" for {}", time(ms)));
            format!("fault at the unit{long}: {fault:?}")
        }
        Act::UnitEnds(fault) => format!("fault at the unit ends: {fault:?}"),
        Act::Inside(fault) => format!("fault inside the unit: {fault:?}"),
        Act::ProbeOut(probe, out) => {
            let probe = if *probe == ProbeId::Ph { "pH" } else { "ORP" };
            let where_to = if *out {
                "out of the water, into its cap"
            } else {
                "back into the water"
            };
            format!("somebody takes the {probe} probe {where_to} and tells nobody")
        }
        Act::QuietRefill(feeder) => {
            format!(
                "somebody fills the drum of {} and tells nobody",
                name(feeders, *feeder)
            )
        }
        Act::Person(person) => person_act(person, feeders),
        Act::TurnValves(body) => format!(
            "somebody turns the valves to the {} body of water",
            nth(*body)
        ),
        Act::Visit(_) => "somebody comes to look after the pool".to_owned(),
        Act::Timetable(true) => "somebody switches the pump's timetable on".to_owned(),
        Act::Timetable(false) => "somebody switches the pump's timetable off".to_owned(),
        Act::Closes(true) => "the pool is closed to bathers".to_owned(),
        Act::Closes(false) => "the pool is open to bathers".to_owned(),
        Act::Rain { um, for_ms } => {
            format!("rain, {} mm in {}", f64::from(*um) / 1000.0, time(*for_ms))
        }
    }
}

/// What a person does, in words.
#[must_use]
pub fn person_act(act: &PersonAct, feeders: &[String]) -> String {
    match act {
        PersonAct::Initialise(by) => format!("{} initialises the unit", who(*by)),
        PersonAct::Release {
            by,
            lockout: which,
            pool_empty,
            remedy: done,
        } => {
            let which = which.map_or("every lockout", lockout);
            let empty = if *pool_empty { ", pool empty" } else { "" };
            let done = done.map_or_else(String::new, |done| format!(", {}", remedy(done)));
            format!("{} releases: {which}{empty}{done}", who(*by))
        }
        PersonAct::Shelve(by) => format!("{} shelves all alarms", who(*by)),
        PersonAct::Acknowledge(by) => format!("{} acknowledges all alarms", who(*by)),
        PersonAct::NewProbe(by) => format!("{} puts in a new probe", who(*by)),
        PersonAct::FullStage(by) => format!("{} moves to full caps", who(*by)),
        PersonAct::ReducedStage(by) => format!("{} moves to reduced caps", who(*by)),
        PersonAct::EnterFallback { by, .. } => format!("{} enters fallback", who(*by)),
        PersonAct::LeaveFallback(by) => format!("{} leaves fallback", who(*by)),
        PersonAct::ManualFeed { feeder, for_ms } => {
            format!(
                "somebody feeds {} by hand for {}",
                name(feeders, *feeder),
                time(*for_ms)
            )
        }
        PersonAct::Refill(feeder) => {
            format!("somebody refills the drum of {}", name(feeders, *feeder))
        }
        PersonAct::ReadLevel { feeder, .. } => {
            format!(
                "somebody reads the level in the drum of {}",
                name(feeders, *feeder)
            )
        }
        PersonAct::EmergencyStop(ms) => format!("emergency stop pressed for {}", time(*ms)),
        PersonAct::Pause(ms) => format!("feeding paused for {}", time(*ms)),
        PersonAct::Pour { what, amount } => poured(*what, *amount),
        PersonAct::ExchangeWater(litres) => format!("{litres} L of water are exchanged"),
        PersonAct::ToBody { body, what } => {
            let what = match what {
                ToBody::Pour { what, amount } => poured(*what, *amount),
                ToBody::ExchangeWater(litres) => format!("{litres} L of water are exchanged"),
            };
            format!("{what}, in the {} body of water", nth(*body))
        }
        PersonAct::Resume(by) => format!("{} ends the pause", who(*by)),
        PersonAct::LayUp(by) => format!("{} lays the pool up", who(*by)),
        PersonAct::OpenUp(by) => format!("{} opens the pool up", who(*by)),
        PersonAct::HandDose {
            by,
            feeder,
            dose,
            body,
        } => {
            let into = body.map(|body| format!(", in the {} body of water", nth(body)));
            format!(
                "{} records {} mL of {} by hand{}",
                who(*by),
                dose.0 / 1000,
                name(feeders, *feeder),
                into.unwrap_or_default()
            )
        }
        PersonAct::Work { by, work } => format!("{} {}", who(*by), work.words()),
        PersonAct::Care { by, act } => format!("{} {}", who(*by), act.words(feeders)),
    }
}

fn poured(what: Poured, amount: u32) -> String {
    format!(
        "somebody pours in {amount} {} of {}",
        what.unit(),
        what.name()
    )
}

const fn nth(body: usize) -> &'static str {
    if body == 0 { "first" } else { "second" }
}

const fn who(by: dosewarden::guard::Authority) -> &'static str {
    use dosewarden::guard::Authority;
    match by {
        Authority::Owner => "the owner",
        Authority::Operator => "the operator",
        Authority::Technician => "the technician",
        Authority::Maker => "the maker",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times() {
        let told = [
            5_000,
            65_000,
            1_200_000,
            10_800_000,
            11_100_000,
            86_400_000,
            172_800_000,
        ];
        assert_eq!(
            told.map(time),
            [
                "5 s",
                "1 min 5 s",
                "20 min",
                "3 h",
                "3 h 5 min",
                "24 h",
                "2 days"
            ]
        );
    }

    #[test]
    fn every_event_of_the_first_pool_can_be_told() {
        let pool = crate::scenario::Scenario::first_pool();
        let names = pool.feeder_names();
        let told: Vec<String> = pool.events.iter().map(|e| act(&e.act, &names)).collect();
        assert_eq!(told[0], "the technician initialises the unit");
        assert_eq!(told[4], "the power goes for 20 min");
        assert_eq!(told[5], "fault for 3 h 5 min: flow_switch_stuck_on");
    }
}

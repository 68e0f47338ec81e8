//! What persons do, in a scenario.

use dosewarden::guard::units::{Dose, Millis};
use dosewarden::guard::{Authority, Lockout, Remedy};

use super::Names;
use super::care::{self, CARES, CareAct};
use super::error::InputError;
use super::poured::{self, Poured, ToBody};
use super::quantity::Kind;
use super::table::Table;
use super::work::{self, WORKS, Work};

type Read<T> = Result<T, InputError>;

/// What a person does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PersonAct {
    /// Starts a new unit, or one whose record is lost.
    Initialise(Authority),
    /// Releases one lockout, or every lockout that stands.
    Release {
        /// Who.
        by: Authority,
        /// Which; without it all.
        lockout: Option<Lockout>,
        /// The person has seen that nobody is in the pool.
        pool_empty: bool,
        /// What was done about it.
        remedy: Option<Remedy>,
    },
    /// Acknowledges every alarm.
    Acknowledge(Authority),
    /// Shelves every alarm that stands, for as long as one may be.
    Shelve(Authority),
    /// Has put in a new probe.
    NewProbe(Authority),
    /// Moves to full caps.
    FullStage(Authority),
    /// Moves to reduced caps.
    ReducedStage(Authority),
    /// Enters fallback with a chlorine test.
    EnterFallback {
        /// Who.
        by: Authority,
        /// Age of the test.
        test_age: Millis,
    },
    /// Leaves fallback.
    LeaveFallback(Authority),
    /// Holds the button for a manual feed.
    ManualFeed {
        /// Of which feeder.
        feeder: usize,
        /// How long the button is held, ms.
        for_ms: u64,
    },
    /// Refills a drum to its specified stock, and enters its level.
    Refill(usize),
    /// Reads the level of a drum and enters it.
    ReadLevel {
        /// Of which feeder.
        feeder: usize,
        /// What is entered; without it what is really there.
        level: Option<Dose>,
    },
    /// Presses the emergency stop for so long, ms.
    EmergencyStop(u64),
    /// Pauses feeding for so long, ms.
    Pause(u64),
    /// Pours something into the pool by hand, all at once.
    Pour {
        /// What.
        what: Poured,
        /// How much: grams of what is solid, millilitres of what is liquid.
        amount: u32,
    },
    /// Lets so many litres out and in from the mains.
    ExchangeWater(u32),
    /// Does that to a body that is named, whichever the valves select.
    ToBody {
        /// Which.
        body: usize,
        /// What.
        what: ToBody,
    },
    /// Ends a pause before its time.
    Resume(Authority),
    /// Lays the site up for winter.
    LayUp(Authority),
    /// Opens it up again.
    OpenUp(Authority),
    /// Records a dose that was poured by hand.
    HandDose {
        /// Who.
        by: Authority,
        /// The feeder of the product.
        feeder: usize,
        /// How much.
        dose: Dose,
        /// Into which body; `None`: nobody says.
        body: Option<usize>,
    },
    /// Works on a probe, or tests the water.
    Work {
        /// Who.
        by: Authority,
        /// What.
        work: Work,
    },
    /// Does something about stages, proof tests or limits.
    Care {
        /// Who.
        by: Authority,
        /// What.
        act: CareAct,
    },
}

const AUTHORITIES: [(&str, Authority); 4] = [
    ("owner", Authority::Owner),
    ("operator", Authority::Operator),
    ("technician", Authority::Technician),
    ("maker", Authority::Maker),
];

const LOCKOUTS: [(&str, Lockout); 11] = [
    ("state_seal", Lockout::StateSeal),
    ("limits_seal", Lockout::LimitsSeal),
    ("witnesses", Lockout::Witnesses),
    ("line", Lockout::Line),
    ("record_lost", Lockout::RecordLost),
    ("emergency_stop", Lockout::EmergencyStop),
    ("power_loss", Lockout::PowerLoss),
    ("probe", Lockout::Probe),
    ("run_time", Lockout::RunTime),
    ("response", Lockout::Response),
    ("drive", Lockout::Drive),
];

const REMEDIES: [(&str, Remedy); 5] = [
    ("probe", Remedy::Probe),
    ("product", Remedy::Product),
    ("rate", Remedy::Rate),
    ("line", Remedy::Line),
    ("water_tested", Remedy::WaterTested),
];

#[derive(Clone, Copy)]
enum Deed {
    Initialise,
    Release,
    Acknowledge,
    Shelve,
    NewProbe,
    FullStage,
    ReducedStage,
    EnterFallback,
    LeaveFallback,
    ManualFeed,
    Refill,
    ReadLevel,
    EmergencyStop,
    Pause,
    Pour,
    ExchangeWater,
    Resume,
    LayUp,
    OpenUp,
    HandDose,
    Work(&'static str),
    Care(&'static str),
}

const DEEDS: [(&str, Deed); 37] = [
    ("initialise", Deed::Initialise),
    ("release", Deed::Release),
    ("acknowledge", Deed::Acknowledge),
    ("shelve", Deed::Shelve),
    ("new_probe", Deed::NewProbe),
    ("full_stage", Deed::FullStage),
    ("reduced_stage", Deed::ReducedStage),
    ("enter_fallback", Deed::EnterFallback),
    ("leave_fallback", Deed::LeaveFallback),
    ("manual_feed", Deed::ManualFeed),
    ("refill", Deed::Refill),
    ("read_level", Deed::ReadLevel),
    ("emergency_stop", Deed::EmergencyStop),
    ("pause", Deed::Pause),
    ("pour", Deed::Pour),
    ("exchange_water", Deed::ExchangeWater),
    ("resume", Deed::Resume),
    ("lay_up", Deed::LayUp),
    ("open_up", Deed::OpenUp),
    ("hand_dose", Deed::HandDose),
    (WORKS[0], Deed::Work(WORKS[0])),
    (WORKS[1], Deed::Work(WORKS[1])),
    (WORKS[2], Deed::Work(WORKS[2])),
    (WORKS[3], Deed::Work(WORKS[3])),
    (WORKS[4], Deed::Work(WORKS[4])),
    (WORKS[5], Deed::Work(WORKS[5])),
    (WORKS[6], Deed::Work(WORKS[6])),
    (WORKS[7], Deed::Work(WORKS[7])),
    (CARES[0], Deed::Care(CARES[0])),
    (CARES[1], Deed::Care(CARES[1])),
    (CARES[2], Deed::Care(CARES[2])),
    (CARES[3], Deed::Care(CARES[3])),
    (CARES[4], Deed::Care(CARES[4])),
    (CARES[5], Deed::Care(CARES[5])),
    (CARES[6], Deed::Care(CARES[6])),
    (CARES[7], Deed::Care(CARES[7])),
    (CARES[8], Deed::Care(CARES[8])),
];

pub(super) fn long(t: &Table<'_, '_>, key: &'static str) -> Read<u64> {
    Ok((t.quantity(key, Kind::Time, "1 s", "3650 days")? * 1000.0).round() as u64)
}

pub(super) fn feeder_at(t: &Table<'_, '_>, key: &'static str, names: &[String]) -> Read<usize> {
    let known: Vec<(&str, usize)> = names
        .iter()
        .enumerate()
        .map(|(index, name)| (name.as_str(), index))
        .collect();
    t.choice(key, &known)
}

/// Reads what `person` does.
pub(super) fn read(t: &Table<'_, '_>, names: &Names<'_>) -> Read<PersonAct> {
    let feeders = names.feeders;
    let by = || match t.find("by") {
        Some(entry) => entry.choice(&AUTHORITIES),
        None => Ok(Authority::Technician),
    };
    let act = match t.choice("person", &DEEDS)? {
        Deed::Initialise => PersonAct::Initialise(by()?),
        Deed::Release => PersonAct::Release {
            by: by()?,
            lockout: t
                .find("lockout")
                .map(|entry| entry.choice(&LOCKOUTS))
                .transpose()?,
            pool_empty: match t.find("pool_empty") {
                Some(entry) => entry.yes_or_no()?,
                None => false,
            },
            remedy: t
                .find("remedy")
                .map(|entry| entry.choice(&REMEDIES))
                .transpose()?,
        },
        Deed::Acknowledge => PersonAct::Acknowledge(by()?),
        Deed::Shelve => PersonAct::Shelve(by()?),
        Deed::NewProbe => PersonAct::NewProbe(by()?),
        Deed::FullStage => PersonAct::FullStage(by()?),
        Deed::ReducedStage => PersonAct::ReducedStage(by()?),
        Deed::EnterFallback => {
            let age = t.quantity("test_age", Kind::Time, "0 s", "1 day")?;
            PersonAct::EnterFallback {
                by: by()?,
                test_age: Millis((age * 1000.0).round() as u32),
            }
        }
        Deed::LeaveFallback => PersonAct::LeaveFallback(by()?),
        Deed::ManualFeed => PersonAct::ManualFeed {
            feeder: feeder_at(t, "feeder", feeders)?,
            for_ms: long(t, "for")?,
        },
        Deed::Refill => PersonAct::Refill(feeder_at(t, "feeder", feeders)?),
        Deed::ReadLevel => read_level(t, feeders)?,
        Deed::EmergencyStop => PersonAct::EmergencyStop(long(t, "for")?),
        Deed::Pause => PersonAct::Pause(long(t, "for")?),
        Deed::Pour => poured::to_body(t, names.bodies, poured::read(t)?)?,
        Deed::ExchangeWater => {
            let litres = t.quantity("amount", Kind::Volume, "1 L", "10000 m3")?;
            let what = ToBody::ExchangeWater(litres.round() as u32);
            poured::to_body(t, names.bodies, what)?
        }
        Deed::Resume => PersonAct::Resume(by()?),
        Deed::LayUp => PersonAct::LayUp(by()?),
        Deed::OpenUp => PersonAct::OpenUp(by()?),
        Deed::HandDose => hand_dose(t, names, by()?)?,
        Deed::Work(which) => PersonAct::Work {
            by: by()?,
            work: work::read(t, which)?,
        },
        Deed::Care(which) => PersonAct::Care {
            by: by()?,
            act: care::read_act(t, which, feeders)?,
        },
    };
    Ok(act)
}

fn hand_dose(t: &Table<'_, '_>, names: &Names<'_>, by: Authority) -> Read<PersonAct> {
    Ok(PersonAct::HandDose {
        by,
        feeder: feeder_at(t, "feeder", names.feeders)?,
        dose: litres(t, "amount")?,
        // Nobody has to say.
        body: match t.find("body") {
            Some(_) => super::bodies::body_of(t, names.bodies)?,
            None => None,
        },
    })
}

fn read_level(t: &Table<'_, '_>, feeders: &[String]) -> Read<PersonAct> {
    Ok(PersonAct::ReadLevel {
        feeder: feeder_at(t, "feeder", feeders)?,
        level: match t.find("level") {
            Some(entry) => {
                let litres = entry.quantity(Kind::Volume, "0 L", "4 m3")?;
                Some(Dose((litres * 1e6).round() as u32))
            }
            None => None,
        },
    })
}

fn litres(t: &Table<'_, '_>, key: &'static str) -> Read<Dose> {
    let litres = t.quantity(key, Kind::Volume, "1 mL", "4 m3")?;
    Ok(Dose((litres * 1e6).round() as u32))
}

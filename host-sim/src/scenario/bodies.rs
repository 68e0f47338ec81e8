//! The bodies of water: `[pool]`, or two `[[body]]` on one pump with `[valves]` between them.
//!
//! | key of a `[[body]]` besides those of `[pool]` | what |
//! |---|---|
//! | `name` | what events, visits and `[[feeder.limits.body]]` call it |
//! | `[body.kept]` | how near it is to be kept; without it as `[held_to.kept]` says |
//!
//! | key of `[valves]` | what |
//! |---|---|
//! | `travel` | time from one end to the other; the water changes halfway |
//! | `selected` | body that they select at the start |
//! | `position` | `"fitted"`: switches tell the controller which; or `"not fitted"` |
//! | `steady` | how long the position has stood before anything is fed; only where it is fitted |
//! | `[[valves.daily]]` | `body`, to which they are turned each day, and `at`, from when to when; then back to `selected` |

use dosewarden::guard::units::Millis;

use super::clock::DAY_MS;
use super::control;
use super::error::InputError;
use super::feeder;
use super::quantity::Kind;
use super::table::Table;
use super::timeline::{Act, Event};
use super::{BodyPlan, water};
use crate::plant::{BasinSpec, DayWindow, ValvesSpec};

type Read<T> = Result<T, InputError>;

/// How many bodies one pump can serve here.
const BODIES: usize = 2;
/// What the one body of a site is called.
const THE_POOL: &str = "pool";

/// What a file says of its bodies.
pub(super) struct ReadBodies {
    pub(super) basins: Vec<BasinSpec>,
    pub(super) plans: Vec<BodyPlan>,
    pub(super) valves: Option<ValvesSpec>,
    /// How long the valves' position stands before anything is fed; `None`: the controller is not told of it.
    pub(super) steady: Option<Millis>,
    /// To which body the valves are turned each day, and when.
    pub(super) daily: Vec<(usize, DayWindow)>,
}

impl ReadBodies {
    /// The turns of each day, as events.
    pub(super) fn turn_daily(&self, days: u32, events: &mut Vec<Event>) {
        let first = self.valves.map_or(0, |valves| valves.first);
        for (body, at) in &self.daily {
            for day in 0..u64::from(days) {
                let event = |minute: u16, body| {
                    let at_ms = day * DAY_MS + u64::from(minute) * 60_000;
                    Event::at(at_ms, Act::TurnValves(body))
                };
                events.push(event(at.from_min, *body));
                events.push(event(at.to_min, first));
            }
        }
    }

    /// Names of the bodies between which something can be said to be; none where there is one body.
    pub(super) fn names(&self) -> Vec<String> {
        if self.plans.len() < BODIES {
            return Vec::new();
        }
        self.plans.iter().map(|plan| plan.name.clone()).collect()
    }

    /// Names of those for which a feeder has limits of their own; none where it has one set.
    pub(super) fn with_limits(&self) -> Vec<String> {
        if self.steady.is_some() {
            self.names()
        } else {
            Vec::new()
        }
    }
}

pub(super) fn read(root: &Table<'_, '_>) -> Read<ReadBodies> {
    if root.find("body").is_none() {
        if root.find("valves").is_some() {
            return Err(root.table("valves")?.error(
                "[valves] select one of two bodies of water, and [pool] is one; leave [valves] out, or write two [[body]] in place of [pool]",
            ));
        }
        return Ok(ReadBodies {
            basins: vec![water::pool(root)?],
            plans: vec![BodyPlan {
                name: THE_POOL.to_owned(),
                kept: None,
            }],
            valves: None,
            steady: None,
            daily: Vec::new(),
        });
    }
    if root.find("pool").is_some() {
        return Err(root.table("pool")?.error(
            "the file has [pool] and [[body]]; write [pool] for one body of water, or two [[body]]",
        ));
    }
    let (mut basins, mut plans): (Vec<BasinSpec>, Vec<BodyPlan>) = (Vec::new(), Vec::new());
    for t in root.tables("body")? {
        if plans.len() == BODIES {
            return Err(t.error(format!(
                "one [[body]] too many; {BODIES} can be on one pump"
            )));
        }
        let name = feeder::name(&t)?;
        if plans.iter().any(|other| other.name == name) {
            let what = format!("a second body is named \"{name}\"; names have to differ");
            return Err(t.error_at("name", what));
        }
        let kept = control::kept(&t)?;
        basins.push(water::body(&t)?);
        plans.push(BodyPlan { name, kept });
        t.close()?;
    }
    if plans.len() < BODIES {
        return Err(root
            .error("the file has one [[body]]; write [pool] in its place, or a second [[body]]"));
    }
    let (valves, steady, daily) = valves(root, &plans)?;
    Ok(ReadBodies {
        basins,
        plans,
        valves: Some(valves),
        steady,
        daily,
    })
}

type Valves = (ValvesSpec, Option<Millis>, Vec<(usize, DayWindow)>);

fn valves(root: &Table<'_, '_>, plans: &[BodyPlan]) -> Read<Valves> {
    let t = root.table("valves")?;
    let names: Vec<String> = plans.iter().map(|plan| plan.name.clone()).collect();
    let position = t.choice("position", &[("fitted", true), ("not fitted", false)])?;
    let valves = ValvesSpec {
        travel_s: t.quantity("travel", Kind::Time, "0 s", "10 min")?,
        position,
        first: body_at(&t, "selected", &names)?,
    };
    let steady = if position {
        let steady_s = t.quantity("steady", Kind::Time, "1 ms", "1 h")?;
        Some(Millis((steady_s * 1000.0).round() as u32))
    } else {
        if t.find("steady").is_some() {
            let what = "`steady` is how long a position stands, and `position` is not fitted; leave it out";
            return Err(t.error_at("steady", what.to_owned()));
        }
        None
    };
    let mut daily = Vec::new();
    for one in t.tables("daily")? {
        let body = body_at(&one, "body", &names)?;
        if body == valves.first {
            let what = "`body` is the one that `selected` names; the valves come back to that by themselves";
            return Err(one.error_at("body", what.to_owned()));
        }
        daily.push((body, one.need("at", "\"18:00-20:00\"")?.window()?));
        one.close()?;
    }
    t.close()?;
    Ok((valves, steady, daily))
}

/// The body that `key` names.
pub(super) fn body_at(t: &Table<'_, '_>, key: &'static str, names: &[String]) -> Read<usize> {
    let known: Vec<(&str, usize)> = names.iter().map(String::as_str).zip(0..).collect();
    t.choice(key, &known)
}

/// The body that something is done to: `body` names it where there are two, and is left out where there is one.
pub(super) fn body_of(t: &Table<'_, '_>, names: &[String]) -> Read<Option<usize>> {
    if names.is_empty() {
        return match t.find("body") {
            None => Ok(None),
            Some(entry) => Err(entry.error("the site has one body of water; leave `body` out")),
        };
    }
    body_at(t, "body", names).map(Some)
}

//! A way through the walk, told tick by tick.

use std::fmt;

use super::live::{Aim, WAIT_MAX, healthy};
use super::site::Site;
use super::tick::TrailTick;
use super::way::Found;
use super::world::{Came, World};

/// Ticks that are told of a wait that does not end.
const SHOWN: usize = 12;

/// A way through a walk, in words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Trail {
    /// The part of the walk.
    pub part: &'static str,
    /// Events by number, from the first power-on.
    pub events: Vec<u16>,
    /// What happened in each tick, and what was decided.
    pub ticks: Vec<TrailTick>,
    /// What is waited for at its end, once nothing is wrong any more, and for which feeder.
    pub then: Option<(Aim, usize)>,
    /// What follows once nothing is wrong any more; its events have no number.
    pub healthy: Vec<TrailTick>,
    /// Name of the property that does not hold at its end, and what it says.
    pub broken: Option<(&'static str, &'static str)>,
    /// What its file says of the guard that was walked, where it is told from a file.
    pub found: Found,
}

impl Trail {
    /// Every tick, and what the guard that was walked decided there where this one decides something else.
    pub fn all(&self) -> impl Iterator<Item = (&TrailTick, Option<&str>)> {
        let was = self.found.comes.iter().map(Some);
        let ticks = self.ticks.iter().chain(&self.healthy);
        let with = ticks.zip(was.chain(std::iter::repeat(None)));
        with.map(|(tick, was)| {
            let other = was.filter(|was| !was.is_empty() && **was != tick.comes);
            (tick, other.map(String::as_str))
        })
    }

    /// All of it, as a text.
    #[must_use]
    pub fn text(&self) -> String {
        format!("{}, from the first power-on:\n{self}", self.part)
    }

    /// What it comes to, and what it came to when it was found, a line each.
    #[must_use]
    pub fn ends(&self) -> Vec<String> {
        let mut all = vec![match self.broken {
            Some((name, says)) => format!("{name} does not hold: {says}"),
            None => "everything holds".to_owned(),
        }];
        let now = self.broken.map(|(name, _)| name);
        if let Some(was) = self.found.broken.filter(|was| Some(was.name) != now) {
            let (name, says) = (was.name, was.says);
            all.push(format!(
                "with the guard of the walk that found it {name} did not hold: {says}"
            ));
        }
        all
    }
}

impl fmt::Display for Trail {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (number, (tick, was)) in (1..).zip(self.all()) {
            if number == self.ticks.len() + 1 {
                writeln!(f, "  from here on nothing is wrong any more:")?;
            }
            writeln!(f, "  {number:3}  {}", tick.happens)?;
            writeln!(f, "       -> {}", tick.comes)?;
            if let Some(was) = was {
                writeln!(f, "          when it was found: {was}")?;
            }
        }
        for line in self.ends() {
            writeln!(f, "  {line}")?;
        }
        Ok(())
    }
}

/// Tells a way by the numbers of its events.
pub(super) fn told<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
    events: &[u16],
) -> (Trail, World<N, B, H, D>) {
    let mut world = World::<N, B, H, D>::new(site);
    let mut trail = Trail {
        part: site.name,
        ..Trail::default()
    };
    for number in events {
        let Some(event) = site.events.get(usize::from(*number)) else {
            break;
        };
        let (tick, came) = TrailTick::of(site, &mut world, event);
        trail.events.push(*number);
        trail.ticks.push(tick);
        world = World::unpack(site, &world.pack(site).unwrap_or_default());
        if let Err(property) = came {
            trail.broken = Some((property.name, property.says));
            break;
        }
    }
    (trail, world)
}

/// Tells a way, and what comes once nothing is wrong any more: until what is waited for has happened, or the longest wait
/// is over, or a property does not hold.
pub(super) fn then<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
    events: &[u16],
    aim: Aim,
    feeder: usize,
) -> Trail {
    let (mut trail, mut world) = told::<N, B, H, D>(site, events);
    if trail.broken.is_some() {
        return trail;
    }
    trail.then = Some((aim, feeder));
    for _ in 0..WAIT_MAX {
        let event = healthy::<N, B, H, D>(site, &world, feeder, aim);
        let (tick, came) = TrailTick::of(site, &mut world, &event);
        trail.healthy.push(tick);
        match came {
            Err(property) => {
                trail.broken = Some((property.name, property.says));
                return trail;
            }
            Ok(Came::Judged(decision)) if aim.reached(feeder, &decision) => return trail,
            Ok(_) => {}
        }
    }
    trail.healthy.truncate(SHOWN);
    trail.broken = Some((aim.name(), aim.says()));
    trail
}

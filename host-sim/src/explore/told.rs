//! A way through the walk, told tick by tick, and the file from which it is told again.

use std::fmt;
use std::fmt::Write as _;

use super::event::Event;
use super::live::{Aim, healthy};
use super::site::Site;
use super::world::{Came, World};
use crate::scenario::InputError;

/// First line of a file that can be replayed; the part's name follows.
pub(super) const HEAD: &str = "dosewarden explore";

/// A way through a walk, in words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Trail {
    /// The part of the walk.
    pub part: &'static str,
    /// Events by number, from the first power-on.
    pub events: Vec<u16>,
    /// One line a tick: what happened, and what was decided.
    pub ticks: Vec<(String, String)>,
    /// What follows once nothing is wrong any more; its events have no number.
    pub healthy: Vec<(String, String)>,
    /// Name of the property that does not hold at its end, and what it says.
    pub broken: Option<(&'static str, &'static str)>,
}

impl fmt::Display for Trail {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ticks = self.ticks.iter().chain(&self.healthy);
        for (number, (what, came)) in (1..).zip(ticks) {
            if number == self.ticks.len() + 1 {
                writeln!(f, "  from here on nothing is wrong any more:")?;
            }
            writeln!(f, "  {number:3}  {what}")?;
            writeln!(f, "       -> {came}")?;
        }
        match self.broken {
            Some((name, says)) => writeln!(f, "  {name} does not hold: {says}"),
            None => writeln!(f, "  everything holds"),
        }
    }
}

impl Trail {
    /// As a file that can be replayed: the number counts, the words are for the reader.
    #[must_use]
    pub fn file(&self) -> String {
        let mut text = format!("{HEAD} {}\n", self.part);
        for (event, (what, _)) in self.events.iter().zip(&self.ticks) {
            let _ = writeln!(text, "{event}\t{what}");
        }
        text
    }
}

/// Part, events and words of a file that can be replayed.
pub(super) fn read(
    file: &str,
    text: &str,
) -> Result<(&'static str, Vec<u16>, Vec<String>), InputError> {
    let wrong = |line, what: String| InputError::of_line(file, line, what);
    let mut lines = text.lines();
    let head = lines.next().and_then(|line| line.strip_prefix(HEAD));
    let named = head
        .ok_or_else(|| wrong(1, format!("a file for --replay begins with `{HEAD} PART`")))?
        .trim();
    let parts = super::parts("all").unwrap_or_default();
    let part = parts.iter().find(|part| **part == named);
    let part = part.ok_or_else(|| {
        let all = parts.join(", ");
        wrong(1, format!("`{named}` is no part; there are {all}"))
    })?;
    let (mut events, mut words) = (Vec::new(), Vec::new());
    for (line, text) in (2..).zip(lines) {
        let (number, what) = text.split_once('\t').unwrap_or((text, ""));
        let number = number.parse::<u16>().map_err(|_| {
            let what = format!("`{number}` is no event; a line is its number, a tab and words");
            wrong(line, what)
        })?;
        events.push(number);
        words.push(what.to_owned());
    }
    Ok((part, events, words))
}

fn tell<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
    world: &mut World<N, B, H, D>,
    event: &Event<N>,
    trail: &mut Trail,
) -> (String, String) {
    let came = match world.next(site, event) {
        Ok(Came::Nothing) => "cannot happen here".to_owned(),
        Ok(Came::Cut(_)) => "starts anew".to_owned(),
        Ok(Came::Judged(decision)) => {
            let rows = decision.feeders.iter().enumerate();
            let all: Vec<String> = rows
                .map(|(feeder, row)| {
                    let names: Vec<&str> = row.vetoes.iter().map(|rule| rule.name()).collect();
                    if row.run.0 > 0 {
                        format!("feeder {feeder} runs for {} ms", row.run.0)
                    } else {
                        format!(
                            "feeder {feeder} {:?}, refused by {}",
                            row.stage,
                            names.join(", ")
                        )
                    }
                })
                .collect();
            all.join("; ")
        }
        Err(property) => {
            trail.broken = Some((property.name, property.says));
            "does not hold".to_owned()
        }
    };
    (event.told(), came)
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
        let line = tell(site, &mut world, event, &mut trail);
        trail.events.push(*number);
        trail.ticks.push(line);
        world = World::unpack(site, &world.pack(site).unwrap_or_default());
        if trail.broken.is_some() {
            break;
        }
    }
    (trail, world)
}

/// Tells a way after which feeding does not resume, or breaks a property as it does.
pub(super) fn endless<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
    events: &[u16],
    aim: Aim,
    feeder: usize,
) -> Trail {
    const SHOWN: usize = 12;
    let (mut trail, mut world) = told::<N, B, H, D>(site, events);
    for _ in 0..SHOWN {
        let event = healthy(site, &world, feeder, aim);
        let line = tell(site, &mut world, &event, &mut trail);
        trail.healthy.push(line);
        if trail.broken.is_some() {
            return trail;
        }
    }
    trail.broken = Some((aim.name(), aim.says()));
    trail
}

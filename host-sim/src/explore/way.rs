//! The file of a way: what `--trail` writes, and from which it is told again.
//!
//! ```text
//! dosewarden explore x3-answers
//! 3    the probe reads level 1    feeder 0 Idle, refused by power_on_delay, flow_proven
//! then FED_AGAIN 0
//! broken FED_AGAIN
//! ```
//!
//! Between the three stands a tab. The number counts; the words are for the reader, and say what the guard that was walked decided. `then` stands where
//! something was waited for once nothing is wrong any more, and `broken` names the property that did not hold.

use std::fmt::Write as _;

use super::held::{ALWAYS, Property};
use super::live::Aim;
use super::told::Trail;
use crate::scenario::InputError;

/// First line of such a file; the part's name follows.
const HEAD: &str = "dosewarden explore";

/// What a file says of the guard that was walked: the guard that tells it again may be another one.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Found {
    /// What it decided in each tick that has a number; empty where the file does not say.
    pub comes: Vec<String>,
    /// The property that did not hold.
    pub broken: Option<Property>,
}

/// What stands in such a file.
#[derive(Clone, Debug, Default)]
pub(super) struct Way {
    pub(super) part: String,
    pub(super) events: Vec<u16>,
    pub(super) words: Vec<String>,
    pub(super) then: Option<(Aim, usize)>,
    pub(super) found: Found,
}

/// Whether a text is the file of a way: by its first line.
#[must_use]
pub fn is_way(text: &str) -> bool {
    text.starts_with(HEAD)
}

impl Trail {
    /// As a file that can be told again.
    #[must_use]
    pub fn file(&self) -> String {
        let mut text = format!("{HEAD} {}\n", self.part);
        for (event, tick) in self.events.iter().zip(&self.ticks) {
            let _ = writeln!(text, "{event}\t{}\t{}", tick.happens, tick.comes);
        }
        if let Some((aim, feeder)) = self.then {
            let _ = writeln!(text, "then {} {feeder}", aim.name());
        }
        if let Some((name, _)) = self.broken {
            let _ = writeln!(text, "broken {name}");
        }
        text
    }
}

/// The property of a name, those of the end among them.
fn property(name: &str) -> Option<Property> {
    let aims = Aim::ALL.iter().map(|aim| Property {
        name: aim.name(),
        says: aim.says(),
    });
    let mut all = ALWAYS.iter().copied().chain(aims);
    all.find(|one| one.name == name)
}

/// `AIM FEEDER`.
fn then_of(words: &str, feeders: usize) -> Option<(Aim, usize)> {
    let (aim, feeder) = words.split_once(' ')?;
    let aim = Aim::ALL.into_iter().find(|one| one.name() == aim)?;
    let feeder = feeder.parse().ok().filter(|one| *one < feeders)?;
    Some((aim, feeder))
}

/// Part, events and words of a file.
pub(super) fn read(file: &str, text: &str) -> Result<Way, InputError> {
    let wrong = |line, what: String| InputError::of_line(file, line, what);
    let mut lines = text.lines();
    let head = lines.next().and_then(|line| line.strip_prefix(HEAD));
    let named = head
        .ok_or_else(|| {
            let what = format!("a file for --replay begins with `{HEAD} PART`");
            wrong(1, what)
        })?
        .trim();
    let parts = super::parts("all").unwrap_or_default();
    let part = parts.iter().find(|part| **part == named);
    let part = part.ok_or_else(|| {
        let all = parts.join(", ");
        wrong(1, format!("`{named}` is no part; there are {all}"))
    })?;
    let mut way = Way {
        part: (*part).to_owned(),
        ..Way::default()
    };
    for (line, text) in (2..).zip(lines) {
        read_line(&mut way, text).map_err(|what| wrong(line, what))?;
    }
    Ok(way)
}

fn read_line(way: &mut Way, text: &str) -> Result<(), String> {
    if way.found.broken.is_some() {
        return Err("nothing may follow the line that begins with `broken`".to_owned());
    }
    if let Some(name) = text.strip_prefix("broken ") {
        let known = property(name).ok_or_else(|| format!("`{name}` is no property"))?;
        way.found.broken = Some(known);
        return Ok(());
    }
    if way.then.is_some() {
        return Err("after `then` only `broken PROPERTY` may follow".to_owned());
    }
    if let Some(words) = text.strip_prefix("then ") {
        let feeders = super::feeders(&way.part);
        let names = Aim::ALL.map(Aim::name).join(" or ");
        let what = || {
            let last = feeders - 1;
            format!("`{words}` is not what is waited for; it is {names} and a feeder, 0 to {last}")
        };
        way.then = Some(then_of(words, feeders).ok_or_else(what)?);
        return Ok(());
    }
    let mut fields = text.splitn(3, '\t');
    let number = fields.next().unwrap_or_default();
    let number = number.parse::<u16>().map_err(|_| {
        format!("`{number}` is no event; a line is its number, a tab, words, and what came of it")
    })?;
    way.events.push(number);
    way.words.push(fields.next().unwrap_or_default().to_owned());
    way.found
        .comes
        .push(fields.next().unwrap_or_default().to_owned());
    Ok(())
}

//! Walks the shipped guard, breadth first, to the end of its state space.
//!
//! Invariant: what is walked is [`dosewarden::guard::step`] as it ships, from the first power-on, by
//! every event of a pinned configuration in every world that it can reach. Beside the guard stands a
//! truth of our own, which reads events and permits and never the guard's state, and the properties
//! are statements about that truth.
//!
//! | module | what |
//! |---|---|
//! | `event`, `facts` | what can happen between two ticks, and which rule reads it |
//! | `site`, `sites` | limits in ticks, and the configurations |
//! | `world` | guard, truth and record store, moved on by one event |
//! | `truth`, `answers`, `calls` | what really happened |
//! | `held` | what always holds |
//! | `live`, `waits` | what must happen in the end, and how long that takes |
//! | `seen`, `reaches` | what must happen at least once |
//! | `pack`, `coder` | a world in 32 bytes, whole |
//! | `settle` | what is taken out of a world, and why that changes nothing |
//! | `told`, `tick`, `way` | a way through it, in words, and its file |
//! | `walk` | breadth first, the same with any number of threads |
//! | `report`, `summary`, `page` | what it came to, as data and as a page |
//!
//! What it leaves out stands in `EXPLORE.md`. Without the feature `tools` there is no walk: only a way that was kept is
//! told again, which a page in a browser does too.

mod answers;
mod calls;
mod coder;
mod event;
mod facts;
mod held;
mod live;
mod pack;
#[cfg(feature = "tools")]
mod page;
#[cfg(feature = "tools")]
mod reaches;
#[cfg(feature = "tools")]
mod report;
#[cfg(feature = "tools")]
mod seen;
mod settle;
mod site;
mod sites;
#[cfg(feature = "tools")]
mod summary;
#[cfg(all(test, feature = "tools"))]
mod tests;
mod tick;
mod told;
mod truth;
#[cfg(feature = "tools")]
mod waits;
#[cfg(feature = "tools")]
mod walk;
mod way;
mod world;

use dosewarden::guard::{LimitsError, Restart};

pub use held::{ALWAYS, Property};
pub use live::Aim;
#[cfg(feature = "tools")]
pub use page::page;
#[cfg(feature = "tools")]
pub use report::{Report, explore};
#[cfg(feature = "tools")]
pub use seen::Seen;
#[cfg(feature = "tools")]
pub use summary::{BrokenSummary, PartSummary, TickSummary, WaitSummary, verdict};
pub use tick::{FeederTick, TrailTick};
pub use told::Trail;
#[cfg(feature = "tools")]
pub use walk::{Ended, Progress, Walking};
pub use way::{Found, is_way};

use crate::scenario::InputError;
use site::Site;
use way::Way;

/// Every part.
const ALL: [&str; 6] = [
    "x1-automatic",
    "x1-person",
    "x2",
    "x3-persons",
    "x3-bodies",
    "x3-answers",
];

/// The parts of a configuration, or the part itself; `None` if there is no such.
#[must_use]
pub fn parts(config: &str) -> Option<&'static [&'static str]> {
    match config {
        "x1" => Some(&["x1-automatic", "x1-person"]),
        "x2" => Some(&["x2"]),
        "x3" => Some(&["x3-persons", "x3-bodies", "x3-answers"]),
        "all" => Some(&ALL),
        part => ALL
            .iter()
            .position(|one| *one == part)
            .map(|index| &ALL[index..=index]),
    }
}

/// What a part walks: the site, and what happens to it.
#[must_use]
pub const fn about(part: &str) -> (&'static str, &'static str) {
    match part.as_bytes() {
        b"x1-automatic" => (
            "one feeder by share of time, a timer that cuts it; it restarts by itself",
            "water, late ticks, bucket ends, records written and read back or not, power cuts with the images same, differing or lost; a person initialises and releases",
        ),
        b"x1-person" => (
            "one feeder by share of time, a timer that cuts it; a person after each restart, and a longer hold",
            "late ticks, bucket ends, records written and read back or not, power cuts with the images same, differing or lost; a person initialises and releases; water always flows while there is power",
        ),
        b"x2" => (
            "acid and hypochlorite on one line, feedback, drives that go off a tick late",
            "both asked or not, water, each drive obeys, runs, is dead or is not seen, late ticks, releases",
        ),
        b"x3-persons" => (
            "oxidiser by ORP, pump contact, level switch, hours, fallback, manual feed",
            "each mode asked, button, probe, witnesses apart, inhibits, emergency stop, limits that change, fallback, new probe, releases",
        ),
        b"x3-bodies" => (
            "two bodies of water, valves, feedback, a drive that goes off a tick late",
            "valves, water, the drive's faults, a state that changes, releases",
        ),
        _ => (
            "acid by pH, two unanswered cycles at most",
            "pH at four levels, probe faults, water, pause, the interval of probing cycles over or not, releases",
        ),
    }
}

/// Feeders of a part.
fn feeders(part: &str) -> usize {
    if part == "x2" { 2 } else { 1 }
}

/// Calls a function that is generic over a site's shape.
macro_rules! dispatch {
    ($part:expr, $function:ident($($argument:expr),*)) => {
        match $part {
            "x1-automatic" => $function::<1, 1, 2, 3>(sites::x1(Restart::Automatic)? $(, $argument)*),
            "x1-person" => $function::<1, 1, 2, 3>(sites::x1(Restart::Person)? $(, $argument)*),
            "x2" => $function::<2, 1, 2, 2>(sites::x2()? $(, $argument)*),
            "x3-persons" => $function::<1, 1, 2, 2>(sites::x3_persons()? $(, $argument)*),
            "x3-bodies" => $function::<1, 2, 2, 2>(sites::x3_bodies()? $(, $argument)*),
            _ => $function::<1, 1, 2, 2>(sites::x3_answers()? $(, $argument)*),
        }
    };
}
#[cfg(feature = "tools")]
use dispatch;

/// Tells a way again by the numbers of its events.
///
/// # Errors
/// If the guard does not take the limits of the part any more.
pub fn replay(part: &str, events: &[u16]) -> Result<Trail, LimitsError> {
    again(&Way {
        part: part.to_owned(),
        events: events.to_vec(),
        ..Way::default()
    })
}

fn again(way: &Way) -> Result<Trail, LimitsError> {
    Ok(dispatch!(way.part.as_str(), replay_site(way)))
}

/// Tells a way again from the text of a file that [`Trail::file`] made.
///
/// # Errors
/// What is wrong, with its line; `file` is the name that it is told by.
pub fn replay_file(file: &str, text: &str) -> Result<Trail, InputError> {
    let way = way::read(file, text)?;
    let wrong = |line, what: String| InputError::of_line(file, line, what);
    let mut trail = again(&way).map_err(|error| wrong(1, error.to_string()))?;
    for (line, (tick, was)) in (2..).zip(trail.ticks.iter().zip(&way.words)) {
        let what = &tick.happens;
        if what != was {
            let what =
                format!("this event is `{what}` here, not `{was}`: the file is of another version");
            return Err(wrong(line, what));
        }
    }
    if trail.ticks.len() < way.events.len() && trail.broken.is_none() {
        let line = trail.ticks.len() + 2;
        let part = way.part;
        return Err(wrong(line, format!("{part} has no event of this number")));
    }
    trail.found = way.found;
    Ok(trail)
}

fn replay_site<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: Site<N, B>,
    way: &Way,
) -> Trail {
    match way.then {
        Some((aim, feeder)) => told::then::<N, B, H, D>(&site, &way.events, aim, feeder),
        None => told::told::<N, B, H, D>(&site, &way.events).0,
    }
}

//! Breadth first, to the end: every world that can be reached, once.
//!
//! A level is expanded in rounds; the threads of a round read the table of worlds and write none of
//! it, so that the order in which worlds are found, and with it every count and every shortest path,
//! is the same whatever the number of threads.

use std::ops::Range;
use std::sync::atomic::{AtomicBool, Ordering};

use foldhash::fast::FixedState;
use hashbrown::HashTable;

use super::held::Property;
use super::pack::Packed;
use super::seen::Seen;
use super::site::Site;
use super::world::{Came, World};

/// Worlds that a round expands.
const ROUND: usize = 1 << 15;

/// How a walk is made.
pub struct Walking<'a> {
    /// Ends it after the round in which there are this many states.
    pub states_max: usize,
    /// Threads.
    pub jobs: usize,
    /// Judges what is fed and remembered alone, and not whether refusals name what is wrong.
    pub fed_only: bool,
    /// Ends it after the round in which this is set.
    pub stop: &'a AtomicBool,
    /// Told after each round.
    pub progress: &'a mut dyn FnMut(Progress),
}

/// How far a walk is.
#[derive(Clone, Copy, Debug)]
pub struct Progress {
    /// Distinct states found.
    pub states: usize,
    /// States found and not yet expanded.
    pub frontier: usize,
    /// Calls of the guard.
    pub judgements: u64,
    /// Ticks from the start.
    pub depth: usize,
}

/// How a walk ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// Nothing new can be reached.
    Closed,
    /// At the largest number of states that it was given.
    Cut,
    /// By the person who started it.
    Stopped,
    /// A property does not hold.
    Broken,
}

impl Ended {
    /// In a word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Closed => "closed",
            Self::Cut => "cut",
            Self::Stopped => "stopped",
            Self::Broken => "broken",
        }
    }
}

/// Every world reached, and how.
pub(super) struct Worlds {
    pub(super) all: Vec<Packed>,
    parents: Vec<(u32, u16)>,
    table: HashTable<u32>,
    hasher: FixedState,
}

impl Worlds {
    fn new() -> Self {
        Self {
            all: Vec::new(),
            parents: Vec::new(),
            table: HashTable::new(),
            hasher: FixedState::with_seed(0),
        }
    }

    fn hash(&self, packed: &Packed) -> u64 {
        use std::hash::BuildHasher;
        self.hasher.hash_one(packed)
    }

    pub(super) fn find(&self, packed: &Packed) -> Option<u32> {
        let same = |index: &u32| self.all[*index as usize] == *packed;
        self.table.find(self.hash(packed), same).copied()
    }

    fn insert(&mut self, packed: Packed, parent: (u32, u16)) {
        let hash = self.hash(&packed);
        let Self { all, table, .. } = self;
        if table
            .find(hash, |index| all[*index as usize] == packed)
            .is_some()
        {
            return;
        }
        let index = u32::try_from(all.len()).unwrap_or(u32::MAX);
        all.push(packed);
        self.parents.push(parent);
        let hasher = &self.hasher;
        table.insert_unique(hash, index, |index| {
            use std::hash::BuildHasher;
            hasher.hash_one(all[*index as usize])
        });
    }

    /// Indices of the events that lead to a world, from the start.
    pub(super) fn path(&self, mut index: u32) -> Vec<u16> {
        let mut path = Vec::new();
        while index != 0 {
            let (parent, event) = self.parents[index as usize];
            path.push(event);
            index = parent;
        }
        path.reverse();
        path
    }
}

/// What a walk came to.
pub(super) struct Walked {
    pub(super) worlds: Worlds,
    pub(super) ended: Ended,
    pub(super) judgements: u64,
    pub(super) depth: usize,
    pub(super) seen: Seen,
    /// The property that does not hold, and the events to it.
    pub(super) broken: Option<(Property, Vec<u16>)>,
}

/// What one thread found in a round.
#[derive(Default)]
struct Found {
    new: Vec<(Packed, u32, u16)>,
    judgements: u64,
    seen: Seen,
    broken: Option<(Property, u32, u16)>,
    unpackable: Option<&'static str>,
}

fn expand<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
    worlds: &Worlds,
    range: Range<usize>,
) -> Found {
    let mut found = Found::default();
    for index in range {
        let start = World::<N, B, H, D>::unpack(site, &worlds.all[index]);
        let index = index as u32;
        for (number, event) in (0_u16..).zip(&site.events) {
            let mut world = start;
            match world.next(site, event) {
                Err(property) => {
                    found.broken = Some((property, index, number));
                    return found;
                }
                Ok(Came::Nothing) => continue,
                Ok(Came::Cut(image)) => found.seen.cut(image),
                Ok(Came::Judged(decision)) => {
                    found.judgements += 1;
                    found
                        .seen
                        .tick(event, &start.state, &world.state, &decision);
                }
            }
            match world.pack(site) {
                Err(field) => {
                    found.unpackable = Some(field);
                    return found;
                }
                Ok(packed) if worlds.find(&packed).is_none() => {
                    found.new.push((packed, index, number));
                }
                Ok(_) => {}
            }
        }
    }
    found
}

/// Expands a range of worlds in `jobs` threads. What each found, in the order of the worlds.
fn round<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
    worlds: &Worlds,
    range: &Range<usize>,
    jobs: usize,
) -> Vec<Found> {
    let share = range.len().div_ceil(jobs.max(1));
    std::thread::scope(|scope| {
        let threads: Vec<_> = range
            .clone()
            .step_by(share)
            .map(|from| {
                let part = from..(from + share).min(range.end);
                scope.spawn(move || expand::<N, B, H, D>(site, worlds, part))
            })
            .collect();
        let joined = threads.into_iter().map(std::thread::ScopedJoinHandle::join);
        joined
            .map(|found| found.unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
            .collect()
    })
}

impl Walked {
    fn take(&mut self, found: Found) {
        self.judgements += found.judgements;
        self.seen = self.seen.with(found.seen);
        assert!(
            found.unpackable.is_none(),
            "{:?} does not fit",
            found.unpackable
        );
        if let Some((property, index, event)) = found.broken
            && self.broken.is_none()
        {
            let mut path = self.worlds.path(index);
            path.push(event);
            self.broken = Some((property, path));
        }
        for (packed, parent, event) in found.new {
            self.worlds.insert(packed, (parent, event));
        }
    }
}

/// Walks a site.
///
/// # Panics
/// If a world does not fit into its 32 bytes: then what the site says of its times is wrong.
pub(super) fn walk<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
    walking: &mut Walking<'_>,
) -> Walked {
    let mut walked = Walked {
        worlds: Worlds::new(),
        ended: Ended::Closed,
        judgements: 0,
        depth: 0,
        seen: Seen::default(),
        broken: None,
    };
    let first = World::<N, B, H, D>::new(site)
        .pack(site)
        .unwrap_or_else(|field| panic!("{field} does not fit"));
    walked.worlds.insert(first, (0, 0));
    let (mut next, mut level_end) = (0, 1);
    while next < walked.worlds.all.len() {
        let range = next..(next + ROUND).min(level_end);
        for found in round::<N, B, H, D>(site, &walked.worlds, &range, walking.jobs) {
            walked.take(found);
        }
        next = range.end;
        let states = walked.worlds.all.len();
        if next == level_end {
            level_end = states;
            walked.depth += 1;
        }
        (walking.progress)(Progress {
            states,
            frontier: states - next,
            judgements: walked.judgements,
            depth: walked.depth,
        });
        let rest = next < states;
        walked.ended = if walked.broken.is_some() {
            Ended::Broken
        } else if rest && states >= walking.states_max {
            Ended::Cut
        } else if rest && walking.stop.load(Ordering::Relaxed) {
            Ended::Stopped
        } else {
            Ended::Closed
        };
        if walked.ended != Ended::Closed {
            break;
        }
    }
    walked
}

//! The sound run that trials are compared with: what it shows and gives, and how near it comes to its bounds.
//!
//! Invariant: it is the same run as a trial's, bit for bit, up to the first moment at which a fault does something.

use super::Pool;
use super::trial::{Held, Signs, judged, totals, turn_of_another};
use crate::plant::MAX_FEEDERS;
use crate::unit::UnitStatus;

/// From one moment at which what was given is kept to the next, ms.
const POINT_MS: u64 = 10_000;

/// What each feeder has given since the origin, at moments that are evenly spread.
#[derive(Clone, Debug)]
pub(super) struct Given {
    from_ms: u64,
    /// Whole ticks.
    step_ms: u64,
    before: [f64; MAX_FEEDERS],
    /// mL, or g for a generator, of all feeders at each moment; the first is the origin.
    points: Vec<[f64; MAX_FEEDERS]>,
}

impl Given {
    fn new(pool: &Pool) -> Self {
        let tick_ms = u64::from(pool.tick_ms()).max(1);
        Self {
            from_ms: pool.clock_ms(),
            step_ms: POINT_MS.div_ceil(tick_ms) * tick_ms,
            before: totals(pool),
            points: vec![[0.0; MAX_FEEDERS]],
        }
    }

    fn look(&mut self, pool: &Pool) {
        let past_ms = pool.clock_ms().saturating_sub(self.from_ms);
        if past_ms.is_multiple_of(self.step_ms) {
            self.points.push(since(pool, &self.before));
        }
    }

    /// What each had given at this moment, mL or g. Between two moments that are kept: what it had given at the
    /// later one, so that a run is never said to have given more than itself.
    fn at(&self, clock_ms: u64) -> [f64; MAX_FEEDERS] {
        let point = clock_ms.saturating_sub(self.from_ms).div_ceil(self.step_ms);
        let last = self.points.last().copied().unwrap_or_default();
        self.points.get(point as usize).copied().unwrap_or(last)
    }
}

/// What each feeder gave since it had given `before`, mL or g.
fn since(pool: &Pool, before: &[f64; MAX_FEEDERS]) -> [f64; MAX_FEEDERS] {
    let now = totals(pool);
    core::array::from_fn(|at| now[at] - before[at])
}

/// What each feeder gave more than the sound run, mL or g: the most at any moment that was looked at.
#[derive(Clone, Debug)]
pub(super) struct More<'a> {
    than: &'a Given,
    before: [f64; MAX_FEEDERS],
    pub(super) most: [f64; MAX_FEEDERS],
}

impl<'a> More<'a> {
    /// `before`: what each feeder had given at the origin, at which the sound run began.
    pub(super) fn than(control: &'a Control, before: [f64; MAX_FEEDERS]) -> Self {
        Self {
            than: &control.given,
            before,
            most: [0.0; MAX_FEEDERS],
        }
    }

    pub(super) fn look(&mut self, pool: &Pool) {
        let sound = self.than.at(pool.clock_ms());
        let given = since(pool, &self.before).into_iter().zip(sound);
        for (most, (given, sound)) in self.most.iter_mut().zip(given) {
            *most = most.max(given - sound);
        }
    }
}

fn rooms(held: &[Held]) -> impl Iterator<Item = (&'static str, Option<f64>)> + '_ {
    held.iter().map(|one| (one.oracle, one.room()))
}

/// A sound run, with the same reset as its trials.
#[derive(Clone, Debug)]
pub(super) struct Control {
    /// All that it shows from the origin on, as it grew: from when on, ms from midnight before day 1.
    shown: Vec<(u64, Signs)>,
    given: Given,
    /// How far each oracle is from its bound, as a share of that; none where the sound run is at it or past it.
    rooms: Vec<(&'static str, Option<f64>)>,
}

impl Control {
    /// From the origin to this time, ms from midnight before day 1.
    pub(super) fn lived(mut pool: Pool, until_ms: u64) -> Self {
        let mut given = Given::new(&pool);
        let (mut shown, mut signs) = (Vec::new(), Signs::default());
        let (turn, nothing) = (turn_of_another(&pool), UnitStatus::default());
        while pool.clock_ms() < until_ms {
            pool.tick();
            given.look(&pool);
            if pool.truth().powered {
                let before = signs;
                signs.add(Signs::besides(pool.status(), &nothing, turn));
                if signs != before {
                    shown.push((pool.clock_ms(), signs));
                }
            }
        }
        given.points.push(since(&pool, &given.before));
        let (broken, held) = judged(&mut pool);
        let broken = broken.iter().map(|one| (one.oracle, None));
        Self {
            shown,
            given,
            rooms: broken.chain(rooms(&held)).collect(),
        }
    }

    /// All that it shows until this time, ms from midnight before day 1.
    pub(super) fn signs_until(&self, clock_ms: u64) -> Signs {
        let later = self.shown.partition_point(|(from, _)| *from <= clock_ms);
        let last = later.checked_sub(1).and_then(|at| self.shown.get(at));
        last.map_or(Signs::default(), |(_, signs)| *signs)
    }

    /// One that gave nothing, and showed this, with these oracles.
    #[cfg(test)]
    pub(super) fn of(shown: Vec<(u64, Signs)>, held: &[Held]) -> Self {
        Self {
            shown,
            given: Given {
                from_ms: 0,
                step_ms: POINT_MS,
                before: [0.0; MAX_FEEDERS],
                points: Vec::new(),
            },
            rooms: rooms(held).collect(),
        }
    }

    /// Of oracles that held, the one that came nearest to its bound: by the share of the way to there from the sound
    /// run's worst, or from nothing where the sound run had nothing to judge. None: each was as far as in the sound run.
    pub(super) fn nearest(&self, held: &[Held]) -> Option<Nearest> {
        let mut nearest: Option<Nearest> = None;
        for one in held {
            let sound = self.rooms.iter().find(|(name, _)| *name == one.oracle);
            let room = sound.map_or(Some(1.0), |(_, room)| *room);
            let (Some(all), Some(left)) = (room, one.left()) else {
                continue;
            };
            // A hold of several times its length is not near its bound, however long the sound run's was.
            if left > NEAR_MAX {
                continue;
            }
            let share = 1.0 - left / all;
            let nearer = nearest.as_ref().map_or(NEARER, |kept| kept.share);
            if share > nearer {
                nearest = Some(Nearest {
                    share,
                    by: one.clone(),
                });
            }
        }
        nearest
    }
}

/// What is further from its bound than the bound itself is not near it: at least twice of what has to be at least.
const NEAR_MAX: f64 = 1.0;
/// Less than this share of the way to its bound is as near as in the sound run.
const NEARER: f64 = 0.01;

/// The oracle that came nearest to its bound, and held.
#[derive(Clone, Debug, PartialEq)]
pub struct Nearest {
    /// How much of the way there from the sound run's worst, from 0 to 1.
    pub share: f64,
    /// Which, and what it saw.
    pub by: Held,
}

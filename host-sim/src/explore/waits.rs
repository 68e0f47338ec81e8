//! The longest wait, worked out over every world that a walk has found: [`super::live`] says for what.

use super::live::{Aim, WAIT_MAX, healthy};
use super::site::Site;
use super::walk::Worlds;
use super::world::{Came, World};

/// A wait that does not end, or in which a property breaks.
#[derive(Clone, Debug)]
pub(super) struct Endless {
    pub(super) aim: Aim,
    pub(super) feeder: usize,
    pub(super) world: u32,
}

/// The longest wait of each aim, in ticks, and the judgements it took to find them.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Waits {
    pub(super) longest: [usize; 2],
    pub(super) judgements: u64,
}

/// Works out all waits.
pub(super) fn waits<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
    worlds: &Worlds,
) -> Result<Waits, Endless> {
    let mut all = Waits::default();
    for (aim, longest) in Aim::ALL.into_iter().zip(all.longest.iter_mut()) {
        for feeder in 0..N {
            let mut one = Waiting {
                site,
                worlds,
                aim,
                feeder,
                known: vec![0; worlds.all.len()],
                judgements: 0,
            };
            let from = |world| Endless { aim, feeder, world };
            for world in 0..worlds.all.len() as u32 {
                let ticks = one.wait::<H, D>(world).ok_or_else(|| from(world))?;
                *longest = (*longest).max(ticks);
            }
            all.judgements += one.judgements;
        }
    }
    Ok(all)
}

struct Waiting<'a, const N: usize, const B: usize> {
    site: &'a Site<N, B>,
    worlds: &'a Worlds,
    aim: Aim,
    feeder: usize,
    /// Ticks that each world waits; 0: not known.
    known: Vec<u8>,
    judgements: u64,
}

impl<const N: usize, const B: usize> Waiting<'_, N, B> {
    /// Ticks until it happens. `None`: not within the longest wait.
    fn wait<const H: usize, const D: usize>(&mut self, first: u32) -> Option<usize> {
        let mut world = World::<N, B, H, D>::unpack(self.site, &self.worlds.all[first as usize]);
        // Worlds on the way; one that the walk has not reached has no number.
        let mut way: Vec<Option<u32>> = Vec::new();
        let mut at = Some(first);
        let rest = loop {
            if let Some(known) = at
                .map(|index| self.known[index as usize])
                .filter(|k| *k > 0)
            {
                break usize::from(known);
            }
            if way.len() >= WAIT_MAX {
                return None;
            }
            way.push(at);
            let event = healthy(self.site, &world, self.feeder, self.aim);
            self.judgements += 1;
            let came = world.next(self.site, &event).ok()?;
            if let Came::Judged(decision) = came
                && self.aim.reached(self.feeder, &decision)
            {
                break 0;
            }
            let packed = world.pack(self.site).ok()?;
            at = self.worlds.find(&packed);
        };
        let total = way.len() + rest;
        for (done, world) in way.iter().enumerate() {
            if let Some(index) = world {
                self.known[*index as usize] = u8::try_from(total - done).unwrap_or(u8::MAX);
            }
        }
        (total <= WAIT_MAX).then_some(total)
    }
}

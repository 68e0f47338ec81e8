//! Since when something stands, to the tick.
//!
//! Invariant: what was gone for one tick stands anew.

use dosewarden_sim::SimPool;
use dosewarden_sim::unit::ControlUnit;

/// Since when each of the unit's obstacles and alarms stands, ms from midnight before day 1.
pub(crate) struct Since {
    /// For each feeder what is in its way, by name.
    feeders: Vec<Vec<(&'static str, u64)>>,
    /// For each alarm that stands, by its bit.
    alarms: [Option<u64>; 64],
}

impl Since {
    pub(crate) fn new(feeders: usize) -> Self {
        Self {
            feeders: vec![Vec::new(); feeders],
            alarms: [None; 64],
        }
    }

    /// Looks at a pool after a tick.
    pub(crate) fn look<U: ControlUnit>(&mut self, pool: &SimPool<U>) {
        let from_ms = pool.clock_ms() - u64::from(pool.truth().dt_ms);
        for (feeder, standing) in self.feeders.iter_mut().enumerate() {
            let told = pool.unit().told(feeder).filter(|_| pool.powered());
            let now = told.map_or_else(Vec::new, |told| told.obstacles);
            standing.retain(|(name, _)| now.iter().any(|obstacle| obstacle.name() == *name));
            for obstacle in &now {
                let name = obstacle.name();
                if !standing.iter().any(|(known, _)| *known == name) {
                    standing.push((name, from_ms));
                }
            }
        }
        let alarms = pool.status().alarms;
        for (bit, since) in self.alarms.iter_mut().enumerate() {
            *since = (alarms >> bit & 1 == 1).then(|| since.unwrap_or(from_ms));
        }
    }

    /// Since when an obstacle stands.
    pub(crate) fn obstacle(&self, feeder: usize, name: &str) -> Option<u64> {
        let standing = self.feeders.get(feeder)?;
        let found = standing.iter().find(|(known, _)| *known == name)?;
        Some(found.1)
    }

    /// Alarms that stand, by bit, with since when.
    pub(crate) fn alarms(&self) -> impl Iterator<Item = (usize, u64)> {
        let all = self.alarms.iter().enumerate();
        all.filter_map(|(bit, since)| since.map(|since| (bit, since)))
    }
}

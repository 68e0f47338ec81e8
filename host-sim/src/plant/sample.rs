//! Water on its way from the basin to the probes: plug flow, then the lag of the sample cell.
//!
//! Invariant: while no water moves, nothing changes here.

const SLOTS: usize = 16;

/// pH and ORP of some water.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Sampled {
    pub(super) ph: f64,
    pub(super) orp_mv: f64,
}

/// The pipe to the sample cell and the cell.
#[derive(Clone, Debug)]
pub(super) struct SamplePath {
    /// Litres of flow past the pump in which one slot is renewed; 0: no delay.
    slot_l: f64,
    slots: [Sampled; SLOTS],
    head: usize,
    moved_l: f64,
    cell: Sampled,
}

impl SamplePath {
    /// Full of `water`; `delay_s` at a flow of `flow_l_min`.
    pub(super) fn new(delay_s: f64, flow_l_min: f64, water: Sampled) -> Self {
        Self {
            slot_l: delay_s * flow_l_min / 60.0 / SLOTS as f64,
            slots: [water; SLOTS],
            head: 0,
            moved_l: 0.0,
            cell: water,
        }
    }

    /// So many litres moved, of which the pipe gets its part; the cell comes nearer by `share`.
    pub(super) fn step(&mut self, water: Sampled, moved_l: f64, share: f64) -> Sampled {
        let arrives = self.pipe(water, moved_l);
        self.cell.ph += (arrives.ph - self.cell.ph) * share;
        self.cell.orp_mv += (arrives.orp_mv - self.cell.orp_mv) * share;
        self.cell
    }

    fn pipe(&mut self, water: Sampled, moved_l: f64) -> Sampled {
        if self.slot_l <= 0.0 {
            return water;
        }
        self.moved_l += moved_l;
        let mut turns = 0;
        while self.moved_l >= self.slot_l && turns < SLOTS {
            self.moved_l -= self.slot_l;
            turns += 1;
            self.slots[self.head] = water;
            self.head = (self.head + 1) % SLOTS;
        }
        if self.moved_l >= self.slot_l {
            // More than the whole pipe passed.
            self.moved_l = 0.0;
        }
        self.slots[self.head]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BEFORE: Sampled = Sampled {
        ph: 7.5,
        orp_mv: 700.0,
    };
    const AFTER: Sampled = Sampled {
        ph: 7.2,
        orp_mv: 720.0,
    };

    #[test]
    fn water_arrives_after_the_delay_and_not_while_it_stands() {
        // 16 s at 60 L/min: a slot a litre.
        let mut path = SamplePath::new(16.0, 60.0, BEFORE);
        assert_eq!(path.step(AFTER, 0.0, 1.0), BEFORE);
        for _ in 0..15 {
            assert_eq!(path.step(AFTER, 1.0, 1.0), BEFORE);
        }
        assert_eq!(path.step(AFTER, 1.0, 1.0), AFTER);
        // At half the speed it takes twice as long.
        for _ in 0..31 {
            assert_eq!(path.step(BEFORE, 0.5, 1.0), AFTER);
        }
        assert_eq!(path.step(BEFORE, 0.5, 1.0), BEFORE);
    }

    #[test]
    fn a_long_step_brings_all_and_the_cell_lags() {
        let mut path = SamplePath::new(16.0, 60.0, BEFORE);
        let half = path.step(AFTER, 1000.0, 0.5);
        assert!((half.ph - 7.35).abs() < 1e-12 && (half.orp_mv - 710.0).abs() < 1e-9);
        let mut none = SamplePath::new(0.0, 60.0, BEFORE);
        assert_eq!(none.step(AFTER, 0.01, 1.0), AFTER);
    }
}

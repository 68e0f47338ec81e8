//! The valves that select a body of water, and the switches that say how they stand.
//!
//! Invariant: the water goes to one body at a time. While the valves travel it goes where it went until half of the
//! way, and the position switches show nothing.

use super::fault::PlantFault;

/// Valves between two or more bodies of water.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ValvesSpec {
    /// Time from one end to the other, s, 0 to 600.
    pub travel_s: f64,
    /// Switches that show the position are fitted.
    pub position: bool,
    /// Body that they select at the start.
    pub first: usize,
}

/// State of the valves.
#[derive(Clone, Debug)]
pub(super) struct Valves {
    spec: Option<ValvesSpec>,
    from: usize,
    to: usize,
    /// What is left of the travel, ms.
    left_ms: u32,
    stuck: bool,
    /// What stuck switches show.
    shows: Option<Option<usize>>,
}

impl Valves {
    pub(super) fn new(spec: Option<ValvesSpec>) -> Self {
        let first = spec.map_or(0, |spec| spec.first);
        Self {
            spec,
            from: first,
            to: first,
            left_ms: 0,
            stuck: false,
            shows: None,
        }
    }

    fn travel_ms(&self) -> u32 {
        self.spec
            .map_or(0, |spec| (spec.travel_s * 1000.0).round() as u32)
    }

    /// Somebody turns them. On their way back they have as far to go as they have come.
    pub(super) fn turn(&mut self, to: usize) {
        if to == self.to {
            return;
        }
        let done_ms = self.travel_ms() - self.left_ms;
        let is_back = self.left_ms > 0 && to == self.from;
        self.left_ms = if is_back { done_ms } else { self.travel_ms() };
        self.from = self.to;
        self.to = to;
    }

    /// They stand there at once.
    pub(super) fn put(&mut self, body: usize) {
        (self.from, self.to, self.left_ms) = (body, body, 0);
    }

    pub(super) fn step(&mut self, dt_ms: u32) {
        if !self.stuck {
            self.left_ms = self.left_ms.saturating_sub(dt_ms);
        }
    }

    /// Where the water goes.
    pub(super) fn body(&self) -> usize {
        if self.left_ms > self.travel_ms() / 2 {
            self.from
        } else {
            self.to
        }
    }

    fn position(&self) -> Option<usize> {
        (self.left_ms == 0).then_some(self.to)
    }

    /// What the controller sees; without valves there is one answer.
    pub(super) fn seen(&self) -> Option<usize> {
        match self.spec {
            Some(spec) if !spec.position => None,
            Some(_) => self.shows.unwrap_or(self.position()),
            None => Some(self.to),
        }
    }

    pub(super) fn set_faults(&mut self, active: &[PlantFault]) {
        self.stuck = active.contains(&PlantFault::ValvesStuck);
        let is_lying = active.contains(&PlantFault::PositionStuck);
        self.shows = is_lying.then(|| self.shows.unwrap_or(self.position()));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn valves() -> Valves {
        Valves::new(Some(ValvesSpec {
            travel_s: 20.0,
            position: true,
            first: 0,
        }))
    }

    #[test]
    fn the_water_changes_halfway_and_nothing_shows_until_they_stand() {
        let mut own = valves();
        assert_eq!((own.body(), own.seen()), (0, Some(0)));
        own.turn(1);
        assert_eq!((own.body(), own.seen()), (0, None));
        own.step(9_999);
        assert_eq!((own.body(), own.seen()), (0, None));
        own.step(1);
        assert_eq!((own.body(), own.seen()), (1, None));
        own.step(10_000);
        assert_eq!((own.body(), own.seen()), (1, Some(1)));
    }

    #[test]
    fn turned_back_on_the_way_they_have_as_far_to_go_as_they_have_come() {
        let mut own = valves();
        own.turn(1);
        own.step(5_000);
        own.turn(0);
        assert_eq!((own.body(), own.seen()), (0, None));
        own.step(4_999);
        assert_eq!(own.seen(), None);
        own.step(1);
        assert_eq!((own.body(), own.seen()), (0, Some(0)));
    }

    #[test]
    fn stuck_valves_stay_and_stuck_switches_lie() {
        let mut own = valves();
        own.set_faults(&[PlantFault::ValvesStuck]);
        own.turn(1);
        own.step(60_000);
        assert_eq!((own.body(), own.seen()), (0, None));
        own.set_faults(&[PlantFault::PositionStuck]);
        own.step(60_000);
        assert_eq!((own.body(), own.seen()), (1, None), "as when they stuck");
        own.set_faults(&[]);
        assert_eq!(own.seen(), Some(1));
        own.set_faults(&[PlantFault::PositionStuck]);
        own.turn(0);
        own.step(60_000);
        assert_eq!((own.body(), own.seen()), (0, Some(1)));
    }

    #[test]
    fn without_switches_nothing_shows() {
        let mut own = valves();
        own.spec = own.spec.map(|spec| ValvesSpec {
            position: false,
            ..spec
        });
        assert_eq!(own.seen(), None);
        assert_eq!(Valves::new(None).seen(), Some(0));
    }
}

//! Which feeders feed by hand, as the water sees it.

use crate::oracle::Seen;
use crate::plant::MAX_FEEDERS;

/// Time since each feeder's button was let go. What a tick and a drive stop bring after that is the hand's.
#[derive(Clone, Debug)]
pub(in crate::oracle) struct ByHand {
    let_go_ms: [u64; MAX_FEEDERS],
}

impl Default for ByHand {
    fn default() -> Self {
        Self {
            let_go_ms: [u64::MAX; MAX_FEEDERS],
        }
    }
}

impl ByHand {
    /// Takes in a step; says of each feeder whether what it gave in it was fed by hand.
    pub(in crate::oracle) fn step(&mut self, seen: &Seen<'_>) -> [bool; MAX_FEEDERS] {
        let (dt_ms, excused_ms) = (seen.dt_ms(), seen.site.tick_and_stop_ms());
        let mut by_hand = [false; MAX_FEEDERS];
        let each = self.let_go_ms.iter_mut().zip(seen.told.held);
        for (by_hand, (let_go_ms, held)) in by_hand.iter_mut().zip(each) {
            *by_hand = held || *let_go_ms < excused_ms;
            *let_go_ms = if held {
                0
            } else {
                let_go_ms.saturating_add(dt_ms)
            };
        }
        by_hand
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::Oracle;
    use super::super::super::support::testkit::Bench;
    use super::super::verdict::Statements;
    use super::*;

    /// Counts the steps in which the second feeder fed by hand.
    #[derive(Clone, Default)]
    struct Counted(ByHand, u32);

    impl Oracle for Counted {
        fn name(&self) -> &'static str {
            "counted"
        }

        fn hazard(&self) -> &'static [&'static str] {
            &[]
        }

        fn observe(&mut self, seen: &Seen<'_>) {
            self.1 += u32::from(self.0.step(seen)[1]);
        }

        fn statements(&self) -> Statements<'_> {
            Statements::of([], "")
        }
    }

    #[test]
    fn a_tick_and_a_stop_after_the_button_is_let_go_and_no_longer() {
        let (mut bench, mut counted) = (Bench::new(), Counted::default());
        bench.pass(&mut counted, 10);
        assert_eq!(counted.1, 0);
        bench.told.held[1] = true;
        bench.pass(&mut counted, 5);
        bench.told.held[1] = false;
        // 2 s of tick and 50 ms of drive: the third second begins within them.
        bench.pass(&mut counted, 30);
        assert_eq!(counted.1, 5 + 3);
    }
}

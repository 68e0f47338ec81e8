//! Stretches of time, bounded in number: when there are too many, near ones are joined.

/// Most stretches that are kept.
const SPANS_MAX: usize = 1_000;

/// Stretches of time in order, ms.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Spans {
    all: Vec<(u64, u64)>,
    /// Pauses up to this long are not kept.
    gap_ms: u64,
}

impl Spans {
    /// Adds a stretch that does not begin before the last one did.
    #[inline]
    pub fn add(&mut self, from_ms: u64, to_ms: u64) {
        match self.all.last_mut() {
            Some(last) if from_ms <= last.1.saturating_add(self.gap_ms) => {
                last.1 = last.1.max(to_ms);
            }
            _ => {
                self.all.push((from_ms, to_ms));
                if self.all.len() > SPANS_MAX {
                    self.join();
                }
            }
        }
    }

    /// Joins over the shorter pauses until half are left.
    fn join(&mut self) {
        while self.all.len() > SPANS_MAX / 2 {
            self.gap_ms = (self.gap_ms * 2).max(1_000);
            let mut joined: Vec<(u64, u64)> = Vec::new();
            for (from, to) in self.all.drain(..) {
                match joined.last_mut() {
                    Some(last) if from <= last.1.saturating_add(self.gap_ms) => last.1 = to,
                    _ => joined.push((from, to)),
                }
            }
            self.all = joined;
        }
    }

    /// All stretches.
    #[must_use]
    pub fn all(&self) -> &[(u64, u64)] {
        &self.all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_touches_is_one() {
        let mut spans = Spans::default();
        spans.add(0, 10);
        spans.add(10, 20);
        spans.add(30, 40);
        assert_eq!(spans.all(), [(0, 20), (30, 40)]);
    }

    #[test]
    fn never_too_many() {
        let mut spans = Spans::default();
        for second in 0..100_000_u64 {
            spans.add(second * 2_000, second * 2_000 + 500);
        }
        assert!(spans.all().len() <= SPANS_MAX, "{}", spans.all().len());
        assert_eq!(spans.all().first().map(|s| s.0), Some(0));
        assert_eq!(spans.all().last().map(|s| s.1), Some(199_998_500));
    }
}

//! What an oracle finds, and how it keeps the worst of it.

/// What an oracle found.
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// Never past its bound.
    Held {
        /// The value that came nearest to its bound.
        worst: f64,
        /// That bound.
        bound: f64,
        /// Unit of both.
        unit: &'static str,
    },
    /// Past its bound at least once.
    Broken {
        /// When it was first broken, ms since the start.
        first_at_ms: u64,
        /// The value furthest past its bound in the whole run.
        worst: f64,
        /// That bound.
        bound: f64,
        /// Unit of both.
        unit: &'static str,
        /// What went wrong, in words.
        words: String,
    },
    /// Nothing here to judge.
    NotApplicable {
        /// Why.
        why: &'static str,
    },
}

impl Verdict {
    /// Whether it is [`Verdict::Broken`].
    #[must_use]
    pub fn is_broken(&self) -> bool {
        matches!(self, Self::Broken { .. })
    }
}

/// Rounding in the plant's sums is far smaller than this share of a bound.
const ROUNDING: f64 = 1e-9;

#[derive(Clone, Copy, Debug)]
struct Worst {
    value: f64,
    bound: f64,
    past: f64,
    badness: f64,
    unit: &'static str,
    who: &'static str,
}

/// Keeps the worst of one kind of value against its bound. A value at its bound is not past it.
#[derive(Clone, Debug, Default)]
pub(in crate::oracle) struct Track {
    worst: Option<Worst>,
    first_broken: Option<u64>,
}

impl Track {
    /// A value that must not be above its bound. `who` is what it belongs to.
    #[inline]
    pub(in crate::oracle) fn at_most(
        &mut self,
        at_ms: u64,
        (value, bound): (f64, f64),
        unit: &'static str,
        who: &'static str,
    ) {
        let past = value - bound;
        if !self.is_no_worse(bound, past) {
            self.see(at_ms, (value, bound, past), unit, who);
        }
    }

    /// A value that must not be below its bound.
    #[inline]
    pub(in crate::oracle) fn at_least(
        &mut self,
        at_ms: u64,
        (value, bound): (f64, f64),
        unit: &'static str,
        who: &'static str,
    ) {
        let past = bound - value;
        if !self.is_no_worse(bound, past) {
            self.see(at_ms, (value, bound, past), unit, who);
        }
    }

    /// Most values are not past the worst of the same bound, and are done with before a name is looked up.
    #[inline]
    fn is_no_worse(&self, bound: f64, past: f64) -> bool {
        self.worst
            .is_some_and(|w| past <= w.past && bound == w.bound)
    }

    #[cold]
    fn see(
        &mut self,
        at_ms: u64,
        (value, bound, past): (f64, f64, f64),
        unit: &'static str,
        who: &'static str,
    ) {
        // By share of the bound, so that feeders with different caps compare.
        let scale = bound.abs();
        let badness = if scale > 0.0 { past / scale } else { past };
        if badness > ROUNDING || badness.is_nan() {
            self.first_broken.get_or_insert(at_ms);
        }
        if self.worst.is_none_or(|w| badness > w.badness) {
            self.worst = Some(Worst {
                value,
                bound,
                past,
                badness,
                unit,
                who,
            });
        }
    }

    /// Whether it has seen any value: nothing is then no worse a second time.
    #[inline]
    pub(in crate::oracle) fn has_seen_any(&self) -> bool {
        self.worst.is_some()
    }

    /// When it was first broken.
    pub(in crate::oracle) fn first_broken(&self) -> Option<u64> {
        self.first_broken
    }

    /// The verdict; `what` says in words what is wrong with `who`, `idle` why nothing was judged.
    pub(in crate::oracle) fn verdict(&self, what: &str, idle: &'static str) -> Verdict {
        let Some(w) = self.worst else {
            return Verdict::NotApplicable { why: idle };
        };
        match self.first_broken {
            None => Verdict::Held {
                worst: w.value,
                bound: w.bound,
                unit: w.unit,
            },
            Some(first_at_ms) => Verdict::Broken {
                first_at_ms,
                worst: w.value,
                bound: w.bound,
                unit: w.unit,
                words: format!("{}: {what}", w.who),
            },
        }
    }
}

/// The one that was broken first; none broken, the first of the two that judged anything.
pub(in crate::oracle) fn graver(
    a: (&Track, &str),
    b: (&Track, &str),
    idle: &'static str,
) -> Verdict {
    let b_first = match (a.0.first_broken(), b.0.first_broken()) {
        (Some(x), Some(y)) => y < x,
        (None, Some(_)) => true,
        (Some(_), None) => false,
        (None, None) => a.0.worst.is_none(),
    };
    let (track, what) = if b_first { b } else { a };
    track.verdict(what, idle)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn at_the_bound_is_not_past_it() {
        let mut track = Track::default();
        assert_eq!(
            track.verdict("", "idle"),
            Verdict::NotApplicable { why: "idle" }
        );
        track.at_most(1, (10.0, 10.0), "uL", "acid");
        assert!(!track.verdict("", "").is_broken());
        track.at_most(2, (10.001, 10.0), "uL", "acid");
        track.at_most(3, (30.0, 10.0), "uL", "acid");
        track.at_most(4, (5.0, 10.0), "uL", "acid");
        assert_eq!(
            track.verdict("too much", ""),
            Verdict::Broken {
                first_at_ms: 2,
                worst: 30.0,
                bound: 10.0,
                unit: "uL",
                words: "acid: too much".into(),
            }
        );
    }

    #[test]
    fn a_bound_of_nothing_and_not_a_number() {
        let mut track = Track::default();
        track.at_most(1, (0.0, 0.0), "g", "line");
        assert!(track.first_broken().is_none());
        track.at_most(2, (1e-6, 0.0), "g", "line");
        assert_eq!(track.first_broken(), Some(2));
        let mut track = Track::default();
        track.at_least(7, (f64::NAN, 6.5), "pH", "pool");
        assert_eq!(track.first_broken(), Some(7));
    }
}

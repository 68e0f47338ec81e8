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

/// The most that a statement is about: products, waters, probes.
const WHO_MAX: usize = 4;

/// What a statement found of one thing that it is about.
#[derive(Clone, Copy, Debug)]
struct Worst {
    value: f64,
    bound: f64,
    past: f64,
    badness: f64,
    unit: &'static str,
    who: &'static str,
    first_broken: Option<u64>,
}

impl Worst {
    fn verdict(&self, what: &str) -> Verdict {
        match self.first_broken {
            None => Verdict::Held {
                worst: self.value,
                bound: self.bound,
                unit: self.unit,
            },
            Some(first_at_ms) => Verdict::Broken {
                first_at_ms,
                worst: self.value,
                bound: self.bound,
                unit: self.unit,
                words: format!("{}: {what}", self.who),
            },
        }
    }
}

/// Keeps the worst of one statement's values against their bound, of each thing that it is about by itself: what one product
/// may be excused hides nothing of another. A value at its bound is not past it.
#[derive(Clone, Debug, Default)]
pub(in crate::oracle) struct Track {
    /// In the order in which they were first seen.
    worst: [Option<Worst>; WHO_MAX],
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
        if !self.is_no_worse(bound, past, who) {
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
        if !self.is_no_worse(bound, past, who) {
            self.see(at_ms, (value, bound, past), unit, who);
        }
    }

    /// Most values are not past the worst of the same bound.
    #[inline]
    fn is_no_worse(&self, bound: f64, past: f64, who: &'static str) -> bool {
        let mut seen = self.seen();
        // Names are constants: nearly always the same one in the same place. Where it is not, the long way looks at its letters.
        seen.any(|w| core::ptr::eq(w.who, who) && past <= w.past && bound == w.bound)
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
        let new = Worst {
            value,
            bound,
            past,
            badness,
            unit,
            who,
            first_broken: None,
        };
        let is_free = |w: &Option<Worst>| w.is_none_or(|w| w.who == who);
        let Some(at) = self.worst.iter().position(is_free) else {
            unreachable!("a statement is about {WHO_MAX} things at most, and not about {who} too");
        };
        let kept = self.worst[at].get_or_insert(new);
        let first = kept.first_broken;
        // What is no number is past any bound.
        if badness > kept.badness || badness.is_nan() {
            *kept = new;
        }
        let is_past = badness > ROUNDING || badness.is_nan();
        kept.first_broken = first.or_else(|| is_past.then_some(at_ms));
    }

    fn seen(&self) -> impl Iterator<Item = &Worst> {
        self.worst.iter().flatten()
    }

    /// Whether it has seen any value: nothing is then no worse a second time.
    #[inline]
    pub(in crate::oracle) fn has_seen_any(&self) -> bool {
        self.worst[0].is_some()
    }

    /// When it was first broken.
    pub(in crate::oracle) fn first_broken(&self) -> Option<u64> {
        self.seen().filter_map(|w| w.first_broken).min()
    }

    /// Of all that it is about together: the worst value, the first time. `what` says in words what is wrong.
    fn verdict(&self, what: &str) -> Option<Verdict> {
        // Of equal ones the first that was seen.
        let worse = |a: Worst, b: &Worst| if b.badness > a.badness { *b } else { a };
        let worst = self.seen().copied().reduce(|a, b| worse(a, &b))?;
        let whole = Worst {
            first_broken: self.first_broken(),
            ..worst
        };
        Some(whole.verdict(what))
    }
}

/// What an oracle judges, and what it found so far.
pub struct Statements<'a> {
    all: Vec<(&'a Track, &'static str)>,
    idle: &'static str,
}

impl<'a> Statements<'a> {
    /// `what` says of each in words what is wrong where it is broken; `idle` why nothing was judged.
    pub(in crate::oracle) fn of<const N: usize>(
        all: [(&'a Track, &'static str); N],
        idle: &'static str,
    ) -> Self {
        Self {
            all: all.into(),
            idle,
        }
    }

    /// Of the one that was broken first; none broken, of the first that judged anything.
    pub(in crate::oracle) fn first(&self) -> Verdict {
        let judged = self.all.iter().filter(|(track, _)| track.has_seen_any());
        let first = judged.min_by_key(|(track, _)| track.first_broken().unwrap_or(u64::MAX));
        first
            .and_then(|(track, what)| track.verdict(what))
            .unwrap_or(Verdict::NotApplicable { why: self.idle })
    }

    /// Of each, and of each thing that it is about.
    pub(in crate::oracle) fn each(&self) -> Vec<Verdict> {
        let of_one = |(track, what): &(&'a Track, &'static str)| {
            let all = track.seen().map(|worst| worst.verdict(what));
            all.collect::<Vec<_>>()
        };
        self.all.iter().flat_map(of_one).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(track: &Track) -> Verdict {
        Statements::of([(track, "too much")], "idle").first()
    }

    #[test]
    fn at_the_bound_is_not_past_it() {
        let mut track = Track::default();
        assert_eq!(found(&track), Verdict::NotApplicable { why: "idle" });
        track.at_most(1, (10.0, 10.0), "uL", "acid");
        assert!(!found(&track).is_broken());
        track.at_most(2, (10.001, 10.0), "uL", "acid");
        track.at_most(3, (30.0, 10.0), "uL", "acid");
        track.at_most(4, (5.0, 10.0), "uL", "acid");
        assert_eq!(found(&track), broken(2, 30.0, 10.0, "acid: too much"));
    }

    fn broken(first_at_ms: u64, worst: f64, bound: f64, words: &str) -> Verdict {
        Verdict::Broken {
            first_at_ms,
            worst,
            bound,
            unit: "uL",
            words: words.to_owned(),
        }
    }

    /// Acid is further past its own bound; in another statement it was past sooner.
    #[test]
    fn each_statement_and_each_product_is_told_though_another_is_worse_or_was_sooner() {
        let (mut long, mut late) = (Track::default(), Track::default());
        long.at_most(5, (90.0, 10.0), "uL", "acid");
        long.at_most(6, (11.0, 10.0), "uL", "chlorine");
        long.at_most(7, (12.0, 10.0), "uL", "chlorine");
        late.at_most(2, (21.0, 20.0), "uL", "acid");
        late.at_most(9, (20.0, 20.0), "uL", "chlorine");
        for order in [[0, 1], [1, 0]] {
            let all = [(&long, "too much"), (&late, "too late")];
            let statements = Statements::of(order.map(|at| all[at]), "idle");
            assert_eq!(statements.first(), broken(2, 21.0, 20.0, "acid: too late"));
            let each = statements.each();
            for one in [
                broken(5, 90.0, 10.0, "acid: too much"),
                broken(6, 12.0, 10.0, "chlorine: too much"),
                broken(2, 21.0, 20.0, "acid: too late"),
            ] {
                assert!(each.contains(&one), "{each:?}");
            }
            assert_eq!(each.len(), 4);
        }
        // Of one statement the worst of all, from the first time that any was past.
        assert_eq!(found(&long), broken(5, 90.0, 10.0, "acid: too much"));
    }

    #[test]
    fn none_broken_the_first_that_judged_anything_is_told() {
        let (idle, mut judged) = (Track::default(), Track::default());
        judged.at_least(1, (8.0, 7.0), "pH", "water");
        let both = [(&idle, "a"), (&judged, "b")];
        let held = Verdict::Held {
            worst: 8.0,
            bound: 7.0,
            unit: "pH",
        };
        assert_eq!(Statements::of(both, "idle").first(), held);
    }

    #[test]
    #[should_panic(expected = "4 things at most")]
    fn a_fifth_thing_is_not_left_out() {
        let mut track = Track::default();
        for who in ["a", "b", "c", "d", "e"] {
            track.at_most(1, (1.0, 2.0), "uL", who);
        }
    }

    #[test]
    fn a_bound_of_nothing_and_not_a_number() {
        let mut track = Track::default();
        track.at_most(1, (0.0, 0.0), "g", "line");
        assert!(track.first_broken().is_none());
        track.at_most(2, (1e-6, 0.0), "g", "line");
        assert_eq!(track.first_broken(), Some(2));
        let mut track = Track::default();
        track.at_least(3, (7.0, 6.5), "pH", "pool");
        track.at_least(7, (f64::NAN, 6.5), "pH", "pool");
        assert!(matches!(found(&track), Verdict::Broken { worst, .. } if worst.is_nan()));
        assert_eq!(track.first_broken(), Some(7));
    }
}

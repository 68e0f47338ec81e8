//! What would explain the remainder: each suspect by itself, against how well everything is known.

use serde::Serialize;

use super::trials::{Trial, trials};
use super::way::{End, Source, Way};
use crate::water::WaterError;

/// A remainder of three figures that is no larger than this, in squared standard deviations, is nothing to explain: 95 % of
/// those that mere errors make are smaller (the chi-squared distribution with 3 degrees of freedom).
pub(super) const NOTHING: f64 = 7.81;
/// What is left once one suspect has taken its part: the same with 2.
const FITS: f64 = 5.99;

/// A suspect that would explain the remainder by itself.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Suspect {
    /// Its name, which stays.
    pub name: &'static str,
    /// What it would have to be.
    pub words: String,
    /// What then is left, in squared standard deviations.
    pub left: f64,
}

type Matrix = [[f64; 3]; 3];

fn minus(a: &End, b: &End) -> End {
    core::array::from_fn(|at| a[at] - b[at])
}

fn inverse(m: &Matrix) -> Matrix {
    let cofactor = |i: usize, j: usize| {
        let (a, b, c, d) = ((i + 1) % 3, (i + 2) % 3, (j + 1) % 3, (j + 2) % 3);
        m[a][c] * m[b][d] - m[a][d] * m[b][c]
    };
    let whole: f64 = (0..3).map(|j| m[0][j] * cofactor(0, j)).sum();
    core::array::from_fn(|i| core::array::from_fn(|j| cofactor(j, i) / whole))
}

fn product(a: &End, m: &Matrix, b: &End) -> f64 {
    (0..3)
        .map(|i| (0..3).map(|j| a[i] * m[i][j] * b[j]).sum::<f64>())
        .sum()
}

/// How well the end is known: what each uncertain figure moves it by, and the errors of the tests at the end.
pub(super) fn covariance(way: &Way, uncertain: &[Way], tests: &End) -> Result<Matrix, WaterError> {
    let middle = way.end(&Source::ALL)?;
    let mut sum: Matrix = core::array::from_fn(|i| {
        core::array::from_fn(|j| if i == j { tests[i] * tests[i] } else { 0.0 })
    });
    for one in uncertain {
        let moved = minus(&one.end(&Source::ALL)?, &middle);
        for i in 0..3 {
            for j in 0..3 {
                sum[i][j] += moved[i] * moved[j];
            }
        }
    }
    Ok(sum)
}

/// What is known of the feeders.
pub(super) struct Feeders {
    /// How much acid beside its booking the drum leaves open, mol/L of the water, a standard deviation; `None`: the drum
    /// was not read, and a pump or a siphon may have given anything.
    pub(super) acid_open: Option<f64>,
    /// mol/L of the water that a litre of the site's acid brings.
    pub(super) acid_per_l: f64,
}

/// Suspects that fit, the best first; empty where there is nothing to explain.
pub(super) fn suspects(
    way: &Way,
    found: &End,
    known: &Matrix,
    feeders: &Feeders,
    tests: &End,
) -> Result<(f64, Vec<Suspect>), WaterError> {
    let middle = way.end(&Source::ALL)?;
    let rest = minus(found, &middle);
    let weight = inverse(known);
    let all = product(&rest, &weight, &rest);
    if all <= NOTHING {
        return Ok((all, Vec::new()));
    }
    let mut fit = Vec::new();
    for trial in trials(way, feeders) {
        if let Some(one) = trial.fit(&middle, &rest, &weight)? {
            fit.push(one);
        }
    }
    fit.extend(slips(&rest, &weight, tests));
    fit.sort_by(|a, b| a.left.total_cmp(&b.left));
    Ok((all, fit))
}

impl Trial<'_> {
    /// The amount that fits best, twice: the second time along the direction at the first amount.
    fn fit(
        &self,
        middle: &End,
        rest: &End,
        weight: &Matrix,
    ) -> Result<Option<Suspect>, WaterError> {
        let (low, high) = self.range;
        let mut amount = if high > 0.0 { 0.2 * high } else { 0.2 * low };
        for _ in 0..2 {
            let moved = minus(&(self.with)(amount).end(&Source::ALL)?, middle);
            let size = product(&moved, weight, &moved);
            if size <= 0.0 {
                return Ok(None);
            }
            amount = (amount * product(&moved, weight, rest) / size).clamp(low, high);
        }
        let moved = minus(&(self.with)(amount).end(&Source::ALL)?, middle);
        let left = minus(rest, &moved);
        let left = product(&left, weight, &left);
        let words = (self.words)(amount);
        Ok((left <= FITS).then_some(Suspect {
            name: self.name,
            words,
            left,
        }))
    }
}

/// A slip in one test at the end explains all of its own figure.
fn slips(rest: &End, weight: &Matrix, tests: &End) -> Vec<Suspect> {
    let names = [
        ("ph_test_slip", "pH", ""),
        ("alkalinity_test_slip", "alkalinity", " mg/L"),
        ("chlorine_test_slip", "free chlorine", " mg/L"),
    ];
    let one = |at: usize| {
        let unit: End = core::array::from_fn(|other| if other == at { 1.0 } else { 0.0 });
        let amount = product(&unit, weight, rest) / product(&unit, weight, &unit);
        let left: End = core::array::from_fn(|other| rest[other] - amount * unit[other]);
        let left = product(&left, weight, &left);
        let (name, what, mg_l) = names[at];
        // A slip is a drop counted twice, not the whole bottle.
        let is_slip = amount.abs() <= 4.0 * tests[at];
        let words = format!("a slip of {amount:+.1}{mg_l} in the second test of {what}");
        (left <= FITS && is_slip).then_some(Suspect { name, words, left })
    };
    (0..3).filter_map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inverse_gives_one_with_its_matrix() {
        let m = [[4.0, 1.0, 0.5], [1.0, 3.0, -0.2], [0.5, -0.2, 2.0]];
        let n = inverse(&m);
        for (i, row) in m.iter().enumerate() {
            let times = |j: usize| row.iter().zip(&n).map(|(a, b)| a * b[j]).sum::<f64>();
            for j in 0..3 {
                let one = if i == j { 1.0 } else { 0.0 };
                assert!((times(j) - one).abs() < 1e-12, "{i} {j}");
            }
        }
    }
}

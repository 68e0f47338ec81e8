//! Feeds and the gaps between them, by product and body, as the water sees them.

use crate::plant::{Product, Truth};

/// How long and how a product has not been fed.
#[derive(Clone, Copy, Debug, Default)]
pub(in crate::oracle) struct Gap {
    /// Time since the last drop, ms.
    pub(in crate::oracle) ms: u64,
    /// Flowing time since the last drop, ms.
    pub(in crate::oracle) flowing_ms: u64,
    /// The controller was without supply at some time since.
    pub(in crate::oracle) cut: bool,
    /// A fault of the plant stood at some time since.
    pub(in crate::oracle) faulted: bool,
}

/// What one product did to one body in one step.
#[derive(Clone, Copy, Debug)]
pub(in crate::oracle) struct Feed {
    pub(in crate::oracle) product: Product,
    /// Index of the pair of product and body, stable over a run.
    pub(in crate::oracle) pair: usize,
    /// Amount, by all feeders of the product.
    pub(in crate::oracle) amount: f64,
    /// Drive-on time, by all feeders of the product, ms.
    pub(in crate::oracle) drive_on_ms: u64,
    /// The gap that this feed ends; `None` when it is the first.
    pub(in crate::oracle) after: Option<Gap>,
}

#[derive(Clone, Debug)]
struct Pair {
    product: Product,
    body: usize,
    gap: Option<Gap>,
}

impl Pair {
    /// Lets its gap grow by a step.
    fn age(&mut self, truth: &Truth) {
        let Some(gap) = &mut self.gap else {
            return;
        };
        let dt_ms = u64::from(truth.dt_ms);
        gap.ms += dt_ms;
        gap.cut |= !truth.powered;
        gap.faulted |= truth.faulty;
        // A body's hold runs while water flows through that body. Where a fault stood, a running
        // pump counts as flow: with a switch that sticks, nobody can tell the seconds in which the
        // pump spins up from flow.
        let moving = truth.water_moving || (gap.faulted && truth.pump_running);
        if moving && self.body == truth.body {
            gap.flowing_ms += dt_ms;
        }
    }
}

/// Keeps the gaps.
#[derive(Clone, Debug, Default)]
pub(in crate::oracle) struct Feeds {
    pairs: Vec<Pair>,
    /// Of the last step, kept so that no step has to ask for room.
    fed: Vec<Feed>,
}

impl Feeds {
    /// Takes in a step; gives what each product did that was fed in it.
    pub(in crate::oracle) fn step(&mut self, truth: &Truth) -> &[Feed] {
        self.fed.clear();
        if !truth.feeders.iter().any(|f| f.fed > 0.0) {
            // Most steps: all gaps grow. A pair that was never fed has none.
            for pair in &mut self.pairs {
                pair.age(truth);
            }
            return &self.fed;
        }
        for (i, feeder) in truth.feeders.iter().enumerate() {
            let product = feeder.product;
            if truth.feeders[..i].iter().any(|f| f.product == product) {
                continue;
            }
            let same = truth.feeders.iter().filter(|f| f.product == product);
            let amount: f64 = same.clone().map(|f| f.fed).sum();
            let drive_on_ms = same.map(|f| u64::from(f.drive_on_ms)).sum();
            let pair = self.pair(product, truth.body);
            if amount > 0.0 {
                self.fed.push(Feed {
                    product,
                    pair,
                    amount,
                    drive_on_ms,
                    after: self.pairs[pair].gap,
                });
                self.pairs[pair].gap = Some(Gap {
                    cut: !truth.powered,
                    ..Gap::default()
                });
                self.age(truth, Some(pair), product);
            } else {
                self.age(truth, None, product);
            }
        }
        &self.fed
    }

    /// Lets the gaps of a product grow, except that of the pair that was fed.
    fn age(&mut self, truth: &Truth, fed: Option<usize>, product: Product) {
        for (i, pair) in self.pairs.iter_mut().enumerate() {
            if fed == Some(i) || pair.product != product {
                continue;
            }
            pair.age(truth);
        }
    }

    fn pair(&mut self, product: Product, body: usize) -> usize {
        let found = self
            .pairs
            .iter()
            .position(|p| p.product == product && p.body == body);
        found.unwrap_or_else(|| {
            self.pairs.push(Pair {
                product,
                body,
                gap: None,
            });
            self.pairs.len() - 1
        })
    }
}

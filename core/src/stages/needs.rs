//! What is missing for a stage.

use crate::proof::InterlockSet;

/// What is missing for a stage; all of it is named at once. 16 bytes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct StageNeeds {
    /// The reduced stage has to come first.
    pub reduced_first: bool,
    /// Hours that count, more than there were.
    pub hours: u16,
    /// Feeders without a catch test on record, as bits.
    pub catch_tests: u8,
    /// Nobody says which proof tests have passed.
    pub proofs_unknown: bool,
    /// Interlocks whose proof test is due or failed.
    pub proofs: InterlockSet,
    /// A kit's test of pH that agrees with the probe, in this stage.
    pub kit_test: bool,
    /// Feeders whose answer by the water is wrong or missing, as bits.
    pub response: u8,
}

impl StageNeeds {
    /// Nothing.
    pub const NOTHING: Self = Self {
        reduced_first: false,
        hours: 0,
        catch_tests: 0,
        proofs_unknown: false,
        proofs: InterlockSet::NONE,
        kit_test: false,
        response: 0,
    };

    /// Whether nothing is missing.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        *self == Self::NOTHING
    }
}

fn feeders(bits: u8) -> impl Iterator<Item = u8> {
    (0..8).filter(move |feeder| bits >> feeder & 1 == 1)
}

impl core::fmt::Display for StageNeeds {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("missing for this stage:")?;
        let mut one = |what: core::fmt::Arguments<'_>, first: &mut bool| {
            let comma = if *first { " " } else { ", " };
            *first = false;
            f.write_str(comma)?;
            f.write_fmt(what)
        };
        let first = &mut true;
        if self.reduced_first {
            one(format_args!("the reduced stage"), first)?;
        }
        if self.hours > 0 {
            let hours = self.hours;
            one(
                format_args!("{hours} more hours of sound flow and probes"),
                first,
            )?;
        }
        for feeder in feeders(self.catch_tests) {
            one(format_args!("a catch test of feeder {feeder}"), first)?;
        }
        if self.proofs_unknown {
            one(
                format_args!("proof tests, of which nothing is known"),
                first,
            )?;
        }
        for interlock in self.proofs.iter() {
            match interlock.feeder() {
                None => one(
                    format_args!("a proof test of the {}", interlock.name()),
                    first,
                )?,
                Some(feeder) => one(
                    format_args!(
                        "a proof test of the {} of feeder {feeder}",
                        interlock.name()
                    ),
                    first,
                )?,
            }
        }
        if self.kit_test {
            one(format_args!("a kit's test of pH that agrees"), first)?;
        }
        for feeder in feeders(self.response) {
            one(format_args!("a sound answer to feeder {feeder}"), first)?;
        }
        if *first {
            f.write_str(" nothing")?;
        }
        Ok(())
    }
}

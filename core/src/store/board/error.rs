//! Why a board could not be changed.

use super::Over;
use crate::guard::{Authority, RecordError};
use crate::store::{ImageError, KeptError};

/// Why an image of a board could not be made, understood or taken up. Nothing of it is applied then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum BoardError {
    /// A buffer is too short.
    Space,
    /// Not an image of a board, cut short, or changed on its way.
    NotWhole,
    /// Of a version that this release does not read.
    Version(u16),
    /// For other numbers of feeders or bodies.
    Shape,
    /// Whole, but its parts are not where they should be.
    Meaning,
    /// Of a board that was not given away, and may feed on.
    NotGivenAway,
    /// Its settings.
    Settings(ImageError),
    /// What it kept.
    Kept(KeptError),
    /// The guard's record.
    Record(RecordError),
    /// Taking it up needs at least this authority.
    NeedsAuthority(Authority),
    /// A limit is looser than this board's firmware allows.
    Over(Over),
}

impl core::fmt::Display for BoardError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Space => f.write_str("the buffer is too short for the image of a board"),
            Self::NotWhole => {
                f.write_str("not the whole image of a board: make it anew on the old board")
            }
            Self::Version(version) => {
                write!(f, "image of a board of version {version}; right is 1")
            }
            Self::Shape => f.write_str("for a board of other numbers of feeders or bodies"),
            Self::Meaning => f.write_str("the image is whole, and a part of it is out of place"),
            Self::NotGivenAway => {
                f.write_str("the board was not given away, and may feed on: give it away first")
            }
            Self::Settings(error) => write!(f, "settings: {error}"),
            Self::Kept(error) => write!(f, "{error}"),
            Self::Record(error) => write!(f, "the guard's record: {error}"),
            Self::NeedsAuthority(needed) => write!(f, "needs the authority of {needed:?}"),
            Self::Over(over) => write!(f, "{over}"),
        }
    }
}

impl core::error::Error for BoardError {}

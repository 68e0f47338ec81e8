//! Published codes, and what they ask for.

/// A published code. Your local code decides; these are to compare with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Code {
    /// A model for codes: imminent hazards.
    Mahc,
    /// California.
    California,
    /// Ohio: how often the log is kept.
    Ohio,
    /// Delaware.
    Delaware,
    /// Quebec.
    Quebec,
    /// Montana; superseded.
    Montana,
}

impl Code {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::Mahc,
        Self::California,
        Self::Ohio,
        Self::Delaware,
        Self::Quebec,
        Self::Montana,
    ];

    /// Its name, which stays.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Mahc => "mahc",
            Self::California => "california",
            Self::Ohio => "ohio",
            Self::Delaware => "delaware",
            Self::Quebec => "quebec",
            Self::Montana => "montana",
        }
    }

    /// The text that was read.
    #[must_use]
    pub const fn source(self) -> &'static str {
        match self {
            Self::Mahc => "US CDC Model Aquatic Health Code 6.6.3.1",
            Self::California => "California 22 CCR 65529(b) and 65525(b)",
            Self::Ohio => "Ohio OAC 3701-31-06",
            Self::Delaware => "Delaware 4464-14.2.4",
            Self::Quebec => "Quebec Q-2 r. 39 s. 5, 6, 17",
            Self::Montana => "Montana ARM 37.115.1308 table 6 (superseded)",
        }
    }
}

/// What a code asks for past one of its limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Asks {
    /// An imminent hazard: correct it at once, or close.
    CorrectOrClose,
    /// Suspend use.
    SuspendUse,
    /// Evacuate.
    Evacuate,
    /// A limit of the water or the plant; that text does not say to close for it.
    Keep,
}

impl Asks {
    /// Whether nobody bathes meanwhile.
    #[must_use]
    pub const fn closes(self) -> bool {
        !matches!(self, Self::Keep)
    }

    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::CorrectOrClose => "correct at once or close",
            Self::SuspendUse => "suspend use",
            Self::Evacuate => "evacuate",
            Self::Keep => "outside of the limit",
        }
    }
}

//! The index of the evidence that `dosewarden evidence` gathers: what was done, by which command, what
//! came of it, and what none of it shows.

use minijinja::value::{Serde, Value};
use minijinja::{Environment, context};
use serde::Serialize;

use crate::report::CAUTIONS;

const INDEX: &str = include_str!("../../templates/evidence.html");

/// One piece of evidence.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Piece {
    /// What it is.
    pub title: &'static str,
    /// What it shows, if it holds.
    pub shows: &'static str,
    /// Repeats it.
    pub command: String,
    /// In a line.
    pub verdict: String,
    /// Whether it is as it should be.
    pub holds: bool,
    /// File beside the index.
    pub file: String,
    /// How long it took, s.
    pub took_s: f64,
}

/// Evidence that needs the sources, a compiler or emulators: where it stands and what makes it.
#[derive(Clone, Copy, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Elsewhere {
    /// What it shows.
    pub shows: &'static str,
    /// In a checkout.
    pub command: &'static str,
}

/// What this program cannot gather by itself.
pub const ELSEWHERE: [Elsewhere; 10] = [
    Elsewhere {
        shows: "The guard's laws hold in random lives, and a second model names the same vetoes",
        command: "cargo test -p dosewarden-laws",
    },
    Elsewhere {
        shows: "A permit cannot be made, kept or used twice: 117 programs that do not compile",
        command: "cargo test -p dosewarden-compile-fail",
    },
    Elsewhere {
        shows: "Each rule taken out of the guard is noticed, by the walk and by the laws",
        command: "tests/explore-without DIR; tests/remove-each-rule DIR",
    },
    Elsewhere {
        shows: "Changes of the guard's code, one at a time, are noticed by a test",
        command: "tests/mutants/run all",
    },
    Elsewhere {
        shows: "What reads bytes and text from outside does not panic, and guard and model agree in guided lives",
        command: "tests/fuzz/run",
    },
    Elsewhere {
        shows: "Flash cut at every byte and in seven ways of each erase: nothing confirmed is lost",
        command: "cargo test -p dosewarden --all-features --test store",
    },
    Elsewhere {
        shows: "No path to a panic, the same bits on four instruction sets, flash, RAM, stack and instructions a tick",
        command: "tests/on-target/run",
    },
    Elsewhere {
        shows: "The example firmware on four emulated boards, its resets and its stack that overflows",
        command: "examples/firmware/run all",
    },
    Elsewhere {
        shows: "Water chemistry against PHREEQC and published values",
        command: "cargo test -p dosewarden-tests --test water",
    },
    Elsewhere {
        shows: "Hazard, rule, oracle and test name each other",
        command: "cargo test -p dosewarden-tests --test traceability",
    },
];

/// What none of it shows.
pub const NOT_SHOWN: [&str; 9] = [
    "Nothing here was assessed under a safety standard, and no certificate follows from it.",
    "The water, the plant and the faults are simulated: what the plant does not have, no fault can reach.",
    "The walk covers small sites with buckets of one tick and few input classes. EXPLORE.md says what it leaves out.",
    "A campaign tries the sizes and times that its seed draws, not those between. Single faults and pairs; three at once only \
     at random.",
    "Where a bound was needed, the oracle was past what a sound site keeps: the bound says how far, why, and which \
     wiring removes it. Some were found by a campaign and not written down before.",
    "The compiler, the processor, the clock and the wiring of a real board: the firmware ran in emulators only.",
    "Probes follow a model. A real ORP follows more than free hypochlorous acid.",
    "One flow witness that lies with no second one, an interlock bridged by hand and drums swapped are outside what software \
     can see.",
    "A test shows the presence of what it looks for. It is worth what its breaking has shown: see the canaries.",
];

/// What the index says of the machine and the program.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Made {
    /// Of this program.
    pub version: &'static str,
    /// Instruction set and system.
    pub on: String,
    /// The command that gathered it all.
    pub command: String,
}

/// The index as data.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(feature = "cli", derive(schemars::JsonSchema))]
pub struct Index {
    /// Of what, and on what it was gathered.
    pub made: Made,
    /// Every piece is as it should be.
    pub holds: bool,
    /// What was done.
    pub pieces: Vec<Piece>,
    /// What needs the sources, a compiler or emulators.
    pub elsewhere: Vec<Elsewhere>,
    /// What none of it shows.
    pub not_shown: Vec<&'static str>,
}

impl Index {
    /// Of these pieces.
    #[must_use]
    pub fn of(pieces: Vec<Piece>, made: Made) -> Self {
        Self {
            made,
            holds: pieces.iter().all(|piece| piece.holds),
            pieces,
            elsewhere: ELSEWHERE.to_vec(),
            not_shown: NOT_SHOWN.to_vec(),
        }
    }
}

/// The index.
///
/// # Errors
/// What the template engine has to say; never for pieces of this program.
pub fn index(pieces: &[Piece], made: &Made) -> Result<String, minijinja::Error> {
    let mut engine = Environment::new();
    crate::report::tables::taught(&mut engine)?;
    engine.add_template("evidence.html", INDEX)?;
    engine.get_template("evidence.html")?.render(context! {
        pieces => Value::from(Serde(&pieces)),
        made => Value::from(Serde(made)),
        holds => pieces.iter().all(|piece| piece.holds),
        elsewhere => Value::from(Serde(&ELSEWHERE)),
        not_shown => NOT_SHOWN,
        cautions => CAUTIONS,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_index_says_what_was_done_and_what_it_does_not_show() {
        let piece = |holds| Piece {
            title: "A run",
            shows: "pools < 3",
            command: "dosewarden run --seed 1".into(),
            verdict: "held".into(),
            holds,
            file: "run.html".into(),
            took_s: 1.25,
        };
        let made = Made {
            version: "0.1.0",
            on: "x86_64 linux".into(),
            command: "dosewarden evidence --out DIR".into(),
        };
        let page = index(&[piece(true), piece(true)], &made).unwrap();
        for part in [
            "pools &lt; 3",
            "run.html",
            "1.2 s",
            "x86_64 linux",
            "mutants",
            NOT_SHOWN[0],
        ] {
            assert!(page.contains(part), "{part}");
        }
        assert!(page.contains("All of it holds"));
        let page = index(&[piece(true), piece(false)], &made).unwrap();
        assert!(!page.contains("All of it holds") && page.contains("does not hold"));
    }
}

//! A display of four rows of 20 letters shows why a feeder does not feed, without any allocation.

use core::fmt::{self, Write};
use std::collections::BTreeSet;
use std::string::{String, ToString};
use std::vec::Vec;

use super::*;
use crate::bench::Bench;
use crate::guard::Rule;
use crate::look::Look;
use crate::{look_at, look_at_lockout};

const ROWS: usize = 4;
const LETTERS: usize = 20;

/// What a small display holds, broken at spaces: as firmware may do it, in an array.
struct Screen {
    rows: [[u8; LETTERS]; ROWS],
    row: usize,
    column: usize,
    word: [u8; LETTERS],
    length: usize,
}

impl Screen {
    const EMPTY: Self = Self {
        rows: [[b' '; LETTERS]; ROWS],
        row: 0,
        column: 0,
        word: [b' '; LETTERS],
        length: 0,
    };

    /// Puts the word that stands to be put, on the next row where this one has no room.
    fn put(&mut self) -> fmt::Result {
        if self.length == 0 {
            return Ok(());
        }
        let space = usize::from(self.column > 0);
        if self.column + space + self.length > LETTERS {
            self.next_row();
        }
        let space = usize::from(self.column > 0);
        let from = self.column + space;
        let row = self.rows.get_mut(self.row).ok_or(fmt::Error)?;
        row[from..from + self.length].copy_from_slice(&self.word[..self.length]);
        self.column = from + self.length;
        self.length = 0;
        Ok(())
    }

    fn next_row(&mut self) {
        self.row += 1;
        self.column = 0;
    }

    fn shown(&self) -> [&str; ROWS] {
        core::array::from_fn(|at| core::str::from_utf8(&self.rows[at]).unwrap().trim_end())
    }
}

impl Write for Screen {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        for byte in text.bytes() {
            match byte {
                b' ' => self.put()?,
                b'\n' => {
                    self.put()?;
                    self.next_row();
                }
                _ => {
                    *self.word.get_mut(self.length).ok_or(fmt::Error)? = byte;
                    self.length += 1;
                }
            }
        }
        Ok(())
    }
}

/// A page of the display, or that it does not fit.
fn page(text: fmt::Arguments<'_>) -> Result<[String; ROWS], fmt::Error> {
    let mut screen = Screen::EMPTY;
    screen.write_fmt(text)?;
    screen.put()?;
    Ok(screen.shown().map(str::to_string))
}

/// The first page of a feeder: what it is about, and what clears it on the last two rows.
fn first_page(feeder: &str, obstacle: &Obstacle) -> Result<[String; ROWS], fmt::Error> {
    let clears = ClearWords(obstacle.clears());
    page(format_args!("{feeder}\n{}\n{clears}", obstacle.name()))
}

const LONGEST: Millis = Millis(3_599_000);

const CLEARS: [Clear; 20] = [
    Clear::Nothing,
    Clear::After(Millis(86_399_000)),
    Clear::AfterFlow(LONGEST),
    Clear::FlowThen(LONGEST),
    Clear::ProbeTrusted,
    Clear::WaterInside,
    Clear::ValvesThen(LONGEST),
    Clear::CycleEnds,
    Clear::Charge,
    Clear::Saved,
    Clear::Person,
    Clear::InhibitEnds,
    Clear::HoursOpen(Millis(86_399_000)),
    Clear::ClockKnown,
    Clear::Refill,
    Clear::OtherOffThen(LONGEST),
    Clear::TurnPasses,
    Clear::FeedbackKnown,
    Clear::Button,
    Clear::NextTick,
];

fn obstacles() -> Vec<Obstacle> {
    let rules = Rule::ALL.map(|rule| Obstacle::Rule(rule, Clear::Person));
    let lockouts = Lockout::ALL.map(Obstacle::Lockout);
    let own = [
        Obstacle::Disabled,
        Obstacle::NotAsked,
        Obstacle::OtherHasTurn,
        Obstacle::PumpStops(LONGEST),
        Obstacle::OutputFault,
        Obstacle::HandDose(LONGEST),
        Obstacle::HandDay(LONGEST),
        Obstacle::GivenAway,
        Obstacle::WrongWay,
        Obstacle::Unanswered,
    ];
    rules.into_iter().chain(lockouts).chain(own).collect()
}

/// What a rule is about, and what is wrong with it: both have to stand in its words, in this order.
const fn trouble(rule: Rule) -> (&'static str, &'static str) {
    match rule {
        Rule::ClockSane => ("a tick ", "did not come"),
        Rule::StateSealed => ("the state ", "is not what"),
        Rule::LimitsSealed => ("the limits ", "are not those"),
        Rule::PowerOnDelay => ("probes and water ", "need more time since power-on"),
        Rule::FlowProven => ("no flow proven", "a witness says no"),
        Rule::WitnessesAgree => ("flow witnesses and pump contact ", "contradict"),
        Rule::ProbeSettled => ("the probe ", "does not see"),
        Rule::ProbeTrusted => ("the governing probe ", "is silent or not to be believed"),
        Rule::InsideCutoff => ("the water ", "is past the cut-off"),
        Rule::BodyKnown => ("it is not known ", "which body"),
        Rule::CycleCap => ("the cycle's dose ", "is used up"),
        Rule::RunTimeCap => ("the cycle's drive-on time ", "is used up"),
        Rule::SpreadHold => ("a dose", "has not spread yet"),
        Rule::HourCap => ("the rolling hour ", "is used up"),
        Rule::DayCap => ("the rolling day ", "is used up"),
        Rule::OneAtATime => ("a product that must not meet this one ", "is in the way"),
        Rule::LineClear => ("product ", "stands in the injection line"),
        Rule::ResponseSane => ("the water ", "does not answer"),
        Rule::StockPresent => ("no product ", "in the drum"),
        Rule::DriveObeys => ("the drive ", "does not do what it was told"),
        Rule::LedgerTrusted => ("it is not known ", "what was fed"),
        Rule::ChargeDurable => ("this dose ", "is not on record"),
        Rule::NoLockout => ("something ", "waits for a person"),
        Rule::InhibitsClear => ("feed ", "is stopped"),
        Rule::WindowOpen => ("it is ", "outside the operating hours"),
        Rule::ManualBounded => ("the manual feed ", "is over"),
        Rule::FallbackBounded => ("fallback ", "is over"),
    }
}

#[test]
fn every_text_fits_its_part_of_a_small_display() {
    for clear in CLEARS {
        let obstacle = Obstacle::Rule(Rule::WitnessesAgree, clear);
        let shown = first_page("acid", &obstacle).unwrap_or_else(|_| panic!("{clear:?}"));
        assert!(!shown[2].is_empty(), "{clear:?}");
    }
    let mut looks: Vec<Look> = Vec::new();
    for obstacle in obstacles() {
        assert!(obstacle.name().len() <= 21, "{obstacle:?}");
        page(format_args!("{}", obstacle.words())).unwrap_or_else(|_| panic!("{obstacle:?}"));
        looks.extend(obstacle.look_at());
    }
    assert!(looks.len() > 50);
    for look in looks {
        page(format_args!("{}", look.words())).unwrap_or_else(|_| panic!("{look:?}"));
    }
    for obstacle in obstacles() {
        let text = obstacle.to_string();
        let lead = match obstacle {
            Obstacle::Lockout(_) => "locked out: ",
            _ => "",
        };
        let clears = ClearWords(obstacle.clears());
        assert_eq!(
            text,
            std::format!("{lead}{}; clears {clears}", obstacle.words())
        );
        assert_ne!(obstacle.clears(), Clear::Nothing, "{obstacle:?}");
    }
    assert_eq!(
        ClearWords(Clear::FlowThen(Millis(0))).to_string(),
        "when flow returns"
    );
    // The screen can refuse: what does not fit is no page.
    assert!(page(format_args!("{:?}", Rule::ALL)).is_err());
}

#[test]
fn names_and_words_are_all_different_and_a_lockout_is_called_as_its_alarm() {
    let all = obstacles();
    let names: BTreeSet<&str> = all.iter().map(Obstacle::name).collect();
    let words: BTreeSet<&str> = all.iter().map(Obstacle::words).collect();
    assert_eq!((names.len(), words.len()), (all.len(), all.len()));
    let clears: BTreeSet<String> = CLEARS.map(|clear| ClearWords(clear).to_string()).into();
    assert_eq!(clears.len(), CLEARS.len());
    for lockout in Lockout::ALL {
        let site = SiteAlarm::ALL.iter().find(|a| a.lockout() == Some(lockout));
        let feeder = FeederAlarm::ALL
            .iter()
            .find(|a| a.lockout() == Some(lockout));
        let name = site.map(|a| a.name()).or(feeder.map(|a| a.name()));
        assert_eq!(Some(Obstacle::Lockout(lockout).name()), name);
        assert!(!look_at_lockout(lockout).is_empty());
    }
    assert!(look_at(Rule::FlowProven).len() > 3);
}

/// `flow_proven: water flows` was read as the opposite of the trouble.
#[test]
fn a_rule_that_refuses_is_said_by_what_is_wrong_and_not_by_what_must_hold() {
    for rule in Rule::ALL {
        let said = rule_words(rule);
        assert_eq!(Obstacle::Rule(rule, Clear::Person).words(), said);
        let (what, wrong) = trouble(rule);
        let is_trouble = |text: &str| {
            text.strip_prefix(what)
                .is_some_and(|rest| rest.contains(wrong))
        };
        assert!(is_trouble(said), "{rule:?}: {said}");
        assert!(!is_trouble(rule.holds_that()), "{rule:?}: would say both");
    }
    // What is not known refuses as well, and these say so: a drum whose switch is silent is not empty.
    for (rule, part) in [
        (Rule::StockPresent, "or its switch is silent"),
        (Rule::InhibitsClear, "or nobody says that it may go"),
        (Rule::SpreadHold, "fed or presumed"),
        (Rule::InsideCutoff, "or not known"),
        (Rule::WindowOpen, "or the clock is unset"),
        (Rule::DayCap, "or counts as used"),
    ] {
        assert!(rule_words(rule).contains(part), "{rule:?}");
    }
}

#[test]
fn phases_have_names_of_their_own() {
    let phases = [
        Phase::Starting,
        Phase::AwaitingFlow,
        Phase::Settling,
        Phase::NotAsked,
        Phase::Feeding,
        Phase::Spreading,
        Phase::Refused(Rule::DayCap),
        Phase::LockedOut(Rule::NoLockout),
        Phase::Disabled,
    ];
    let names: BTreeSet<&str> = phases.iter().map(|phase| phase.name()).collect();
    assert_eq!(names.len(), phases.len());
}

#[test]
fn times_are_rounded_up() {
    let told = |ms| TimeWords(Millis(ms)).to_string();
    assert_eq!(told(0), "0 s");
    assert_eq!(told(1), "1 s");
    assert_eq!(told(59_001), "1 min");
    assert_eq!(told(61_000), "1 min 1 s");
    assert_eq!(told(3_599_001), "1 h");
    assert_eq!(told(3_600_001), "1 h 1 min");
    assert_eq!(told(86_400_000), "24 h");
}

#[test]
fn a_controllers_reasons_go_onto_a_display_of_four_rows() {
    let mut bench = Bench::usual();
    bench.water(7600, 720);
    bench.until(5, |shown| shown.feeds(0));
    bench.inputs.facts.flow_switch.value = false;
    bench.tick();
    let mut why = bench.controller.why(0).unwrap();
    let flow = why.find(|o| o.name() == "flow_proven").unwrap();
    assert_eq!(
        first_page("acid", &flow).unwrap(),
        ["acid", "flow_proven", "once flow stays for", "1 min"]
    );
    assert_eq!(
        page(format_args!("{}", flow.words())).unwrap(),
        [
            "no flow proven: a",
            "witness says no,",
            "nothing, or not for",
            "long yet"
        ]
    );
    let look = flow.look_at()[0];
    assert_eq!(
        page(format_args!("{}", look.words())).unwrap(),
        ["circulation pump and", "its breaker", "", ""]
    );
    assert_eq!(
        flow.to_string(),
        "no flow proven: a witness says no, nothing, or not for long yet; clears once flow stays for 1 min"
    );
    assert_eq!(bench.controller.phase(0).unwrap().name(), "awaiting_flow");
}

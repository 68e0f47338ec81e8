//! What can happen between two ticks: the input classes.
//!
//! A class stands for every value between two thresholds that a rule reads. The table says who reads
//! it; a class that no rule reads would only cost time.
//!
//! | field | classes | read by |
//! |---|---|---|
//! | `gap` | in time, too long | `clock_sane`, every age |
//! | `water` | flows, stands, switch without pump, pump without switch | `flow_proven`, `witnesses_agree`, `line_clear`, `spread_hold`, `one_at_a_time`, `probe_settled` |
//! | `asks` | nothing, automatic, manual, fallback | all by their waivers; `manual_bounded`, `fallback_bounded`, `one_at_a_time` |
//! | `button` | held, let go, unknown | `manual_bounded` |
//! | `probe` | three levels inside, past the cut-off, under service, failed | `probe_trusted`, `inside_cutoff`, `response_sane` |
//! | `body` | first, second, unknown | `body_known`, all caps and holds |
//! | `drives` | obeys, runs, does not run, feedback unknown | `drive_obeys`, `one_at_a_time`, `run_time_cap` |
//! | `stock` | there, empty | `stock_present` |
//! | `inhibit` | none, paused, emergency stop, not known | `inhibits_clear` |
//! | `hours` | inside, clock unknown | `window_open` |
//! | `saved` | the write of the record goes on, it is read back | `charge_durable` |
//! | `ends` | no bucket, the hour's, both | `hour_cap`, `day_cap` |
//! | `later` | whether the long wait of a rule (a probing cycle's, a lost day's) is over | `response_sane`, `ledger_trusted` |
//! | `intact` | yes, state changed, limits changed | `state_sealed`, `limits_sealed` |
//! | `act` | nobody, one action of one person | `no_lockout`, `power_on_delay`, `ledger_trusted`, `fallback_bounded` |
//! | `cut` | power stays, comes back to the older record, the newer, none | `power_on_delay`, `ledger_trusted`, all caps and holds |

use dosewarden::guard::Lockout;

/// Time since the last tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Gap {
    InTime,
    TooLong,
}

/// What the witnesses say of the water.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Water {
    Flows,
    Stands,
    SwitchOnly,
    PumpOnly,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ask {
    Nothing,
    Automatic,
    Manual,
    Fallback,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Button {
    LetGo,
    Held,
    Unknown,
}

/// The governing probe.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Probe {
    Level(u8),
    Past,
    Service,
    Failed,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Drive {
    Obeys,
    Runs,
    Dead,
    Unseen,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Inhibit {
    None,
    Paused,
    Stop,
    NotKnown,
}

/// Which of the ledger's buckets end with this tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ends {
    None,
    Hour,
    Day,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Intact {
    Yes,
    State,
    Limits,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Act {
    Release(Lockout, u8),
    Initialise,
    NewProbe,
    /// With a chlorine test of this visit, or with one that is too old.
    EnterFallback(bool),
    LeaveFallback,
    Reduce,
}

/// The record that is found when the power comes back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Found {
    Old,
    New,
    Lost,
}

/// All that happens between two ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Event<const N: usize> {
    pub(super) gap: Gap,
    pub(super) water: Water,
    pub(super) asks: [Ask; N],
    pub(super) button: Button,
    pub(super) probe: Probe,
    pub(super) body: Option<u8>,
    pub(super) drives: [Drive; N],
    pub(super) stock: bool,
    pub(super) inhibit: Inhibit,
    pub(super) hours: bool,
    pub(super) saved: bool,
    pub(super) ends: Ends,
    pub(super) later: bool,
    pub(super) intact: Intact,
    pub(super) act: Option<Act>,
    pub(super) cut: Option<Found>,
}

impl<const N: usize> Event<N> {
    /// Nothing is wrong, and everybody asks.
    pub(super) const HEALTHY: Self = Self {
        gap: Gap::InTime,
        water: Water::Flows,
        asks: [Ask::Automatic; N],
        button: Button::LetGo,
        probe: Probe::Level(0),
        body: Some(0),
        drives: [Drive::Obeys; N],
        stock: true,
        inhibit: Inhibit::None,
        hours: true,
        saved: false,
        ends: Ends::None,
        later: false,
        intact: Intact::Yes,
        act: None,
        cut: None,
    };

    /// In words, what differs from a tick in which nothing is wrong.
    pub(super) fn told(&self) -> String {
        let mut words: Vec<String> = Vec::new();
        if let Some(found) = self.cut {
            let found = match found {
                Found::Old => "both copies of the record are those before the last write",
                Found::New => "one copy of the record is the new one",
                Found::Lost => "no copy of the record is whole",
            };
            return format!("the power fails and returns; {found}");
        }
        self.told_plant(&mut words);
        for (feeder, ask) in self.asks.iter().enumerate() {
            match ask {
                Ask::Nothing => {}
                other => words.push(format!("feeder {feeder} is asked for ({other:?})")),
            }
        }
        if self.saved {
            words.push("the record is read back".into());
        }
        match self.ends {
            Ends::None => {}
            Ends::Hour => words.push("a bucket of the hour ends".into()),
            Ends::Day => words.push("a bucket of hour and day ends".into()),
        }
        if self.later {
            words.push("the long wait is over".into());
        }
        match self.intact {
            Intact::Yes => {}
            Intact::State => words.push("the state changed by itself".into()),
            Intact::Limits => words.push("the limits changed by themselves".into()),
        }
        if let Some(act) = self.act {
            words.push(told_act(act));
        }
        if words.is_empty() {
            words.push("nothing happens".into());
        }
        words.join(", ")
    }

    fn told_plant(&self, words: &mut Vec<String>) {
        let mut say = |stands: bool, what: &str| {
            if stands {
                words.push(what.to_owned());
            }
        };
        say(self.gap == Gap::TooLong, "the tick comes too late");
        say(self.water == Water::Stands, "water stands");
        say(
            self.water == Water::SwitchOnly,
            "the flow switch says flow, the pump off",
        );
        say(
            self.water == Water::PumpOnly,
            "the pump runs, the flow switch says no flow",
        );
        say(self.button == Button::Held, "the button is held");
        say(self.button == Button::Unknown, "the button is not known");
        match self.probe {
            Probe::Level(0) => {}
            Probe::Level(level) => say(true, &format!("the probe reads level {level}")),
            Probe::Past => say(true, "the water is past the cut-off"),
            Probe::Service => say(true, "the probe is under service"),
            Probe::Failed => say(true, "the probe has failed"),
        }
        match self.body {
            Some(0) => {}
            Some(body) => say(true, &format!("the valves select body {body}")),
            None => say(true, "the valves' position is not known"),
        }
        for (feeder, drive) in self.drives.iter().enumerate() {
            match drive {
                Drive::Obeys => {}
                Drive::Runs => say(true, &format!("drive {feeder} runs whatever it is told")),
                Drive::Dead => say(true, &format!("drive {feeder} does not run")),
                Drive::Unseen => say(true, &format!("feedback of drive {feeder} is not known")),
            }
        }
        say(!self.stock, "the drum is empty");
        say(self.inhibit == Inhibit::Paused, "somebody has paused it");
        say(
            self.inhibit == Inhibit::Stop,
            "the emergency stop is pressed",
        );
        say(
            self.inhibit == Inhibit::NotKnown,
            "the inhibits are not known",
        );
        say(!self.hours, "the time of day is not known");
    }
}

fn told_act(act: Act) -> String {
    match act {
        Act::Release(lockout, feeder) if !lockout.is_of_site() => {
            format!("a person releases {lockout:?} of feeder {feeder}")
        }
        Act::Release(lockout, _) => format!("a person releases {lockout:?}"),
        Act::Initialise => "a person initialises the unit".into(),
        Act::NewProbe => "a person says that the probe is new".into(),
        Act::EnterFallback(true) => "a person enters fallback".into(),
        Act::EnterFallback(false) => "a person enters fallback with an old test".into(),
        Act::LeaveFallback => "a person leaves fallback".into(),
        Act::Reduce => "a person sets the reduced stage".into(),
    }
}

/// Every event of `events` with every change made to it. The first change may change nothing.
pub(super) fn times<const N: usize>(
    events: &[Event<N>],
    changes: &[fn(&mut Event<N>)],
) -> Vec<Event<N>> {
    let mut all = Vec::with_capacity(events.len() * changes.len());
    for event in events {
        for change in changes {
            let mut event = *event;
            change(&mut event);
            all.push(event);
        }
    }
    all
}

/// Every event of `events` with every action taken in it.
pub(super) fn acted<const N: usize>(events: &[Event<N>], acts: &[Act]) -> Vec<Event<N>> {
    let mut all = Vec::with_capacity(events.len() * acts.len());
    for event in events {
        for act in acts {
            all.push(Event {
                act: Some(*act),
                ..*event
            });
        }
    }
    all
}

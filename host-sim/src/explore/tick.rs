//! One tick of a way, in words: what happens, in which state the guard is asked, and what it decides.

use dosewarden::guard::units::Millis;
use dosewarden::guard::{CycleStage, FeederDecision, LedgerTrust, LockoutSet, Rule, Stage, State};

use super::event::{Ask, Event};
use super::site::Site;
use super::world::{Came, World};

/// One call of the guard on a way, or what stands in its place.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TrailTick {
    /// What happens before and in it.
    pub happens: String,
    /// What was decided.
    pub comes: String,
    /// The state in which the guard is asked, by name: what it remembered before. Ages saturate, and what can make no
    /// difference any more is taken out.
    pub state: Vec<(String, String)>,
    /// What was asked for and decided for each feeder; empty where the guard was not called.
    pub feeders: Vec<FeederTick>,
}

/// What was asked for and decided for one feeder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FeederTick {
    /// What was asked for: `nothing`, `automatic`, `manual`, `fallback`.
    pub asked: &'static str,
    /// How long it may run, ms; 0: it is not fed.
    pub run_ms: u32,
    /// Where its cycle stands after the call.
    pub stage: &'static str,
    /// Rules that refuse it.
    pub refused_by: Vec<Rule>,
}

const fn asked(ask: Ask) -> &'static str {
    match ask {
        Ask::Nothing => "nothing",
        Ask::Automatic => "automatic",
        Ask::Manual => "manual",
        Ask::Fallback => "fallback",
    }
}

const fn stage(stage: CycleStage) -> &'static str {
    match stage {
        CycleStage::Idle => "Idle",
        CycleStage::Closing => "Closing",
        CycleStage::Pending => "Pending",
        CycleStage::Open => "Open",
    }
}

impl FeederTick {
    fn of(ask: Ask, row: &FeederDecision) -> Self {
        Self {
            asked: asked(ask),
            run_ms: row.run.0,
            stage: stage(row.stage),
            refused_by: row.vetoes.iter().collect(),
        }
    }

    fn words(&self, feeder: usize) -> String {
        let Self { run_ms, stage, .. } = self;
        if *run_ms > 0 {
            return format!("feeder {feeder} runs for {run_ms} ms");
        }
        let names: Vec<&str> = self.refused_by.iter().map(|rule| rule.name()).collect();
        if names.is_empty() {
            return format!("feeder {feeder} {stage}, refused by no rule");
        }
        format!("feeder {feeder} {stage}, refused by {}", names.join(", "))
    }
}

impl TrailTick {
    /// Nothing but words.
    #[cfg(all(test, feature = "tools"))]
    pub(super) fn in_words(happens: &str, comes: &str) -> Self {
        Self {
            happens: happens.to_owned(),
            comes: comes.to_owned(),
            ..Self::default()
        }
    }

    /// What an event comes to in a world, which is moved on by it. The property that does not hold, if there is one, and
    /// what the guard decided.
    pub(super) fn of<const N: usize, const B: usize, const H: usize, const D: usize>(
        site: &Site<N, B>,
        world: &mut World<N, B, H, D>,
        event: &Event<N>,
    ) -> (Self, Result<Came<N>, super::Property>) {
        let mut tick = Self {
            happens: event.told(),
            state: state_words(site, &world.state),
            ..Self::default()
        };
        let before = *world;
        let came = world.next(site, event);
        let decision = match &came {
            Ok(Came::Judged(decision)) => Some(*decision),
            Ok(_) => None,
            Err(_) => before.decision(site, event),
        };
        if let Some(decision) = decision {
            let rows = event.asks.iter().zip(&decision.feeders);
            tick.feeders = rows.map(|(ask, row)| FeederTick::of(*ask, row)).collect();
        }
        let rows = tick.feeders.iter().enumerate();
        let decided: Vec<String> = rows.map(|(at, one)| one.words(at)).collect();
        let decided = decided.join("; ");
        tick.comes = match &came {
            Ok(Came::Nothing) => "cannot happen here".to_owned(),
            Ok(Came::Cut(_)) => "starts anew".to_owned(),
            Ok(Came::Judged(_)) => decided,
            Err(_) if decided.is_empty() => "does not hold".to_owned(),
            Err(_) => format!("{decided}: does not hold"),
        };
        (tick, came)
    }
}

fn seconds(time: Millis) -> String {
    format!("{} s", time.0 / 1000)
}

fn lockouts(set: LockoutSet) -> String {
    let names: Vec<String> = set.iter().map(|one| format!("{one:?}")).collect();
    if names.is_empty() {
        "none".to_owned()
    } else {
        names.join(", ")
    }
}

/// What the guard remembers, as far as this site makes use of it.
fn state_words<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
    state: &State<N, B, H, D>,
) -> Vec<(String, String)> {
    let mut all: Vec<(String, String)> = Vec::new();
    let mut say = |name: &str, words: String| all.push((name.to_owned(), words));
    say("powered for", seconds(state.powered));
    say("flow proven for", seconds(state.flow_proven));
    if site.figures.feeders.iter().any(|one| one.governed) {
        say("water past the probe for", seconds(state.settled));
    }
    if B > 1 {
        let body = state.selected.map_or("no body".to_owned(), |body| {
            format!("body {body}, steady for {}", seconds(state.steady))
        });
        say("valves select", body);
    }
    say("lockouts of the site", lockouts(state.site_lockouts));
    if site.store {
        let trust = match state.trust {
            LedgerTrust::Trusted => "trusted",
            LedgerTrust::Lost(_) => "lost, the day counts as used",
        };
        say("ledger", trust.to_owned());
    }
    let reduced = state.stage == Stage::Reduced;
    say("stage", if reduced { "reduced" } else { "full" }.to_owned());
    if site.figures.fallback > 0 {
        say("fallback left", seconds(state.fallback_left));
    }
    say(
        "flowing since the last stop in a dose",
        seconds(state.line.purged),
    );
    for feeder in 0..N {
        for (name, words) in feeder_words(site, state, feeder) {
            say(&format!("feeder {feeder}: {name}"), words);
        }
    }
    all
}

fn feeder_words<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
    state: &State<N, B, H, D>,
    feeder: usize,
) -> Vec<(&'static str, String)> {
    let own = &state.feeders[feeder];
    let ml = |dose: dosewarden::guard::units::Dose| format!("{} mL", dose.0 / super::site::UNIT);
    let mut all = vec![
        ("cycle", stage(own.stage).to_owned()),
        ("charged", ml(own.charged())),
        (
            "has run",
            format!("{} of {}", seconds(own.run), seconds(own.allowed)),
        ),
        ("lockouts", lockouts(state.feeder_lockouts[feeder])),
    ];
    let since: Vec<String> = state.since_cycle[feeder]
        .iter()
        .map(|since| seconds(*since))
        .collect();
    all.push(("flowing since its last cycle", since.join(", ")));
    all.push((
        "ran into standing water for",
        seconds(state.line.standing[feeder]),
    ));
    if site.ledger {
        let account = &state.ledger.accounts[feeder][0];
        all.push(("booked this hour", ml(account.hour_total)));
        all.push(("booked this day", ml(account.day_total)));
    }
    if site.response {
        let answer = &state.response[feeder];
        all.push((
            "full cycles without an answer",
            answer.unanswered.to_string(),
        ));
    }
    all
}

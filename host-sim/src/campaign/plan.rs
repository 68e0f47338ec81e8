//! Which trials a campaign has, by number.

use std::collections::BTreeSet;

use rand_pcg::Pcg64Mcg;

use super::draw::{chosen, draw, id_number, length_ms, level_of, share, under};
use super::mode::Mode;
use super::subject::{Subject, digest_of, label};
use crate::fault::{self, Chosen, Fault, Part, Place};
use crate::scenario::Scenario;
use crate::scenario::clock::DAY_MS;

/// One trial.
#[derive(Clone, Debug)]
pub struct Planned {
    /// Which case it belongs to.
    pub case: usize,
    /// The faults.
    pub chosen: Vec<Chosen>,
    /// When the unit's power goes for two seconds, ms from midnight before day 1.
    pub reset_at_ms: Option<u64>,
    /// How long it is lived at most, from the first thing that happens on, ms.
    pub for_ms: u64,
}

/// Faults that belong together, and why a site cannot have them.
#[derive(Clone, Debug)]
pub struct Group {
    /// Which, with their parts and sizes.
    pub chosen: Vec<Chosen>,
    /// Why not, with the fault's id.
    pub not_here: Option<(&'static str, &'static str)>,
    /// Of a single fault: what its trials draw by.
    pub drawing: Option<Drawing>,
    /// How long each trial is lived at most, from the first onset on, ms.
    pub for_ms: u64,
}

/// What the trials of a single fault draw by. The first is as the catalogue says, at severity 1.
#[derive(Clone, Copy, Debug)]
pub struct Drawing {
    /// A number for fault, part and site.
    number: u64,
    /// It changes the site from the start: each trial has the next of few sizes.
    by_levels: bool,
    /// Something ends it: every other trial draws when.
    can_end: bool,
}

/// How trials are lived, when the power of the unit goes in them, and how faults change a site from the start: what no digest
/// can see. Another number with each change of it: parts that were lived otherwise are not put together then, and tables are
/// seen to be older.
const LIVED_AS: u32 = 3;

/// Of how many trials of a case what is drawn is looked at for [`Trials::drawn`]: the rest follow by the same rule.
const TOLD_TRIALS: u64 = 16;

/// All trials of a campaign.
pub struct Trials {
    mode: Mode,
    seed: u64,
    dose: (u64, u64),
    tick_ms: u64,
    origin_ms: u64,
    /// The cases, in order.
    pub groups: Vec<Group>,
    /// Trials of each case.
    each: u64,
    /// Faults that are tried; empty: all.
    only: Vec<&'static Fault>,
}

impl Trials {
    /// The trials on a subject. `runs`: of each single fault, at evenly spread ticks of the dose (all if there are
    /// fewer), or in all for [`Mode::Random`]; pairs have one each. `only`: of these faults alone, all if it is empty;
    /// a single fault or a pair keeps its number, and what is drawn for it.
    #[must_use]
    pub fn new(
        mode: Mode,
        seed: u64,
        runs: Option<u64>,
        only: Vec<&'static Fault>,
        subject: &Subject,
    ) -> Self {
        let tick_ms = u64::from(subject.origin.tick_ms());
        let origin_ms = subject.origin.clock_ms();
        let dose = (subject.dose_from_ms, subject.dose_to_ms);
        let ticks = (dose.1 - dose.0) / tick_ms + 1;
        let scenario = &subject.scenario;
        let mut trials = Self {
            mode,
            seed,
            dose,
            tick_ms,
            origin_ms,
            groups: Vec::new(),
            each: 1,
            only,
        };
        match mode {
            Mode::Single => {
                trials.each = runs.unwrap_or(ticks).clamp(1, ticks);
                trials.groups = trials.singles(scenario);
            }
            Mode::Pairs => trials.groups = trials.pairs(scenario),
            Mode::Random => trials.groups = trials.random(runs.unwrap_or(2_000), scenario),
        }
        trials
    }

    /// When a fault begins: up to 15 min before the dose, or in it.
    fn onset(&self, rng: &mut Pcg64Mcg) -> u64 {
        let from = self.origin_ms.max(self.dose.0.saturating_sub(15 * 60_000));
        from + under(rng, (self.dose.1 - from) / self.tick_ms + 1) * self.tick_ms
    }

    fn one(&self, fault: &'static Fault, part: Part, at: u64, scenario: &Scenario) -> Chosen {
        let mut rng = draw(self.seed, 1, at);
        let at_ms = self.onset(&mut rng);
        chosen(fault, part, &mut rng, at_ms, scenario)
    }

    fn group(scenario: &Scenario, chosen: Vec<Chosen>) -> Group {
        let not_here = chosen
            .iter()
            .find_map(|one| Some((one.fault.id, one.events(scenario).err()?)));
        Group {
            chosen,
            not_here,
            drawing: None,
            for_ms: super::SIX_HOURS_MS,
        }
    }

    fn singles(&self, scenario: &Scenario) -> Vec<Group> {
        let mut groups = Vec::new();
        for fault in fault::catalogue() {
            let parts = fault.parts_of(scenario);
            for (at, part) in parts.iter().enumerate() {
                let at = id_number(fault.id) * 16 + at as u64;
                let first = Chosen {
                    severity: 1.0,
                    for_ms: None,
                    ..self.one(fault, *part, at, scenario)
                };
                let drawing = Drawing {
                    number: at ^ digest_of(&scenario.name),
                    by_levels: first.stands_from_the_start(scenario),
                    can_end: first.can_end(scenario),
                };
                groups.push(Group {
                    drawing: Some(drawing),
                    ..Self::group(scenario, vec![first])
                });
            }
            if parts.is_empty() {
                groups.push(nowhere(vec![fault], fault.id));
            }
        }
        groups
    }

    /// The faults of one of the trials of a case, from 0.
    fn chosen_in(&self, group: &Group, trial: u64) -> Vec<Chosen> {
        let mut chosen = group.chosen.clone();
        let Some(drawing) = group.drawing.filter(|_| trial > 0) else {
            return chosen;
        };
        for one in &mut chosen {
            let mut rng = draw(self.seed, 6, drawing.number.wrapping_add(trial << 32));
            one.at_ms = self.onset(&mut rng);
            one.severity = if drawing.by_levels {
                level_of(trial)
            } else {
                share(&mut rng)
            };
            if drawing.can_end && !trial.is_multiple_of(2) {
                one.for_ms = Some(length_ms(&mut rng));
            }
        }
        chosen
    }

    fn pairs(&self, scenario: &Scenario) -> Vec<Group> {
        let all: Vec<&'static Fault> = fault::catalogue().collect();
        let mut groups = Vec::new();
        for (at, first) in all.iter().enumerate() {
            for second in &all[at + 1..] {
                let number = groups.len() as u64;
                let mut rng = draw(self.seed, 3, number);
                let mut both = Vec::new();
                for (which, fault) in [*first, *second].into_iter().enumerate() {
                    let at = number * 2 + which as u64;
                    let parts = fault.parts_of(scenario);
                    let all = parts
                        .iter()
                        .map(|part| self.one(fault, *part, at, scenario));
                    // A part that cannot have it is left for one that can.
                    let mut can: Vec<Chosen> = all.collect();
                    if can.iter().any(|one| one.events(scenario).is_ok()) {
                        can.retain(|one| one.events(scenario).is_ok());
                    }
                    if !can.is_empty() {
                        both.push(can[under(&mut rng, can.len() as u64) as usize]);
                    }
                }
                groups.push(if both.len() == 2 {
                    Self::group(scenario, both)
                } else {
                    let missing = [first, second]
                        .into_iter()
                        .find(|fault| fault.parts_of(scenario).is_empty());
                    nowhere(vec![*first, *second], missing.map_or("?", |fault| fault.id))
                });
            }
        }
        groups
    }

    /// All faults, or of the named ones those that the site can have.
    fn to_draw_from(&self, scenario: &Scenario) -> Vec<&'static Fault> {
        let can_at = |fault: &Fault, part| {
            let place = Place {
                scenario,
                part,
                severity: 0.5,
                at_ms: self.origin_ms,
            };
            fault.make(&place).is_ok()
        };
        let can = |fault: &Fault| {
            let mut parts = fault.parts_of(scenario).into_iter();
            parts.any(|part| can_at(fault, part))
        };
        let all = fault::catalogue().filter(|fault| self.tries(fault));
        all.filter(|fault| self.only.is_empty() || can(fault))
            .collect()
    }

    fn random(&self, runs: u64, scenario: &Scenario) -> Vec<Group> {
        let all = self.to_draw_from(scenario);
        let mut groups = Vec::new();
        let runs = if all.is_empty() { 0 } else { runs };
        for number in 0..runs {
            let mut rng = draw(self.seed, 4, number);
            let count = (1 + under(&mut rng, 4)).min(all.len() as u64);
            let mut several: Vec<Chosen> = Vec::new();
            while (several.len() as u64) < count {
                let fault = all[under(&mut rng, all.len() as u64) as usize];
                let parts = fault.parts_of(scenario);
                let Some(part) = parts.get(under(&mut rng, parts.len() as u64) as usize) else {
                    continue;
                };
                let at_ms = self.origin_ms + under(&mut rng, DAY_MS / self.tick_ms) * self.tick_ms;
                let one = chosen(fault, *part, &mut rng, at_ms, scenario);
                if one.events(scenario).is_ok() && several.iter().all(|o| o.fault.id != fault.id) {
                    several.push(one);
                }
            }
            let for_ms = self.day_with(&several, scenario);
            groups.push(Group {
                for_ms,
                ..Self::group(scenario, several)
            });
        }
        groups
    }

    /// From the first of these onsets to the end of the day that begins with the dose, and for six hours after the last of
    /// them at least, ms.
    fn day_with(&self, chosen: &[Chosen], scenario: &Scenario) -> u64 {
        let begins = chosen.iter().map(|one| {
            let early = one.stands_from_the_start(scenario);
            if early { self.origin_ms } else { one.at_ms }
        });
        let last_ms = begins.clone().max().unwrap_or(self.dose.1);
        let end_ms = (self.dose.1 + DAY_MS).max(last_ms + super::SIX_HOURS_MS);
        end_ms - begins.min().unwrap_or(self.dose.1)
    }

    /// What is tried.
    #[must_use]
    pub const fn mode(&self) -> Mode {
        self.mode
    }

    /// The seed.
    #[must_use]
    pub const fn seed(&self) -> u64 {
        self.seed
    }

    /// Ids of the faults that it is about, in order; none: all of the catalogue.
    #[must_use]
    pub fn only(&self) -> BTreeSet<&'static str> {
        self.only.iter().map(|fault| fault.id).collect()
    }

    /// What tells its cases from those of other trials: other faults, by another catalogue too, other sizes, times or lengths,
    /// another way of living them.
    #[must_use]
    pub fn drawn(&self, scenario: &Scenario) -> u64 {
        let begun = digest_of(&format!("lived as {LIVED_AS}"));
        self.groups.iter().fold(begun, |before, group| {
            let (for_ms, not_here) = (group.for_ms, group.not_here);
            let mut text = format!("{before} {for_ms} {not_here:?}");
            let trials = 0..self.each.min(TOLD_TRIALS);
            for one in &trials
                .flat_map(|trial| self.chosen_in(group, trial))
                .collect::<Vec<_>>()
            {
                let name = label(one.fault, one.part, scenario);
                let (severity, at_ms, for_ms) = (one.severity, one.at_ms, one.for_ms);
                text.push_str(&format!("\n{name} {severity} {at_ms} {for_ms:?}"));
                text.push_str(&format!(" {:?}", one.events(scenario)));
            }
            digest_of(&text)
        })
    }

    fn tries(&self, fault: &Fault) -> bool {
        self.only.is_empty() || self.only.iter().any(|one| one.id == fault.id)
    }

    /// Whether the faults of a case are all among those that are tried.
    #[must_use]
    pub fn has(&self, case: usize) -> bool {
        let group = self.groups.get(case);
        group.is_some_and(|group| group.chosen.iter().all(|one| self.tries(one.fault)))
    }

    /// The numbers of all trials, those that a site cannot have among them.
    pub fn numbers(&self) -> impl Iterator<Item = u64> + '_ {
        let cases = (0..self.groups.len()).filter(|case| self.has(*case));
        cases.flat_map(move |case| (0..self.each).map(move |at| case as u64 * self.each + at))
    }

    /// Whether it is the first of a single fault: as the catalogue says, at severity 1.
    pub(super) fn is_gravest(&self, number: u64) -> bool {
        self.mode == Mode::Single && number.is_multiple_of(self.each)
    }

    /// The trial with one of [`Trials::numbers`]; `None` for faults that the site cannot have.
    #[must_use]
    pub fn get(&self, number: u64) -> Option<Planned> {
        let case = (number / self.each) as usize;
        let group = self.groups.get(case)?;
        if group.not_here.is_some() {
            return None;
        }
        let ticks = (self.dose.1 - self.dose.0) / self.tick_ms + 1;
        let mut rng = draw(self.seed, 5, number);
        let reset_tick = match self.mode {
            Mode::Single => Some(number % self.each * ticks / self.each),
            Mode::Pairs => Some(under(&mut rng, ticks)),
            Mode::Random => None,
        };
        Some(Planned {
            case,
            chosen: self.chosen_in(group, number % self.each),
            reset_at_ms: reset_tick.map(|tick| self.dose.0 + tick * self.tick_ms),
            for_ms: group.for_ms,
        })
    }
}

fn nowhere(faults: Vec<&'static Fault>, id: &'static str) -> Group {
    let chosen = faults.into_iter().map(|fault| Chosen {
        fault,
        part: Part::Site,
        severity: 0.0,
        at_ms: 0,
        for_ms: None,
    });
    Group {
        chosen: chosen.collect(),
        not_here: Some((id, "no such part")),
        drawing: None,
        for_ms: 0,
    }
}

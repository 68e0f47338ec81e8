//! Watches a run: curves, doses, refusals and alarms, bounded in memory for any length of run.

use super::bodies::BodyTime;
use super::spans::Spans;
use super::stood::{PHASES, Stood, phase_at};
use crate::plant::{MAX_FEEDERS, Truth};
use crate::pool::SimPool;
use crate::scenario::Scenario;
use crate::scenario::clock::DAY_MS;
use crate::unit::{ALARM_STATES, ControlUnit, UnitStatus};

/// Most points that a curve keeps; a longer run takes them further apart.
const POINTS_MAX: u64 = 20_000;
/// Points are at least this far apart, ms.
const POINT_MS_MIN: u64 = 60_000;
/// Runs of a feeder nearer to each other than this are shown as one dose, ms.
const DOSE_GAP_MS: u64 = 60_000;

/// The water that the valves select, and what the unit shows of it, at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// ms from midnight before day 1.
    pub clock_ms: u64,
    /// pH of the water.
    pub ph: f64,
    /// pH that the unit shows.
    pub ph_shown: Option<f64>,
    /// ORP of the water, mV.
    pub orp_mv: f64,
    /// ORP that the unit shows, mV.
    pub orp_shown_mv: Option<f64>,
    /// Free chlorine of the water, mg/L.
    pub free_chlorine_mg_l: f64,
    /// Temperature of the water, C.
    pub temperature_c: f64,
    /// Flow past the injectors, L/min.
    pub flow_l_min: f64,
}

/// A dose: drive-on time without a pause worth showing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dose {
    /// Which feeder.
    pub feeder: usize,
    /// First moment, ms from midnight before day 1.
    pub from_ms: u64,
    /// Last moment.
    pub to_ms: u64,
    /// Amount, uL or mg.
    pub amount: f64,
}

/// Time in which the water was where it should be.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Band {
    /// ms inside.
    pub inside_ms: u64,
    /// ms looked at.
    pub of_ms: u64,
}

impl Band {
    pub(super) fn count(&mut self, inside: bool, dt_ms: u64) {
        self.of_ms += dt_ms;
        if inside {
            self.inside_ms += dt_ms;
        }
    }

    /// Share inside, percent; 100 of nothing.
    #[must_use]
    pub fn percent(&self) -> f64 {
        if self.of_ms == 0 {
            100.0
        } else {
            self.inside_ms as f64 * 100.0 / self.of_ms as f64
        }
    }
}

/// What refused a feeder.
#[derive(Clone, Debug, Default)]
pub struct Refusals {
    /// ms in which each of the unit's reasons refused.
    pub ms: Vec<u64>,
    /// The part of it in which feed was asked for.
    pub asked_ms: Vec<u64>,
    /// When each refused.
    pub spans: Vec<Spans>,
}

/// One alarm of the unit.
#[derive(Clone, Debug, Default)]
pub struct AlarmTime {
    /// How often it came.
    pub times: u32,
    /// ms in which it stood.
    pub ms: u64,
    /// When it stood.
    pub spans: Spans,
    /// Each of [`ALARM_STATES`], if the unit tells them apart.
    pub states: [Stood; ALARM_STATES.len()],
}

/// What was seen of a run so far.
#[derive(Clone, Debug)]
pub struct Watch {
    ph_band: (f64, f64),
    orp_band: (f64, f64),
    point_ms: u64,
    next_point_ms: u64,
    /// Curves.
    pub points: Vec<Point>,
    /// Doses in the order of their beginning.
    pub doses: Vec<Dose>,
    /// Amount of each feeder on each day, uL or mg.
    pub days: Vec<[f64; MAX_FEEDERS]>,
    /// pH of the water within its alarm thresholds.
    pub ph: Band,
    /// ORP of the water within its alarm thresholds.
    pub orp: Band,
    /// For each body, where there are several.
    pub bodies: Vec<BodyTime>,
    /// For each feeder.
    pub refusals: Vec<Refusals>,
    /// For each feeder the time in each of [`PHASES`], if the unit has such.
    pub phases: Vec<[Stood; PHASES.len()]>,
    /// For each alarm name of the unit.
    pub alarms: Vec<AlarmTime>,
    /// ms without power.
    pub unpowered_ms: u64,
    /// ms in which the unit waited for a person.
    pub waiting_ms: u64,
    open_dose: [Option<usize>; MAX_FEEDERS],
    /// What the unit has shown since [`Self::since_ms`], and up to when it was seen. Counted once it changes: most
    /// ticks show what the one before did.
    shown: UnitStatus,
    since_ms: u64,
    until_ms: u64,
}

/// Whether both count under the same names.
fn is_alike(a: &UnitStatus, b: &UnitStatus) -> bool {
    let mut feeders = a.feeders.iter().zip(&b.feeders);
    a.alarms == b.alarms
        && a.alarm_states == b.alarm_states
        && feeders.all(|(a, b)| (a.refusing, a.asked, a.phase) == (b.refusing, b.asked, b.phase))
}

/// The numbers of the bits that are set, the lowest first.
fn bits(mut left: u64) -> impl Iterator<Item = usize> {
    core::iter::from_fn(move || {
        let bit = left.trailing_zeros() as usize;
        (left != 0).then(|| {
            left &= left - 1;
            bit
        })
    })
}

impl Watch {
    /// Watches `scenario` run for `days`, by a unit with so many reasons and alarms.
    #[must_use]
    pub fn new(scenario: &Scenario, days: u32, reasons: usize, alarms: usize) -> Self {
        let run_ms = u64::from(days) * DAY_MS;
        let minutes = (run_ms / POINTS_MAX).div_ceil(POINT_MS_MIN).max(1);
        let refusals = || Refusals {
            ms: vec![0; reasons],
            asked_ms: vec![0; reasons],
            spans: vec![Spans::default(); reasons],
        };
        Self {
            ph_band: scenario.ph_band(),
            orp_band: scenario.orp_band(),
            point_ms: minutes * POINT_MS_MIN,
            next_point_ms: 0,
            points: Vec::new(),
            doses: Vec::new(),
            days: Vec::new(),
            ph: Band::default(),
            orp: Band::default(),
            bodies: BodyTime::several(scenario),
            refusals: scenario.feeders.iter().map(|_| refusals()).collect(),
            phases: vec![Default::default(); scenario.feeders.len()],
            alarms: vec![AlarmTime::default(); alarms],
            unpowered_ms: 0,
            waiting_ms: 0,
            open_dose: [None; MAX_FEEDERS],
            shown: UnitStatus::default(),
            since_ms: 0,
            until_ms: 0,
        }
    }

    /// Looks at a pool after a tick.
    pub fn look<U: ControlUnit>(&mut self, pool: &SimPool<U>) {
        let (truth, status) = (pool.truth(), pool.status());
        let dt_ms = u64::from(truth.dt_ms);
        let end_ms = pool.clock_ms();
        let from_ms = end_ms - dt_ms;
        self.look_at_water(truth, status, end_ms);
        self.look_at_feeders(truth, from_ms, end_ms);
        self.look_at_status(status, from_ms, end_ms);
        if !pool.powered() {
            self.unpowered_ms += dt_ms;
        }
        if status.needs_person {
            self.waiting_ms += dt_ms;
        }
    }

    /// Counts what was shown last. Ask once, at the end.
    pub fn end(&mut self) {
        let shown = core::mem::take(&mut self.shown);
        self.count(&shown, self.since_ms, self.until_ms);
        self.since_ms = self.until_ms;
    }

    fn look_at_water(&mut self, truth: &Truth, status: &UnitStatus, end_ms: u64) {
        let Some(water) = truth.bodies.get(truth.body) else {
            return;
        };
        if let Some(body) = self.bodies.get_mut(truth.body) {
            body.look(truth, self.ph_band, self.orp_band);
            let from_ms = end_ms.saturating_sub(u64::from(truth.dt_ms));
            body.selected.add(from_ms, end_ms);
        }
        let dt_ms = u64::from(truth.dt_ms);
        let inside = |(low, high): (f64, f64), value: f64| value >= low && value <= high;
        self.ph.count(inside(self.ph_band, water.ph), dt_ms);
        self.orp.count(inside(self.orp_band, water.orp_mv), dt_ms);
        if end_ms < self.next_point_ms {
            return;
        }
        self.next_point_ms = end_ms + self.point_ms;
        self.points.push(Point {
            clock_ms: end_ms,
            ph: water.ph,
            ph_shown: status.ph.map(|ph| f64::from(ph) / 1000.0),
            orp_mv: water.orp_mv,
            orp_shown_mv: status.orp.map(f64::from),
            free_chlorine_mg_l: water.free_chlorine_mg_l,
            temperature_c: water.temperature_c,
            flow_l_min: truth.flow_l_min,
        });
    }

    fn look_at_feeders(&mut self, truth: &Truth, from_ms: u64, end_ms: u64) {
        let day = usize::try_from(from_ms / DAY_MS).unwrap_or(usize::MAX);
        while self.days.len() <= day {
            self.days.push([0.0; MAX_FEEDERS]);
        }
        for (index, feeder) in truth.feeders.iter().enumerate() {
            if feeder.fed <= 0.0 {
                continue;
            }
            self.days[day][index] += feeder.fed;
            let last = self.open_dose[index].and_then(|at| self.doses.get_mut(at));
            match last.filter(|dose| from_ms - dose.to_ms < DOSE_GAP_MS) {
                Some(dose) => {
                    dose.to_ms = end_ms;
                    dose.amount += feeder.fed;
                }
                None => {
                    self.open_dose[index] = Some(self.doses.len());
                    let amount = feeder.fed;
                    self.doses.push(Dose {
                        feeder: index,
                        from_ms,
                        to_ms: end_ms,
                        amount,
                    });
                }
            }
        }
    }

    fn look_at_status(&mut self, status: &UnitStatus, from_ms: u64, end_ms: u64) {
        if from_ms != self.until_ms || !is_alike(status, &self.shown) {
            let before = core::mem::replace(&mut self.shown, *status);
            self.count(&before, self.since_ms, self.until_ms);
            for bit in bits(status.alarms & !before.alarms) {
                let Some(alarm) = self.alarms.get_mut(bit) else {
                    break;
                };
                alarm.times += 1;
            }
            self.since_ms = from_ms;
        }
        self.until_ms = end_ms;
    }

    /// Counts what a unit has shown from one moment to another.
    fn count(&mut self, status: &UnitStatus, from_ms: u64, end_ms: u64) {
        let dt_ms = end_ms - from_ms;
        if dt_ms == 0 {
            return;
        }
        for (seen, feeder) in self.refusals.iter_mut().zip(&status.feeders) {
            for bit in bits(feeder.refusing) {
                if bit >= seen.ms.len() {
                    break;
                }
                seen.ms[bit] += dt_ms;
                if feeder.asked {
                    seen.asked_ms[bit] += dt_ms;
                }
                seen.spans[bit].add(from_ms, end_ms);
            }
        }
        for (phases, feeder) in self.phases.iter_mut().zip(&status.feeders) {
            if let Some(phase) = feeder.phase {
                phases[phase_at(phase)].add(from_ms, end_ms);
            }
        }
        self.look_at_alarms(status, from_ms, end_ms);
    }

    fn look_at_alarms(&mut self, status: &UnitStatus, from_ms: u64, end_ms: u64) {
        for bit in bits(status.alarms) {
            let Some(alarm) = self.alarms.get_mut(bit) else {
                break;
            };
            alarm.ms += end_ms - from_ms;
            alarm.spans.add(from_ms, end_ms);
        }
        for (state, set) in status.alarm_states.0.into_iter().enumerate() {
            for bit in bits(set) {
                let Some(alarm) = self.alarms.get_mut(bit) else {
                    break;
                };
                alarm.states[state].add(from_ms, end_ms);
            }
        }
    }
}

#[cfg(test)]
mod tests;

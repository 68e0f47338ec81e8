//! All alarms of a site with `N` feeders.

use crate::guard::units::Millis;
use crate::guard::{Lockout, Notices};
use crate::settings::AlarmSettings;

use super::delays::{DEMAND, OF_WATER, delays_of_feeder, delays_of_site, of_water};
use super::id::{AlarmId, FeederAlarm, SiteAlarm};
use super::life::{Alarm, AlarmState, Condition, Shelving};
use super::marks::{Conditions, Marks, numbers};
use super::summary::Summary;
use super::watch::{RateWatch, Watched, WatchedFeeder, high, low};

/// The alarms. Their states are not kept across a restart: what still stands comes again.
#[derive(Clone, Debug)]
pub struct Alarms<const N: usize> {
    site: [Alarm; SiteAlarm::COUNT],
    feeders: [[Alarm; FeederAlarm::COUNT]; N],
    site_marks: Marks,
    feeder_marks: [Marks; N],
    ph_rate: RateWatch,
    orp_rate: RateWatch,
    /// How long each feeder has not wanted feed.
    unwanted: [Millis; N],
    summary: Summary,
    changes: u32,
}

impl<const N: usize> Alarms<N> {
    pub(crate) const NORMAL: Self = Self {
        site: [Alarm::NORMAL; SiteAlarm::COUNT],
        feeders: [[Alarm::NORMAL; FeederAlarm::COUNT]; N],
        site_marks: Marks::NONE,
        feeder_marks: [Marks::NONE; N],
        ph_rate: RateWatch::START,
        orp_rate: RateWatch::START,
        unwanted: [Millis(0); N],
        summary: Summary {
            unacknowledged: 0,
            active: 0,
            set_aside: 0,
            latched: 0,
        },
        changes: 0,
    };

    /// State of one alarm. `None` if there is no such feeder.
    #[must_use]
    pub fn state(&self, id: AlarmId) -> Option<AlarmState> {
        self.get(id).map(|alarm| alarm.state)
    }

    /// Whether it is latched, in whatever state.
    #[must_use]
    pub fn is_latched(&self, id: AlarmId) -> bool {
        self.get(id).is_some_and(|alarm| alarm.latched)
    }

    /// Those that are not in [`AlarmState::Normal`], or are latched: what to list.
    pub fn listed(&self) -> impl Iterator<Item = (AlarmId, AlarmState)> {
        self.all()
            .filter(|(_, alarm)| alarm.state != AlarmState::Normal || alarm.latched)
            .map(|(id, alarm)| (id, alarm.state))
    }

    /// How many stand where.
    #[must_use]
    pub const fn summary(&self) -> Summary {
        self.summary
    }

    /// A number that is another after each change of an alarm, wrapping: a display draws its list anew only then.
    #[must_use]
    pub const fn changes(&self) -> u32 {
        self.changes
    }

    fn all(&self) -> impl Iterator<Item = (AlarmId, &Alarm)> {
        let site = SiteAlarm::ALL.iter().zip(self.site.iter());
        let site = site.map(|(id, alarm)| (AlarmId::Site(*id), alarm));
        let feeders = (0..u8::MAX).zip(&self.feeders).flat_map(|(feeder, own)| {
            let own = FeederAlarm::ALL.iter().zip(own.iter());
            own.map(move |(id, alarm)| (AlarmId::Feeder(feeder, *id), alarm))
        });
        site.chain(feeders)
    }

    fn get(&self, id: AlarmId) -> Option<&Alarm> {
        match id {
            AlarmId::Site(alarm) => self.site.get(usize::from(alarm.number())),
            AlarmId::Feeder(feeder, alarm) => self
                .feeders
                .get(usize::from(feeder))?
                .get(usize::from(alarm.number())),
        }
    }

    /// An alarm to move, and the marks to note it in afterwards.
    fn get_mut(&mut self, id: AlarmId) -> Option<(&mut Alarm, &mut Marks)> {
        match id {
            AlarmId::Site(alarm) => {
                let own = self.site.get_mut(usize::from(alarm.number()))?;
                Some((own, &mut self.site_marks))
            }
            AlarmId::Feeder(feeder, alarm) => {
                let feeder = usize::from(feeder);
                let own = self.feeders.get_mut(feeder)?;
                let own = own.get_mut(usize::from(alarm.number()))?;
                Some((own, self.feeder_marks.get_mut(feeder)?))
            }
        }
    }

    fn count(&mut self) {
        let mut sum = Summary::default();
        self.site.iter().for_each(|alarm| sum.add(alarm));
        for own in &self.feeders {
            own.iter().for_each(|alarm| sum.add(alarm));
        }
        self.summary = sum;
        self.changes = self.changes.wrapping_add(1);
    }

    /// One tick. Tells of every change.
    ///
    /// Conditions are taken in a straight line and looked at one by one only for alarms that do not
    /// rest: in most ticks none does.
    pub(crate) fn step(
        &mut self,
        settings: &AlarmSettings,
        seen: &Watched<N>,
        mut changed: impl FnMut(AlarmId, AlarmState),
    ) {
        let mut any = false;
        let conditions = Conditions::of(&self.of_site(settings, seen));
        let aside = if seen.laid_up { OF_WATER } else { 0 };
        for number in numbers(self.site_marks.due(conditions, aside)) {
            let at = usize::try_from(number).unwrap_or(usize::MAX);
            let (Some(alarm), Some(id)) = (self.site.get_mut(at), SiteAlarm::ALL.get(at)) else {
                break;
            };
            let condition = conditions.at(number);
            let aside = seen.laid_up && of_water(*id);
            let delays = delays_of_site(*id, settings, seen);
            if alarm.step(condition, aside, id.is_latching(), delays, seen.elapsed) {
                any = true;
                changed(AlarmId::Site(*id), alarm.state);
            }
            self.site_marks.note(number, alarm);
        }
        for (feeder, look) in (0..u8::MAX).zip(seen.feeders.iter()) {
            any |= self.step_feeder(feeder, look, settings, seen, &mut changed);
        }
        if any {
            self.count();
        }
    }

    /// One feeder's part of a tick. True if anything changed.
    fn step_feeder(
        &mut self,
        feeder: u8,
        look: &WatchedFeeder,
        settings: &AlarmSettings,
        seen: &Watched<N>,
        changed: &mut impl FnMut(AlarmId, AlarmState),
    ) -> bool {
        let index = usize::from(feeder);
        let (Some(own), Some(marks), Some(unwanted)) = (
            self.feeders.get_mut(index),
            self.feeder_marks.get_mut(index),
            self.unwanted.get_mut(index),
        ) else {
            return false;
        };
        let mut any = false;
        let demand = demand(look, unwanted, settings.off_delay, seen.elapsed);
        let conditions = Conditions::of(&of_feeder(look, demand));
        let idle = seen.laid_up || seen.observing;
        for number in numbers(marks.due(conditions, u32::from(idle) & DEMAND)) {
            let at = usize::try_from(number).unwrap_or(usize::MAX);
            let (Some(alarm), Some(id)) = (own.get_mut(at), FeederAlarm::ALL.get(at)) else {
                break;
            };
            let aside = idle && *id == FeederAlarm::DemandUnmet;
            let delays = delays_of_feeder(*id, settings);
            let condition = conditions.at(number);
            if alarm.step(condition, aside, id.is_latching(), delays, seen.elapsed) {
                any = true;
                changed(AlarmId::Feeder(feeder, *id), alarm.state);
            }
            marks.note(number, alarm);
        }
        any
    }

    fn stands(&self, id: SiteAlarm) -> bool {
        let alarm = self.site.get(usize::from(id.number()));
        alarm.is_some_and(Alarm::stands)
    }

    /// Conditions of the site's alarms, in the order of their numbers.
    fn of_site(
        &mut self,
        settings: &AlarmSettings,
        seen: &Watched<N>,
    ) -> [Condition; SiteAlarm::COUNT] {
        let (ph, orp, passed) = (seen.ph, seen.orp, seen.elapsed);
        let fast_ph = self.ph_rate.step(ph.value, settings.ph.rate, passed);
        let fast_orp = self.orp_rate.step(orp.value, settings.orp.rate, passed);
        let notice = |which| Condition::of(seen.notices.any_of(which));
        let locked = |lockout| Condition::of(seen.lockouts.has(lockout));
        let stands = |id| self.stands(id);
        [
            low(ph.value, &settings.ph, stands(SiteAlarm::PhLow)),
            high(ph.value, &settings.ph, stands(SiteAlarm::PhHigh)),
            fast_ph,
            Condition::of(ph.failing),
            low(orp.value, &settings.orp, stands(SiteAlarm::OrpLow)),
            high(orp.value, &settings.orp, stands(SiteAlarm::OrpHigh)),
            fast_orp,
            Condition::of(orp.failing),
            notice(Notices::SAVE_OVERDUE),
            // Where a slow speed is known, that it shows no flow is by design.
            if seen.pump_slow {
                Condition::Gone
            } else {
                notice(Notices::PUMP_WITHOUT_FLOW)
            },
            absent(seen),
            notice(Notices::NO_ANSWER),
            notice(Notices::FALLBACK_ENDS),
            notice(Notices::WEAK_CHLORINE),
            Condition::of(seen.records_differ),
            notice(Notices::RUNS_AGAINST),
            Condition::of(seen.master_fault),
            locked(Lockout::StateSeal),
            locked(Lockout::LimitsSeal),
            locked(Lockout::Witnesses),
            locked(Lockout::Line),
            locked(Lockout::RecordLost),
            locked(Lockout::EmergencyStop),
            locked(Lockout::PowerLoss),
            Condition::of(seen.test_due),
            Condition::of(seen.proof_due),
            Condition::of(seen.clock_stands),
            Condition::of(seen.kept_lost),
        ]
    }
}

/// Conditions of a feeder's alarms, in the order of their numbers.
fn of_feeder(look: &WatchedFeeder, demand: Condition) -> [Condition; FeederAlarm::COUNT] {
    let locked = |lockout| Condition::of(look.lockouts.has(lockout));
    [
        demand,
        Condition::of(look.low),
        Condition::of(look.empty),
        Condition::of(look.line_fault),
        locked(Lockout::Probe),
        locked(Lockout::RunTime),
        locked(Lockout::Response),
        locked(Lockout::Drive),
        Condition::of(look.rate_wrong),
    ]
}

/// Water stands still. Where a timetable is known, only while the pump should run.
fn absent<const N: usize>(seen: &Watched<N>) -> Condition {
    match (seen.flow, seen.pump_due) {
        (true, _) => Condition::Gone,
        (false, Some(false)) => Condition::Unknown,
        (false, _) => Condition::Stands,
    }
}

/// A demand that is not met. It is over once fed, or once it has not been wanted for `off_delay`:
/// a value that wavers around its threshold does not begin the time anew.
fn demand(
    look: &WatchedFeeder,
    unwanted: &mut Millis,
    off_delay: Millis,
    elapsed: Millis,
) -> Condition {
    if look.wants == Some(false) {
        unwanted.0 = unwanted.0.saturating_add(elapsed.0);
    } else {
        *unwanted = Millis(0);
    }
    match look.wants {
        _ if look.fed => Condition::Gone,
        Some(true) => Condition::Stands,
        Some(false) if *unwanted >= off_delay => Condition::Gone,
        _ => Condition::Unknown,
    }
}

/// Why an alarm cannot be moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum NotMoved {
    NoSuchAlarm,
    NotInThisState,
    SafetyTrip,
    TooLong,
}

/// What a person does with one alarm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Hand {
    Acknowledge,
    Shelve(Shelving),
    Unshelve,
    TakeOut,
    PutBack,
    Reset,
}

impl<const N: usize> Alarms<N> {
    /// A person moves one alarm. The state that it is in then.
    pub(crate) fn moved(&mut self, id: AlarmId, by: Hand) -> Result<AlarmState, NotMoved> {
        let (alarm, marks) = self.get_mut(id).ok_or(NotMoved::NoSuchAlarm)?;
        let sets_aside = matches!(by, Hand::Shelve(_) | Hand::TakeOut);
        if sets_aside && id.is_safety_trip() {
            return Err(NotMoved::SafetyTrip);
        }
        if let Hand::Shelve(Shelving::Timed(length) | Shelving::OneShot(length)) = by
            && (length.0 == 0 || length > Shelving::LONGEST)
        {
            return Err(NotMoved::TooLong);
        }
        let done = match by {
            Hand::Acknowledge => alarm.acknowledge(),
            Hand::Shelve(shelving) => alarm.shelve(shelving),
            Hand::Unshelve => alarm.unshelve(),
            Hand::TakeOut => alarm.take_out(),
            Hand::PutBack => alarm.put_back(),
            Hand::Reset => alarm.reset(),
        };
        let state = alarm.state;
        marks.note(u32::from(id.number()), alarm);
        self.count();
        if done {
            Ok(state)
        } else {
            Err(NotMoved::NotInThisState)
        }
    }

    /// A person acknowledges all that call. Tells of every change.
    pub(crate) fn acknowledge_all(&mut self, mut changed: impl FnMut(AlarmId, AlarmState)) {
        for (alarm, id) in self.site.iter_mut().zip(SiteAlarm::ALL) {
            if alarm.acknowledge() {
                changed(AlarmId::Site(*id), alarm.state);
            }
        }
        for (own, feeder) in self.feeders.iter_mut().zip(0..u8::MAX) {
            for (alarm, id) in own.iter_mut().zip(FeederAlarm::ALL) {
                if alarm.acknowledge() {
                    changed(AlarmId::Feeder(feeder, *id), alarm.state);
                }
            }
        }
        self.count();
    }
}

#[cfg(test)]
mod in_use;
#[cfg(test)]
mod tests;

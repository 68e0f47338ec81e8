//! What really happened, in ticks, kept beside the guard and apart from it: it reads events and
//! permits, never the guard's state.
//!
//! The hardware dead man cuts a drive a tick after its permit, so a tick that comes too late costs no
//! more than one in time and the drive's off delay.

use dosewarden::guard::Lockout;

use super::event::{Button, Drive, Ends, Event, Gap, Probe, Water};
use super::site::Site;

/// What the truth of one feeder is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct FeederTruth<const B: usize> {
    /// A permit stands.
    pub(super) permit: bool,
    /// Ticks for which its drive may still run after it.
    pub(super) tail: u8,
    /// The last permit was for a manual feed.
    pub(super) by_hand: bool,
    /// The cycle has had a permit.
    pub(super) opened: bool,
    /// Drive-on ticks of the cycle.
    pub(super) cycle: u8,
    /// Body that the cycle was charged for.
    pub(super) body: u8,
    /// Drive-on ticks into standing water since the line was last clear.
    pub(super) standing: u8,
    /// Flowing ticks since it ran.
    pub(super) since_drive: u8,
    /// Flowing ticks of each body since its last drop there.
    pub(super) since_drop: [u8; B],
    /// Ticks against command, as feedback shows it.
    pub(super) against: u8,
    /// Commanded ticks without feedback.
    pub(super) deaf: u8,
    /// It ran against command, and nobody has released it.
    pub(super) ran: bool,
    /// Ticks fed by hand since the button was let go.
    pub(super) manual: u8,
    /// Bits of [`Lockout`]: what has called for a person who has not come yet.
    pub(super) causes: u16,
    pub(super) answer: Answer,
}

/// What is known of the water's answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Answer {
    /// Level when the cycle was charged, plus 1; 0: not known.
    pub(super) before: u8,
    pub(super) awaited: bool,
    /// Flowing ticks until it may be judged.
    pub(super) rest: u8,
    pub(super) unanswered: u8,
    pub(super) quarter: bool,
    /// Wrong, and from the next tick on a reason for a person.
    pub(super) wrong: bool,
    /// The interval of probing cycles is over.
    pub(super) waited: bool,
}

impl Answer {
    /// Nothing awaited, nothing known.
    pub(super) const NONE: Self = Self {
        before: 0,
        awaited: false,
        rest: 0,
        unanswered: 0,
        quarter: false,
        wrong: false,
        waited: false,
    };
}

/// The truth of the site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Truth<const N: usize, const B: usize> {
    pub(super) powered: u8,
    pub(super) new_probe: bool,
    /// Ticks of flow in a row.
    pub(super) flow: u8,
    /// Ticks of flow while the pump says off.
    pub(super) apart: u8,
    /// Ticks of a failed probe.
    pub(super) failed: u8,
    /// Flowing ticks since the last stop in mid-dose.
    pub(super) flowed: u8,
    pub(super) body: Option<u8>,
    pub(super) steady: u8,
    /// Ticks left in fallback.
    pub(super) fallback: u8,
    pub(super) causes: u16,
    /// Nobody knows what was fed.
    pub(super) lost: bool,
    /// Ticks fed in each bucket, newest first; an initialised unit begins anew.
    pub(super) hour: [u8; 2],
    pub(super) day: [u8; 3],
    pub(super) feeders: [FeederTruth<B>; N],
}

/// What passed in one tick.
#[derive(Clone, Copy, Debug)]
pub(super) struct Passed<const N: usize> {
    /// Ticks for which each drive ran.
    pub(super) on: [u8; N],
    /// A drive had not followed its command for too long already before this tick.
    pub(super) deaf: [bool; N],
}

pub(super) const fn bit(lockout: Lockout) -> u16 {
    1 << lockout as u16
}

fn grow(age: &mut u8, by: u8, most: u8) {
    *age = age.saturating_add(by).min(most);
}

fn prove(age: &mut u8, shown: bool, most: u8) {
    *age = if shown { (*age + 1).min(most) } else { 0 };
}

/// Most ticks that a window's bucket can be followed for.
pub(super) const WINDOW_MAX: u8 = 7;

impl<const N: usize, const B: usize> Truth<N, B> {
    /// A new unit, at its first power-on.
    pub(super) fn new(site: &Site<N, B>) -> Self {
        let rest = FeederTruth {
            permit: false,
            tail: 0,
            by_hand: false,
            opened: false,
            cycle: 0,
            body: 0,
            standing: 0,
            since_drive: 0,
            since_drop: [0; B],
            against: 0,
            deaf: 0,
            ran: false,
            manual: if site.manual {
                site.figures.manual + 1
            } else {
                0
            },
            causes: 0,
            answer: Answer::NONE,
        };
        Self {
            powered: 0,
            new_probe: false,
            flow: 0,
            apart: 0,
            failed: 0,
            flowed: 0,
            body: None,
            steady: 0,
            fallback: 0,
            causes: if site.store {
                bit(Lockout::RecordLost)
            } else {
                0
            },
            lost: site.store,
            hour: [0; 2],
            day: [0; 3],
            feeders: [rest; N],
        }
    }

    /// One tick passes, up to the judgement.
    pub(super) fn pass(&mut self, site: &Site<N, B>, event: &Event<N>) -> Passed<N> {
        let figures = &site.figures;
        let in_time = event.gap == Gap::InTime;
        let long = if in_time { 1 } else { 2 };
        let flows = event.water == Water::Flows;
        let mut passed = Passed {
            on: [0; N],
            deaf: [false; N],
        };
        for (feeder, own) in self.feeders.iter().enumerate() {
            let limits = &figures.feeders[feeder];
            passed.on[feeder] = match event.drives[feeder] {
                Drive::Dead => 0,
                Drive::Runs => long,
                Drive::Obeys | Drive::Unseen if !own.permit => own.tail.min(long),
                Drive::Obeys | Drive::Unseen if in_time => 1,
                Drive::Obeys | Drive::Unseen => 1 + limits.drive_off,
            };
        }
        if event.later {
            for own in &mut self.feeders {
                own.answer.waited = true;
            }
        }
        let was = self.body;
        self.select(site, event, in_time);
        prove(
            &mut self.flow,
            flows && in_time,
            figures.prove.max(figures.settle),
        );
        self.witness(site, event, in_time);
        if in_time {
            grow(&mut self.powered, 1, figures.new_probe);
        }
        self.new_probe &= self.powered < figures.new_probe;
        self.fallback = self.fallback.saturating_sub(long);
        self.line(site, &passed.on, flows, in_time);
        self.drops(site, event, &passed.on, was);
        for (feeder, own) in self.feeders.iter_mut().enumerate() {
            passed.deaf[feeder] = own.drive(site, event, feeder, passed.on[feeder], long);
        }
        if site.ledger {
            self.windows(event, passed.on.iter().sum());
        }
        passed
    }

    /// The valves: a change starts flow anew and owes a purge, and so does a return from nobody knows where.
    fn select(&mut self, site: &Site<N, B>, event: &Event<N>, in_time: bool) {
        match event.body {
            None => {
                self.body = None;
                self.steady = 0;
            }
            Some(body) if self.body == Some(body) => {
                prove(&mut self.steady, in_time, site.figures.steady);
            }
            Some(body) => {
                self.flowed = 0;
                self.body = Some(body);
                self.steady = 0;
                self.flow = 0;
                for own in &mut self.feeders {
                    own.answer.awaited = false;
                }
            }
        }
    }

    fn witness(&mut self, site: &Site<N, B>, event: &Event<N>, in_time: bool) {
        match event.water {
            Water::SwitchOnly if in_time => grow(&mut self.apart, 1, site.figures.stuck + 1),
            Water::Flows | Water::Stands => self.apart = 0,
            _ => {}
        }
        let governed = site.figures.feeders.iter().any(|one| one.governed);
        match event.probe {
            Probe::Failed if in_time && governed => {
                grow(&mut self.failed, 1, site.figures.failure + 1);
            }
            Probe::Failed => {}
            _ => self.failed = 0,
        }
    }

    fn line(&mut self, site: &Site<N, B>, on: &[u8; N], flows: bool, in_time: bool) {
        let purge = site.figures.purge;
        let flowing = u8::from(flows && in_time);
        let mut stopped = false;
        for ((own, on), limits) in self.feeders.iter_mut().zip(on).zip(&site.figures.feeders) {
            if *on == 0 {
                grow(&mut own.since_drive, flowing, purge);
                continue;
            }
            own.since_drive = 0;
            if !flows {
                grow(&mut own.standing, *on, limits.drive_off + 2);
                stopped = true;
            }
        }
        if stopped {
            self.flowed = 0;
        } else {
            grow(&mut self.flowed, flowing, purge);
        }
        if self.flowed >= purge {
            for own in &mut self.feeders {
                own.standing = 0;
            }
        }
    }

    /// A drop may have gone where the valves were or where they are; unknown is everywhere.
    fn drops(&mut self, site: &Site<N, B>, event: &Event<N>, on: &[u8; N], was: Option<u8>) {
        let flowing = event.water == Water::Flows && event.gap == Gap::InTime;
        for ((own, on), limits) in self.feeders.iter_mut().zip(on).zip(&site.figures.feeders) {
            for (body, since) in (0..).zip(own.since_drop.iter_mut()) {
                let here = event.body == Some(body);
                let there = event.body.is_none() || was.is_none_or(|was| was == body);
                if *on > 0 && (here || there) {
                    *since = 0;
                } else if *on == 0 && here && flowing {
                    grow(since, 1, limits.hold);
                }
            }
        }
    }

    fn windows(&mut self, event: &Event<N>, on: u8) {
        grow(&mut self.hour[0], on, WINDOW_MAX);
        grow(&mut self.day[0], on, WINDOW_MAX);
        if event.ends != Ends::None {
            self.hour = [0, self.hour[0]];
        }
        if event.ends == Ends::Day {
            self.day = [0, self.day[0], self.day[1]];
        }
    }

    /// The power fails within the tick, and comes back. What was fed stays fed.
    pub(super) fn cut(&mut self, site: &Site<N, B>) {
        let mut fed = 0;
        let mut stopped = false;
        let manual = site.figures.manual + 1;
        for (own, limits) in self.feeders.iter_mut().zip(&site.figures.feeders) {
            let on = if own.permit {
                1 + limits.drive_off
            } else {
                own.tail
            };
            fed += on;
            if on > 0 {
                grow(&mut own.standing, on, limits.drive_off + 2);
                own.since_drop = [0; B];
                own.since_drive = 0;
                stopped = true;
            }
            own.permit = false;
            own.tail = 0;
            own.opened = false;
            own.cycle = 0;
            own.body = 0;
            own.by_hand = false;
            own.against = 0;
            own.deaf = 0;
            own.answer.awaited = false;
            own.manual = if site.manual { manual } else { 0 };
        }
        if stopped {
            self.flowed = 0;
        }
        self.hour[0] = (self.hour[0] + fed).min(WINDOW_MAX);
        self.day[0] = (self.day[0] + fed).min(WINDOW_MAX);
        self.powered = 0;
        self.flow = 0;
        self.apart = 0;
        self.failed = 0;
        self.steady = 0;
    }
}

impl<const B: usize> FeederTruth<B> {
    /// Counts what its drive did. True if it had not followed for too long before.
    fn drive<const N: usize>(
        &mut self,
        site: &Site<N, B>,
        event: &Event<N>,
        feeder: usize,
        on: u8,
        long: u8,
    ) -> bool {
        let limits = &site.figures.feeders[feeder];
        if self.opened {
            grow(&mut self.cycle, on, limits.cycle_most());
        }
        if site.manual {
            let most = site.figures.manual + 1;
            if self.by_hand {
                grow(&mut self.manual, on, most);
            }
            if event.button == Button::LetGo {
                self.manual = 0;
            }
        }
        let Some(start_max) = limits.feedback else {
            return false;
        };
        let deaf = self.deaf > start_max;
        if event.drives[feeder] == Drive::Unseen {
            return deaf;
        }
        let commanded = if self.permit { long } else { 0 };
        if on > commanded {
            grow(&mut self.against, on - commanded, limits.drive_off + 1);
        } else {
            self.against = 0;
        }
        if on > 0 {
            self.deaf = 0;
        } else {
            grow(&mut self.deaf, commanded, start_max + 1);
        }
        deaf
    }
}

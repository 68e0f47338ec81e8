//! What a new board makes of an image.

use super::{BoardError, BoardImage, Ceilings};
use crate::controller::Controller;
use crate::event::EventKind;
use crate::guard::units::{ClockSeconds, DAY_MS, Millis};
use crate::guard::{Authority, LedgerTrust, Limits, Lockout, Record, Stage, State};
use crate::handover::Handover;
use crate::regulate::Regulator;
use crate::restraint::Restraints;
use crate::stages::Evidence;
use crate::store::{Found, KeptRecord, Loaded, SettingsImage};

/// Within so long after the export an image is fresh: a board that is taken back feeds nothing for a
/// day either.
const FRESH_S: u32 = DAY_MS / 1000;

/// What the new board holds before the image is taken up.
#[derive(Clone, Copy, Debug)]
pub struct Holding<'a, const N: usize, const B: usize, const H: usize, const D: usize> {
    /// The guard's record, the later of the two: `Ok(None)` where none was ever written, `Err` where
    /// one was and cannot be read.
    pub record: Result<Option<&'a Record<N, B, H, D>>, Unreadable>,
    /// What it kept; `None` where nothing was ever written. [`KeptRecord::LOST`] where it cannot be
    /// read.
    pub kept: Option<&'a KeptRecord<N>>,
}

/// A record was written and cannot be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Unreadable;

impl<const N: usize, const B: usize, const H: usize, const D: usize> Holding<'_, N, B, H, D> {
    /// A board on which nothing was ever written.
    pub const BLANK: Self = Self {
        record: Ok(None),
        kept: None,
    };
}

/// Why the day counts as used, and not as the image says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum DayUsed {
    /// One of the two boards had no trusted clock: nobody knows for how long the image was away.
    TimeOffUnknown,
    /// It was made more than a day ago, or is of the future.
    NotFresh,
    /// This board has taken up this image or a later one before.
    NotNewer,
    /// This board had a record of its own that cannot be read.
    OwnRecordLost,
}

/// What to write, and then to start from. See the [module](super) for the order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Arrival<const N: usize, const B: usize, const H: usize, const D: usize> {
    /// Settings.
    pub settings: SettingsImage<N, B>,
    /// What is kept once all else is written.
    pub kept: KeptRecord<N>,
    /// The guard's record, for both places.
    pub record: Record<N, B, H, D>,
    /// Why the day counts as used; `None`: its total is the image's.
    pub day_used: Option<DayUsed>,
    /// Whole hours since the export, rounded up, for [`Upkeep::pass_off`](crate::upkeep::Upkeep::pass_off)
    /// and the proof tests; `None`: not known.
    pub hours_off: Option<u16>,
    by: Authority,
    between: Handover,
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> BoardImage<N, B, H, D> {
    /// What this board has to hold to go on for the one in the image. A technician's; `now` is the
    /// board's real-time clock, if it is trusted.
    ///
    /// # Errors
    /// [`BoardError::NeedsAuthority`], [`BoardError::Over`], [`BoardError::NotGivenAway`]. Note it by
    /// [`Controller::note_board_refused`].
    pub fn take_up(
        self,
        by: Authority,
        ceilings: &Ceilings<N>,
        now: Option<ClockSeconds>,
        holds: Holding<'_, N, B, H, D>,
    ) -> Result<Arrival<N, B, H, D>, BoardError> {
        if by < Authority::Technician {
            return Err(BoardError::NeedsAuthority(Authority::Technician));
        }
        super::given_away(&self.kept)?;
        let limits = &self.settings.limits;
        ceilings.hold(limits).map_err(BoardError::Over)?;
        let number = self.kept.handover.number;
        let own_number = holds.kept.map_or(0, |own| own.handover.number);
        let off_s = off_s(self.record.stamp, now);
        let day_used = match off_s {
            _ if holds.record.is_err() => Some(DayUsed::OwnRecordLost),
            _ if number <= own_number => Some(DayUsed::NotNewer),
            None => Some(DayUsed::TimeOffUnknown),
            Some(Some(off_s)) if off_s <= FRESH_S => None,
            Some(_) => Some(DayUsed::NotFresh),
        };
        let mut record = self.record;
        let own = holds.record.ok().flatten();
        let least = own.map_or(0, |own| own.sequence);
        record.sequence = record.sequence.max(least).saturating_add(1);
        // Time between the boards ages nothing: two clocks are not compared to free a dose.
        record.stamp = None;
        restrain(&mut record.state, own.map(|own| &own.state));
        if holds.record.is_err() {
            record.state.trust = LedgerTrust::Lost(Millis(0));
            let all = record.state.site_lockouts;
            record.state.site_lockouts = all.with(Lockout::RecordLost);
        }
        if day_used.is_some() {
            use_up_day(limits, &mut record.state);
        }
        let hours = |off_s: u32| u16::try_from(off_s.div_ceil(3600)).unwrap_or(u16::MAX);
        Ok(Arrival {
            kept: kept(self.kept, holds.kept, number.max(own_number)),
            settings: self.settings,
            record,
            day_used,
            hours_off: off_s.flatten().map(hours),
            by,
            between: Handover {
                number: own_number,
                is_given_away: true,
            },
        })
    }
}

/// Seconds from one stamp to the other, if both are known; `Some(None)`: the later comes first.
fn off_s(then: Option<ClockSeconds>, now: Option<ClockSeconds>) -> Option<Option<u32>> {
    let (then, now) = then.zip(now)?;
    Some(now.0.checked_sub(then.0))
}

/// Takes from a state what a new board may not go on with, and adds what the board held against it.
fn restrain<const N: usize, const B: usize, const H: usize, const D: usize>(
    state: &mut State<N, B, H, D>,
    own: Option<&State<N, B, H, D>>,
) {
    state.stage = Stage::Reduced;
    state.fallback_left = Millis(0);
    state.off_bank = Millis(0);
    // What stands in the line nobody has seen.
    state.line.purged = Millis(0);
    let Some(own) = own else {
        return;
    };
    state.site_lockouts = state.site_lockouts.union(own.site_lockouts);
    let sets = state.feeder_lockouts.iter_mut().zip(own.feeder_lockouts);
    sets.for_each(|(set, own)| *set = set.union(own));
    let ran = state.ran_against.iter_mut().zip(own.ran_against);
    ran.for_each(|(ran, own)| *ran |= own);
}

/// A whole day's cap on top of what each account holds, as where a record is lost.
fn use_up_day<const N: usize, const B: usize, const H: usize, const D: usize>(
    limits: &Limits<N, B>,
    state: &mut State<N, B, H, D>,
) {
    for account in (0..N).filter(|feeder| limits.account(*feeder) == *feeder) {
        for body in 0..B {
            let day = limits.caps(account, body, Stage::Full).day;
            state.ledger.add(account, body, day);
        }
    }
}

/// What is kept from now on: what the image kept, with the restraints of both boards.
fn kept<const N: usize>(
    image: KeptRecord<N>,
    own: Option<&KeptRecord<N>>,
    number: u16,
) -> KeptRecord<N> {
    let restraints = image.restraints;
    let own = own.map_or(Restraints::NONE, |own| own.restraints);
    let observing = restraints.evidence.is_observing || own.evidence.is_observing;
    KeptRecord {
        restraints: Restraints {
            paused: restraints.paused.max(own.paused),
            is_laid_up: restraints.is_laid_up || own.is_laid_up,
            evidence: if observing {
                Evidence::OBSERVING
            } else {
                Evidence::NONE
            },
            ..restraints
        },
        // Its terminals were wired anew.
        proofs: image.proofs.due_anew(),
        handover: Handover {
            number,
            is_given_away: false,
        },
        ..image
    }
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> Arrival<N, B, H, D> {
    /// What is kept first, until all else is written: a board that was given away feeds nothing, and
    /// takes the image up again after a cut.
    #[must_use]
    pub fn between(&self) -> KeptRecord<N> {
        KeptRecord {
            handover: self.between,
            ..self.kept.clone()
        }
    }

    /// Notes in the log of the controller that starts from it what was brought, and by whom.
    pub fn note<R: Regulator>(&self, controller: &mut Controller<N, B, H, D, R>) {
        controller.around.events.push(EventKind::BoardImport {
            by: self.by,
            number: self.kept.handover.number,
            day_used: self.day_used.is_some(),
            done: true,
        });
    }
}

impl<const N: usize, const B: usize, const H: usize, const D: usize, R: Regulator>
    Controller<N, B, H, D, R>
{
    /// Notes that an image of a board was refused: it keeps what it has.
    pub fn note_board_refused(&mut self, by: Authority) {
        self.around.events.push(EventKind::BoardImport {
            by,
            number: 0,
            day_used: false,
            done: false,
        });
    }
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> Loaded<N, B, H, D> {
    /// What of this a [`Holding`] says: the later record, none where none was ever written.
    ///
    /// # Errors
    /// [`Unreadable`] where one was written.
    pub fn later(&self) -> Result<Option<&Record<N, B, H, D>>, Unreadable> {
        let whole = self.records.iter().flatten();
        let later = whole.max_by_key(|record| record.sequence);
        if later.is_none() && self.found != [Found::Empty; 2] {
            return Err(Unreadable);
        }
        Ok(later)
    }
}

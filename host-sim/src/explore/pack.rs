//! A world in 32 bytes, whole: two worlds are the same if their bytes are, and nothing is hashed away.
//!
//! [`World::settle`] takes out first what cannot matter any more.

use dosewarden::guard::units::{DAY_MS, Dose, MilliPh, Millis};
use dosewarden::guard::{
    CycleStage, FeederState, LedgerTrust, LockoutSet, Mode, ResponseState, Stage, State,
};

use super::coder::Coder;
use super::facts::LEVELS;
use super::site::Site;
use super::truth::{FeederTruth, Truth, WINDOW_MAX};
use super::world::{Store, World};

/// Words of a packed world.
pub(super) const WORDS: usize = 4;
/// A packed world.
pub(super) type Packed = [u64; WORDS];

/// A record, by what it keeps of the state, and what called for a person when it was sealed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Image {
    kept: u64,
    pub(super) causes: u16,
    pub(super) feeder_causes: u16,
    pub(super) lost: bool,
}

/// What the record keeps, as the guard's own format does.
fn kept<const W: bool, const N: usize, const B: usize, const H: usize, const D: usize>(
    c: &mut Coder<W>,
    site: &Site<N, B>,
    state: &mut State<N, B, H, D>,
) {
    let figures = &site.figures;
    if site.ledger {
        let most = figures.feeders[0].day + 1;
        for account in state.ledger.accounts.iter_mut().flatten() {
            for bucket in account.hour.iter_mut().chain(&mut account.day) {
                *bucket = c.dose("a bucket", *bucket, most);
            }
            total(account);
        }
    }
    if site.store {
        let trust = match state.trust {
            LedgerTrust::Trusted => 0,
            LedgerTrust::Lost(Millis(0)) => 1,
            LedgerTrust::Lost(_) => 2,
        };
        state.trust = match c.field("trust", trust, 2) {
            0 => LedgerTrust::Trusted,
            1 => LedgerTrust::Lost(Millis(0)),
            _ => LedgerTrust::Lost(Millis(DAY_MS)),
        };
    }
    let bits = c.field("site lockouts", u32::from(state.site_lockouts.bits()), 0x7F);
    state.site_lockouts = LockoutSet::from_bits(bits as u16).unwrap_or(LockoutSet::NONE);
    for set in &mut state.feeder_lockouts {
        let bits = c.field("feeder lockouts", u32::from(set.bits() >> 7), 0xF);
        *set = LockoutSet::from_bits((bits as u16) << 7).unwrap_or(LockoutSet::NONE);
    }
    for (ran, limits) in state.ran_against.iter_mut().zip(&figures.feeders) {
        let most = u32::from(limits.feedback.is_some());
        *ran = c.field("ran against", u32::from(*ran), most) == 1;
    }
    let full = c.flag("stage", state.stage == Stage::Full);
    state.stage = if full { Stage::Full } else { Stage::Reduced };
    for (bodies, limits) in state.since_cycle.iter_mut().zip(&figures.feeders) {
        for since in bodies {
            *since = c.time("since cycle", *since, limits.hold);
        }
    }
    for since in &mut state.since_drive {
        *since = c.time("since drive", *since, figures.purge);
    }
    for (standing, limits) in state.line.standing.iter_mut().zip(&figures.feeders) {
        *standing = c.time("standing", *standing, limits.drive_off + 2);
    }
    state.line.purged = c.time("purged", state.line.purged, figures.purge);
    state.fallback_left = c.time("fallback left", state.fallback_left, figures.fallback);
    if figures.new_probe > figures.power_on {
        state.new_probe = c.flag("new probe", state.new_probe);
    }
    let selected = state.selected.map_or(0, |body| body + 1);
    state.selected = c.small("selected", selected, B as u8).checked_sub(1);
}

/// Sums as the guard keeps them.
pub(super) fn total<const H: usize, const D: usize>(
    account: &mut dosewarden::guard::Account<H, D>,
) {
    let sum = |buckets: &[Dose]| Dose(buckets.iter().map(|dose| dose.0).sum());
    account.hour_total = sum(&account.hour);
    account.day_total = sum(&account.day);
}

fn feeder_state<const W: bool, const N: usize, const B: usize>(
    c: &mut Coder<W>,
    site: &Site<N, B>,
    feeder: usize,
    own: &mut FeederState,
) {
    let figures = &site.figures;
    let limits = &figures.feeders[feeder];
    own.stage = match c.field("stage of the cycle", own.stage as u32, 3) {
        0 => CycleStage::Idle,
        1 => CycleStage::Closing,
        2 => CycleStage::Pending,
        _ => CycleStage::Open,
    };
    own.body = c.small("body of the charge", own.body, B as u8 - 1);
    let modes = if site.manual || figures.fallback > 0 {
        2
    } else {
        0
    };
    own.mode = match c.field("mode", own.mode as u32, modes) {
        0 => Mode::Automatic,
        1 => Mode::Manual,
        _ => Mode::Fallback,
    };
    let most = limits.cycle_most();
    own.charge = c.dose("charge", own.charge, most);
    own.next_slice = c.dose("next slice", own.next_slice, 0);
    own.allowed = c.time("allowed", own.allowed, limits.cycle);
    own.run = c.time("run", own.run, most);
    own.cut = c.past("cut", own.cut, 1);
    own.permit = c.time("permit", own.permit, 1);
    own.off = c.time("off", own.off, limits.drive_off + 2);
    if let Some(start_max) = limits.feedback {
        own.against = c.past("against", own.against, limits.drive_off);
        own.deaf = c.past("deaf", own.deaf, start_max);
        own.clear = c.time("clear", own.clear, limits.clear);
    }
    if site.manual {
        own.manual = c.time("manual", own.manual, figures.manual);
    }
    if limits.governed {
        own.probe_failed = c.past("probe failed", own.probe_failed, figures.failure);
    }
}

fn response<const W: bool>(
    c: &mut Coder<W>,
    own: &mut ResponseState,
    unanswered_max: u8,
    every: Millis,
) {
    let level = own.before.map_or(0, |ph| {
        let found = LEVELS.iter().position(|level| *level == ph.0);
        found.map_or(u32::MAX, |index| index as u32 + 1)
    });
    let level = c.field("pH before", level, LEVELS.len() as u32);
    own.before = level
        .checked_sub(1)
        .map(|index| MilliPh(LEVELS[index as usize]));
    own.awaited = c.small("awaited", own.awaited, 4);
    own.unanswered = c.small("unanswered", own.unanswered, unanswered_max);
    own.quarter = c.flag("quarter", own.quarter);
    own.wrong = c.flag("wrong", own.wrong);
    let over = c.flag("interval over", own.since_cycle >= every);
    own.since_cycle = if over { every } else { Millis(0) };
}

fn feeder_truth<const W: bool, const N: usize, const B: usize>(
    c: &mut Coder<W>,
    site: &Site<N, B>,
    feeder: usize,
    own: &mut FeederTruth<B>,
) {
    let figures = &site.figures;
    let limits = &figures.feeders[feeder];
    own.permit = c.flag("permit", own.permit);
    own.tail = c.small("tail", own.tail, limits.drive_off);
    own.opened = c.flag("opened", own.opened);
    own.cycle = c.small("truth of the cycle", own.cycle, limits.cycle_most());
    own.body = c.small("truth of the body", own.body, B as u8 - 1);
    own.standing = c.small("truth of the line", own.standing, limits.drive_off + 2);
    own.since_drive = c.small("truth since drive", own.since_drive, figures.purge);
    for since in &mut own.since_drop {
        *since = c.small("truth since drop", *since, limits.hold);
    }
    if let Some(start_max) = limits.feedback {
        own.against = c.small("truth against", own.against, limits.drive_off + 1);
        own.deaf = c.small("truth deaf", own.deaf, start_max + 1);
        own.ran = c.flag("truth ran", own.ran);
    }
    if site.manual {
        own.by_hand = c.flag("by hand", own.by_hand);
        own.manual = c.small("truth manual", own.manual, figures.manual + 1);
    }
    own.causes = (c.field("feeder causes", u32::from(own.causes >> 7), 0xF) as u16) << 7;
    if site.response {
        let most = site.limits.spec().response.unanswered_max;
        let answer = &mut own.answer;
        answer.before = c.small("truth before", answer.before, LEVELS.len() as u8);
        answer.awaited = c.flag("truth awaited", answer.awaited);
        answer.rest = c.small("truth rest", answer.rest, limits.hold);
        answer.unanswered = c.small("truth unanswered", answer.unanswered, most);
        answer.quarter = c.flag("truth quarter", answer.quarter);
        answer.wrong = c.flag("truth wrong", answer.wrong);
        answer.waited = c.flag("truth waited", answer.waited);
    }
}

fn truth<const W: bool, const N: usize, const B: usize>(
    c: &mut Coder<W>,
    site: &Site<N, B>,
    all: &mut Truth<N, B>,
) {
    let figures = &site.figures;
    all.powered = c.small("truth powered", all.powered, figures.new_probe);
    if figures.new_probe > figures.power_on {
        all.new_probe = c.flag("truth new probe", all.new_probe);
    }
    all.flow = c.small("truth flow", all.flow, figures.prove.max(figures.settle));
    if site.limits.spec().pump_contact.is_fitted() {
        all.apart = c.small("truth apart", all.apart, figures.stuck + 1);
    }
    if figures.feeders.iter().any(|one| one.governed) {
        all.failed = c.small("truth failed", all.failed, figures.failure + 1);
    }
    all.flowed = c.small("truth flowed", all.flowed, figures.purge);
    let body = all.body.map_or(0, |body| body + 1);
    all.body = c.small("truth of the valves", body, B as u8).checked_sub(1);
    all.steady = c.small("truth steady", all.steady, figures.steady);
    all.fallback = c.small("truth fallback", all.fallback, figures.fallback);
    all.causes = c.field("causes", u32::from(all.causes), 0x7F) as u16;
    if site.store {
        all.lost = c.flag("truth lost", all.lost);
    }
    if site.ledger {
        for fed in all.hour.iter_mut().chain(&mut all.day) {
            *fed = c.small("truth fed", *fed, WINDOW_MAX);
        }
    }
    for (feeder, own) in all.feeders.iter_mut().enumerate() {
        feeder_truth(c, site, feeder, own);
    }
}

/// Bits of an image's kept part, in this build's largest store site.
const IMAGE_BITS: u32 = 48;

fn image<const W: bool>(c: &mut Coder<W>, held: &mut Option<Image>) {
    if !c.flag("an image", held.is_some()) {
        *held = None;
        return;
    }
    let was = held.unwrap_or(Image {
        kept: 0,
        causes: 0,
        feeder_causes: 0,
        lost: false,
    });
    let low = c.field("image", was.kept as u32, u32::MAX);
    let high = c.field(
        "image",
        (was.kept >> 32) as u32,
        (1 << (IMAGE_BITS - 32)) - 1,
    );
    *held = Some(Image {
        kept: u64::from(low) | (u64::from(high) << 32),
        causes: c.field("image's causes", u32::from(was.causes), 0x7F) as u16,
        feeder_causes: (c.field("image's causes", u32::from(was.feeder_causes >> 7), 0xF) as u16)
            << 7,
        lost: c.flag("image lost", was.lost),
    });
}

impl Image {
    /// What a record sealed now would keep.
    pub(super) fn of<const N: usize, const B: usize, const H: usize, const D: usize>(
        site: &Site<N, B>,
        world: &World<N, B, H, D>,
    ) -> Self {
        let mut coder = Coder::<true>::new([0; WORDS]);
        let mut state = world.state;
        kept(&mut coder, site, &mut state);
        for (own, limits) in state.feeders.iter().zip(&site.figures.feeders) {
            coder.dose("image's charge", own.charge, limits.cycle_most());
        }
        debug_assert!(
            coder.at <= IMAGE_BITS && coder.bad.is_none(),
            "{:?}",
            coder.bad
        );
        Self {
            kept: coder.words[0],
            causes: world.truth.causes,
            feeder_causes: world.truth.feeders[0].causes,
            lost: world.truth.lost,
        }
    }

    /// The state that it keeps, the rest as at power-on.
    pub(super) fn state<const N: usize, const B: usize, const H: usize, const D: usize>(
        &self,
        site: &Site<N, B>,
    ) -> State<N, B, H, D> {
        let mut coder = Coder::<false>::new([self.kept, 0, 0, 0]);
        let mut state = State::POWER_ON;
        kept(&mut coder, site, &mut state);
        for (own, limits) in state.feeders.iter_mut().zip(&site.figures.feeders) {
            own.charge = coder.dose("image's charge", Dose(0), limits.cycle_most());
        }
        state
    }
}

impl<const N: usize, const B: usize, const H: usize, const D: usize> World<N, B, H, D> {
    fn code<const W: bool>(&mut self, c: &mut Coder<W>, site: &Site<N, B>) {
        let figures = &site.figures;
        let state = &mut self.state;
        kept(c, site, state);
        for (feeder, own) in state.feeders.iter_mut().enumerate() {
            feeder_state(c, site, feeder, own);
        }
        if site.response {
            let limits = &site.limits.spec().response;
            for own in &mut state.response {
                response(c, own, limits.unanswered_max, limits.probe_cycle_every);
            }
        }
        state.powered = c.time("powered", state.powered, figures.new_probe);
        state.flow_proven = c.time("flow proven", state.flow_proven, figures.prove);
        state.settled = c.time("settled", state.settled, figures.settle);
        if site.limits.spec().pump_contact.is_fitted() {
            state.disagree = c.past("disagree", state.disagree, figures.stuck);
        }
        state.steady = c.time("steady", state.steady, figures.steady);
        if site.store {
            state.save_wanted = c.flag("save wanted", state.save_wanted);
            image(c, &mut self.store.old);
            image(c, &mut self.store.new);
            self.store.changed = c.flag("changed", self.store.changed);
        }
        truth(c, site, &mut self.truth);
    }

    /// In 32 bytes.
    ///
    /// # Errors
    /// The field that does not fit: what is said of the site's times is wrong.
    pub(super) fn pack(&self, site: &Site<N, B>) -> Result<Packed, &'static str> {
        let mut coder = Coder::<true>::new([0; WORDS]);
        let mut copy = *self;
        copy.code(&mut coder, site);
        coder.bad.map_or(Ok(coder.words), Err)
    }

    /// Bits that a packed world of this site takes.
    #[cfg(test)]
    pub(super) fn bits(&self, site: &Site<N, B>) -> u32 {
        let mut coder = Coder::<true>::new([0; WORDS]);
        let mut copy = *self;
        copy.code(&mut coder, site);
        coder.at
    }

    pub(super) fn unpack(site: &Site<N, B>, words: &Packed) -> Self {
        let mut world = Self {
            state: State::POWER_ON,
            truth: Truth::new(site),
            store: Store::default(),
        };
        world.state.trust = LedgerTrust::Trusted;
        let mut coder = Coder::<false>::new(*words);
        world.code(&mut coder, site);
        world.settle(site);
        world
    }
}

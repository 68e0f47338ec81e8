//! What was really fed, in the worst case: the drive runs from the permit on until the next
//! judgement, or with a timer until the permit's exact end; and then as long as it takes to stop.
//! From this, and from the facts as they were given, the properties are checked. Nothing here reads
//! the guard's state.

use dosewarden_guard::units::{Fitted, Millis};
use dosewarden_guard::{FeederSpec, Limits};

/// Feed in one stretch, on the clock of the world.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stretch {
    pub(crate) from: u64,
    pub(crate) to: u64,
    pub(crate) account: usize,
    pub(crate) body: usize,
    /// It went, or may have gone, where nobody meant it: the valves moved under a running drive.
    astray: bool,
}

/// One drive.
#[derive(Clone, Copy, Debug, Default)]
struct Drive {
    permit: u64,
    tail: u64,
    /// Body of the last permit.
    body: usize,
    /// On time since the last charge.
    cycle: u64,
    /// On time in the last interval.
    on: u64,
    manual: u64,
    by_hand: bool,
}

/// All drives, and the log of what they fed.
pub(crate) struct Truth {
    drives: Vec<Drive>,
    pub(crate) world_ms: u64,
    /// When the last interval began.
    since_ms: u64,
    pub(crate) fed: Vec<Stretch>,
    /// Time that drives ran on because no judgement came in time.
    pub(crate) hang_ms: u64,
}

fn enabled<const N: usize, const B: usize>(limits: &Limits<N, B>, feeder: usize) -> &FeederSpec<B> {
    limits.feeder(feeder).expect("all feeders are in use")
}

impl Truth {
    pub(crate) fn new(feeders: usize) -> Self {
        Self {
            drives: vec![Drive::default(); feeders],
            world_ms: 0,
            since_ms: 0,
            fed: Vec::new(),
            hang_ms: 0,
        }
    }

    /// Lets time pass until the next judgement, or until the power is cut.
    pub(crate) fn pass<const N: usize, const B: usize>(
        &mut self,
        limits: &Limits<N, B>,
        elapsed: u64,
        deaf: &[bool],
    ) {
        let gap = u64::from(limits.spec().tick_gap_max.0);
        self.since_ms = self.world_ms;
        for (feeder, drive) in self.drives.iter_mut().enumerate() {
            let spec = enabled(limits, feeder);
            let off = u64::from(spec.drive_off.0);
            let on = match (drive.permit, spec.cut_timer) {
                (0, _) => {
                    let on = drive.tail.min(elapsed);
                    drive.tail -= on;
                    on
                }
                (permit, Fitted::Fitted(())) => {
                    let on = (permit + off).min(elapsed);
                    drive.tail = (permit + off - on).min(off);
                    on
                }
                (_, Fitted::NotFitted) => {
                    drive.tail = off;
                    self.hang_ms += elapsed.saturating_sub(gap);
                    elapsed
                }
            };
            let on = if deaf[feeder] { 0 } else { on };
            drive.on = on;
            drive.cycle += on;
            drive.manual += if drive.by_hand { on } else { 0 };
            if on > 0 {
                self.fed.push(Stretch {
                    from: self.world_ms,
                    to: self.world_ms + on,
                    account: limits.account(feeder),
                    body: drive.body,
                    astray: false,
                });
            }
        }
        self.world_ms += elapsed;
    }

    /// The valves were seen to select another body, or none that is known: what ran since the last
    /// judgement may have gone there.
    pub(crate) fn valves(&mut self, bodies: usize, seen: Option<usize>) {
        let recent = self
            .fed
            .iter()
            .rev()
            .take_while(|one| one.from >= self.since_ms);
        let mut also = Vec::new();
        for one in recent {
            let there = (0..bodies).filter(|body| seen.is_none_or(|seen| seen == *body));
            also.extend(there.filter(|body| *body != one.body).map(|body| Stretch {
                body,
                astray: true,
                ..*one
            }));
        }
        self.fed.extend(also);
    }

    /// Milliseconds on in the last interval: what honest feedback says.
    pub(crate) fn on(&self, feeder: usize) -> Millis {
        Millis(u32::try_from(self.drives[feeder].on).unwrap())
    }

    /// The bodies that an account fed, or may have fed, in the last interval.
    pub(crate) fn fed_now(&self, account: usize) -> impl Iterator<Item = usize> {
        let recent = self
            .fed
            .iter()
            .rev()
            .take_while(|one| one.from >= self.since_ms);
        let mine = recent.filter(move |one| one.account == account);
        mine.map(|one| one.body)
    }

    pub(crate) fn permit(&mut self, feeder: usize, run: u64, body: usize, by_hand: bool) {
        self.drives[feeder].permit = run;
        if run > 0 {
            self.drives[feeder].by_hand = by_hand;
            self.drives[feeder].body = body;
        }
    }

    pub(crate) fn charged(&mut self, feeder: usize) {
        self.drives[feeder].cycle = 0;
    }

    /// On time since the last charge.
    pub(crate) fn cycle(&self, feeder: usize) -> u64 {
        self.drives[feeder].cycle
    }

    /// On time since the button was let go.
    pub(crate) fn manual(&mut self, feeder: usize, held: bool) -> u64 {
        if !held {
            self.drives[feeder].manual = 0;
        }
        self.drives[feeder].manual
    }

    /// Without power every drive stands.
    pub(crate) fn power_cut(&mut self, off_ms: u64) {
        for drive in &mut self.drives {
            drive.permit = 0;
            drive.tail = 0;
            drive.on = 0;
            drive.cycle = 0;
            drive.manual = 0;
        }
        self.world_ms += off_ms;
    }

    /// Most on time of an account in a body in any window, to the millisecond. A window ends where a
    /// feed ends that was meant for this body: what goes astray when the valves move cannot be held
    /// back, but counts from then on.
    pub(crate) fn most_in(&self, account: usize, body: usize, window_ms: u64) -> u64 {
        let mine: Vec<&Stretch> = self
            .fed
            .iter()
            .filter(|one| one.account == account && one.body == body)
            .collect();
        let meant = mine.iter().filter(|one| !one.astray);
        let ends = meant.map(|one| one.to);
        ends.map(|end| {
            let start = end.saturating_sub(window_ms);
            mine.iter()
                .map(|one| one.to.min(end).saturating_sub(one.from.max(start)))
                .sum()
        })
        .max()
        .unwrap_or(0)
    }
}

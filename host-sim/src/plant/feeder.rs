//! A feeder: contact, motor, what leaves it, and its drum.

use super::chemistry::CHLORINE_G_PER_MOL;
use super::fault::{FeederFault, PlantFault};
use super::interface::{FeederCommand, FeederSense, FeederTruth};
use super::line::Product;
use super::relay::{Interval, Relay};
use super::spec::{FeederKind, FeederSpec};

#[derive(Clone, Debug)]
struct Upset {
    welded: bool,
    never_closes: bool,
    late_off_ms: u32,
    rate: f64,
    feedback: Option<bool>,
    lost_prime: bool,
    siphon_per_h: f64,
    empty: bool,
    level: Option<bool>,
    strength: f64,
    cell_dead: bool,
    cell_switch: Option<bool>,
}

impl Default for Upset {
    fn default() -> Self {
        Self {
            welded: false,
            never_closes: false,
            late_off_ms: 0,
            rate: 1.0,
            feedback: None,
            lost_prime: false,
            siphon_per_h: 0.0,
            empty: false,
            level: None,
            strength: 1.0,
            cell_dead: false,
            cell_switch: None,
        }
    }
}

/// A feeder and its drum.
#[derive(Clone, Debug)]
pub(super) struct Feeder {
    spec: FeederSpec,
    upset: Upset,
    relay: Relay,
    /// Amount a ms of drive-on time, true.
    per_ms: f64,
    /// Moles of product an amount.
    moles: f64,
    /// Amount in an mL (a generator: in a mg).
    per_ml: f64,
}

impl Feeder {
    /// A feeder at rest; `spec` has been validated.
    pub(super) fn new(spec: &FeederSpec) -> Self {
        let (per_ms, moles, per_ml) = match spec.kind {
            FeederKind::Acid {
                ml_per_min,
                mol_per_l,
            } => (ml_per_min / 60.0, mol_per_l / 1e6, 1000.0),
            FeederKind::Hypochlorite {
                ml_per_min,
                g_per_l,
            } => (
                ml_per_min / 60.0,
                g_per_l / CHLORINE_G_PER_MOL / 1e6,
                1000.0,
            ),
            FeederKind::Generator { g_per_h, .. } => {
                (g_per_h / 3600.0, 1e-3 / CHLORINE_G_PER_MOL, 1.0)
            }
        };
        Self {
            per_ms: per_ms * spec.rate_factor,
            moles,
            per_ml,
            spec: spec.clone(),
            upset: Upset::default(),
            relay: Relay::default(),
        }
    }

    /// Amount in a full drum; infinite for a generator.
    pub(super) fn full_drum(&self) -> f64 {
        match self.spec.kind {
            FeederKind::Generator { .. } => f64::INFINITY,
            _ => self.spec.drum_l * 1e6,
        }
    }

    pub(super) fn truth(&self) -> FeederTruth {
        FeederTruth::new(self.spec.kind.product(), self.full_drum())
    }

    pub(super) fn set_faults(&mut self, index: usize, active: &[PlantFault]) {
        let mut upset = Upset::default();
        for fault in active {
            let PlantFault::Feeder(at, fault) = *fault else {
                continue;
            };
            if at != index {
                continue;
            }
            match fault {
                FeederFault::ContactWelded => upset.welded = true,
                FeederFault::NeverCloses => upset.never_closes = true,
                FeederFault::LateOff(ms) => upset.late_off_ms = ms,
                FeederFault::Rate(factor) => upset.rate = factor.max(0.0),
                FeederFault::FeedbackStuckOff => upset.feedback = Some(false),
                FeederFault::FeedbackStuckOn => upset.feedback = Some(true),
                FeederFault::LostPrime => upset.lost_prime = true,
                FeederFault::Siphon(per_h) => upset.siphon_per_h = per_h.max(0.0),
                FeederFault::DrumEmpty => upset.empty = true,
                FeederFault::LevelStuckFull => upset.level = Some(true),
                FeederFault::LevelStuckEmpty => upset.level = Some(false),
                FeederFault::Strength(factor) => upset.strength = factor.max(0.0),
                FeederFault::CellDead => upset.cell_dead = true,
                FeederFault::CellSwitchStuckOn => upset.cell_switch = Some(true),
                FeederFault::CellSwitchStuckOff => upset.cell_switch = Some(false),
            }
        }
        self.upset = upset;
    }

    /// When in the step the motor has power: own contact and master in series, and mains.
    pub(super) fn drive(
        &mut self,
        command: FeederCommand,
        allowed_ms: u32,
        dt_ms: u32,
        master: Interval,
    ) -> Interval {
        let asked = if command.on {
            command.cut_after_ms.unwrap_or(dt_ms).min(allowed_ms)
        } else {
            0
        };
        let late = self.spec.off_delay_ms + self.upset.late_off_ms;
        let mut own = self.relay.step(asked, dt_ms, self.spec.on_delay_ms, late);
        if self.upset.never_closes {
            own = Interval::EMPTY;
        }
        if self.upset.welded {
            own = Interval::whole(dt_ms);
        }
        own.and(master)
    }

    /// Feeds for a drive interval, updates `truth`, and gives the moles that left.
    pub(super) fn feed(
        &self,
        on: Interval,
        dt_ms: u32,
        moving: bool,
        truth: &mut FeederTruth,
    ) -> Product {
        let turned = f64::from(on.len()) * self.per_ms * self.upset.rate;
        let blocked = self.upset.lost_prime || self.upset.cell_dead;
        let leak = self.upset.siphon_per_h * self.per_ml * f64::from(dt_ms) / 3_600_000.0;
        let wanted = if blocked { leak } else { turned + leak };
        let fed = if self.upset.empty {
            0.0
        } else {
            wanted.min(truth.drum)
        };
        truth.drive_on_ms = on.len();
        truth.drive_on = on.len() > 0 && on.end == dt_ms;
        truth.drum -= fed;
        truth.fed = fed;
        truth.fed_total += fed;
        truth.fed_standing = if moving { 0.0 } else { fed };
        truth.fed_standing_total += truth.fed_standing;
        let moles = fed * self.moles * self.upset.strength;
        match self.spec.kind {
            FeederKind::Acid { .. } => Product {
                acid: moles,
                chlorine: 0.0,
            },
            _ => Product {
                acid: 0.0,
                chlorine: moles,
            },
        }
    }

    /// Whether there is nothing to feed.
    pub(super) fn is_empty(&self, truth: &FeederTruth) -> bool {
        self.upset.empty || truth.drum <= 0.0
    }

    /// What its wiring shows after a step of `dt_ms`.
    pub(super) fn sense(&self, truth: &FeederTruth, dt_ms: u32, cell_flow: bool) -> FeederSense {
        let shown = match self.upset.feedback {
            Some(true) => dt_ms,
            Some(false) => 0,
            None => truth.drive_on_ms,
        };
        let has_cell_switch = matches!(
            self.spec.kind,
            FeederKind::Generator {
                cell_switch: true,
                ..
            }
        );
        FeederSense {
            drive_on_ms: self.spec.feedback.then_some(shown),
            stock: self.spec.level_switch_l.map(|litres| {
                let true_level = !self.upset.empty && truth.drum >= litres * 1e6;
                self.upset.level.unwrap_or(true_level)
            }),
            cell_flow: has_cell_switch.then(|| self.upset.cell_switch.unwrap_or(cell_flow)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn acid() -> Feeder {
        Feeder::new(&FeederSpec {
            on_delay_ms: 0,
            level_switch_l: Some(5.0),
            ..FeederSpec::new(FeederKind::Acid {
                ml_per_min: 60.0,
                mol_per_l: 10.0,
            })
        })
    }

    #[test]
    fn a_second_of_a_millilitre_a_second() {
        let feeder = acid();
        let mut truth = feeder.truth();
        let out = feeder.feed(Interval::whole(1000), 1000, true, &mut truth);
        assert!((truth.fed - 1000.0).abs() < 1e-9);
        assert!((out.acid - 0.01).abs() < 1e-12);
        assert_eq!(truth.fed_standing, 0.0);
        feeder.feed(Interval::whole(500), 1000, false, &mut truth);
        assert!((truth.fed_standing - 500.0).abs() < 1e-9);
        assert!(!truth.drive_on && truth.drive_on_ms == 500);
    }

    #[test]
    fn a_generator_counts_milligrams() {
        let cell = Feeder::new(&FeederSpec::new(FeederKind::Generator {
            g_per_h: 36.0,
            cell_switch: true,
        }));
        let mut truth = cell.truth();
        let out = cell.feed(Interval::whole(1000), 1000, true, &mut truth);
        assert!((truth.fed - 10.0).abs() < 1e-9);
        assert!((out.chlorine * CHLORINE_G_PER_MOL - 0.01).abs() < 1e-12);
        assert_eq!(truth.drum, f64::INFINITY);
        assert_eq!(cell.sense(&truth, 1000, true).cell_flow, Some(true));
    }

    #[test]
    fn a_drum_gives_no_more_than_it_has() {
        let feeder = acid();
        let mut truth = feeder.truth();
        truth.drum = 300.0;
        feeder.feed(Interval::whole(1000), 1000, true, &mut truth);
        assert_eq!((truth.fed, truth.drum), (300.0, 0.0));
        assert!(feeder.is_empty(&truth));
        assert_eq!(feeder.sense(&truth, 1000, true).stock, Some(false));
    }

    #[test]
    fn the_master_cuts_a_welded_contact() {
        let mut feeder = acid();
        feeder.set_faults(0, &[PlantFault::Feeder(0, FeederFault::ContactWelded)]);
        let on = feeder.drive(FeederCommand::OFF, 1000, 1000, Interval::whole(1000));
        assert_eq!(on.len(), 1000);
        let cut = feeder.drive(FeederCommand::OFF, 1000, 1000, Interval::EMPTY);
        assert_eq!(cut.len(), 0);
    }

    #[test]
    fn faults_of_output_and_senses() {
        let mut feeder = acid();
        let fed = |feeder: &Feeder| {
            let mut truth = feeder.truth();
            feeder.feed(Interval::whole(1000), 1000, true, &mut truth);
            truth.fed
        };
        let mut with = |fault| {
            feeder.set_faults(0, &[PlantFault::Feeder(0, fault)]);
            feeder.clone()
        };
        assert_eq!(fed(&with(FeederFault::LostPrime)), 0.0);
        assert_eq!(fed(&with(FeederFault::DrumEmpty)), 0.0);
        assert!((fed(&with(FeederFault::Rate(2.0))) - 2000.0).abs() < 1e-9);
        assert!((fed(&with(FeederFault::Siphon(36.0))) - 1010.0).abs() < 1e-9);
        let full = with(FeederFault::LevelStuckFull);
        let mut truth = full.truth();
        truth.drum = 0.0;
        assert_eq!(full.sense(&truth, 1000, true).stock, Some(true));
        let lies = with(FeederFault::FeedbackStuckOn);
        assert_eq!(lies.sense(&truth, 1000, true).drive_on_ms, Some(1000));
        let mut late = with(FeederFault::LateOff(700));
        late.drive(FeederCommand::ON, 1000, 1000, Interval::whole(1000));
        let on = late.drive(FeederCommand::OFF, 1000, 1000, Interval::whole(1000));
        assert_eq!(on.len(), 750);
    }
}

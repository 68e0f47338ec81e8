//! A feeder: contact, motor, what leaves it, and its drum.

use super::fault::{FeederFault, PlantFault};
use super::interface::{FeederCommand, FeederSense, FeederTruth, Product as PlantProduct};
use super::line::Product;
use super::relay::{Interval, Relay};
use super::spec::{FeederKind, FeederSpec};
use crate::water::units::CHLORINE_MG_PER_MMOL as CHLORINE_G_PER_MOL;

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
    wrong_product: bool,
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
            wrong_product: false,
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
    /// Free alkali an amount, mol.
    alkali: f64,
    /// What the strength's reciprocal grows by in a ms: decay of second order.
    decay_per_ms: f64,
}

/// Litres of hydrogen, at 20 C and 1 atm, that a cell makes with a mole of chlorine (as much of the
/// one as of the other; the ideal gas): 26 g/h of chlorine come with 8.8 L/h.
pub const HYDROGEN_L_PER_MOL: f64 = 24.055;

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
            alkali: spec.free_alkali_eq_l / 1e6,
            decay_per_ms: spec.decay.map_or(0.0, |decay| {
                decay.speed() / (decay.half_life_days * 86_400_000.0)
            }),
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
                FeederFault::WrongProduct => upset.wrong_product = true,
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
        let moles = fed * self.moles * self.upset.strength * truth.strength;
        if self.decay_per_ms > 0.0 {
            truth.strength /= 1.0 + truth.strength * self.decay_per_ms * f64::from(dt_ms);
        }
        let (mut acid, mut chlorine) = (0.0, 0.0);
        match self.spec.kind {
            FeederKind::Acid { .. } => acid = moles,
            FeederKind::Hypochlorite { .. } => chlorine = moles,
            FeederKind::Generator { .. } => {
                chlorine = moles;
                truth.hydrogen_l = if moving {
                    0.0
                } else {
                    truth.hydrogen_l + moles * HYDROGEN_L_PER_MOL
                };
            }
        }
        let alkali = fed * self.alkali;
        if self.upset.wrong_product && self.spec.kind.product() != PlantProduct::GeneratorChlorine {
            core::mem::swap(&mut acid, &mut chlorine);
        }
        Product {
            acid,
            chlorine,
            alkali,
        }
    }

    /// A person fills the drum up with fresh product.
    pub(super) fn refill(&self, truth: &mut FeederTruth) {
        let full = self.full_drum();
        if full.is_finite() && full > truth.drum {
            let kept = truth.drum.max(0.0) / full;
            truth.strength = truth.strength * kept + 1.0 - kept;
        }
        truth.drum = full;
    }

    /// How much faster CO2 leaves the water for what the cell did, cm/h.
    pub(super) fn strip_cm_h(&self, truth: &FeederTruth, dt_ms: u32) -> f64 {
        match self.spec.kind {
            FeederKind::Generator { co2_strip_cm_h, .. } => {
                co2_strip_cm_h * f64::from(truth.drive_on_ms) / f64::from(dt_ms)
            }
            _ => 0.0,
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
mod tests;

//! Random sites that are all valid: small times, so that a short sequence reaches everything.

use dosewarden_guard::units::{
    Dose, FlowMlPerS, MilliPh, Millis, Millivolts, MinuteOfDay, Percent, Rate,
};
use dosewarden_guard::{
    BodyLimits, Cutoff, FallbackCaps, FallbackLimits, FeederLimits, FeederSpec, Fitted, Governor,
    Hours, Limits, LimitsSpec, Product, ResponseLimits, Restart,
};
use proptest::prelude::*;

/// Which feeders a site has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kit {
    AcidHypo,
    AcidCell,
    BaseHypo,
    TwoAcids,
    AcidBaseHypo,
    TwoAcidsHypo,
}

impl Kit {
    pub(crate) const fn products(self) -> [Product; 3] {
        use Product::{Acid, Base, GeneratedChlorine, Hypochlorite};
        match self {
            Self::AcidHypo => [Acid, Hypochlorite, Hypochlorite],
            Self::AcidCell => [Acid, GeneratedChlorine, GeneratedChlorine],
            Self::BaseHypo => [Base, Hypochlorite, Hypochlorite],
            Self::TwoAcids => [Acid, Acid, Acid],
            Self::AcidBaseHypo => [Acid, Base, Hypochlorite],
            Self::TwoAcidsHypo => [Acid, Acid, Hypochlorite],
        }
    }

    pub(crate) const fn feeders(self) -> usize {
        match self {
            Self::AcidBaseHypo | Self::TwoAcidsHypo => 3,
            _ => 2,
        }
    }
}

/// A site by a few figures. Everything else follows from them.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Plan {
    pub(crate) kit: Kit,
    pub(crate) bodies: usize,
    pub(crate) feedback: bool,
    pub(crate) cut_timer: bool,
    pub(crate) level: bool,
    pub(crate) cell_switch: bool,
    pub(crate) hours: bool,
    pub(crate) fallback: bool,
    /// Bit 1: a flow switch; bit 2: a meter; bit 4: the pump's contact. One of the first two.
    pub(crate) witnesses: u8,
    pub(crate) restart_person: bool,
    pub(crate) timed_share: bool,
    pub(crate) catch_test: bool,
    pub(crate) slices: bool,
    pub(crate) flow_prove_s: u32,
    pub(crate) settle_s: u32,
    pub(crate) hold_s: u32,
    pub(crate) purge_s: u32,
    pub(crate) power_on_s: u32,
    pub(crate) resume_s: u32,
    pub(crate) drive_off_ms: u32,
    /// Run of a full cycle, in ticks' worth.
    pub(crate) cycle_ticks: u32,
    /// Longest run, in percent of the cycle's.
    pub(crate) run_max_percent: u32,
    /// Cycles in an hour, hours in a day.
    pub(crate) hour_cycles: u32,
    pub(crate) day_hours: u32,
    pub(crate) unanswered_max: u8,
}

pub(crate) const GAP: u32 = 2000;
/// Microlitres a millisecond at the rate for caps: 1.
const RATE: Rate = Rate(3_600_000);

fn flags() -> impl Strategy<Value = [bool; 12]> {
    proptest::array::uniform12(any::<bool>())
}

fn kits() -> impl Strategy<Value = (Kit, usize)> {
    prop_oneof![
        4 => Just((Kit::AcidHypo, 1)),
        2 => Just((Kit::AcidHypo, 2)),
        2 => Just((Kit::AcidCell, 1)),
        1 => Just((Kit::AcidCell, 2)),
        2 => Just((Kit::BaseHypo, 1)),
        2 => Just((Kit::TwoAcids, 1)),
        1 => Just((Kit::AcidBaseHypo, 1)),
        1 => Just((Kit::TwoAcidsHypo, 1)),
    ]
}

/// Any valid site.
pub(crate) fn plans() -> impl Strategy<Value = Plan> {
    let times = (2..6_u32, 2..9_u32, 20..41_u32, 3..9_u32, 2..7_u32, 0..9_u32);
    let sizes = (
        0..801_u32,
        3..9_u32,
        60..150_u32,
        1..4_u32,
        1..4_u32,
        1..4_u8,
    );
    (kits(), flags(), 1..8_u8, times, sizes).prop_map(
        |((kit, bodies), flag, witnesses, times, sizes)| Plan {
            kit,
            bodies,
            feedback: flag[0],
            cut_timer: flag[1],
            level: flag[2],
            cell_switch: flag[3],
            hours: flag[4] && flag[10],
            fallback: flag[5],
            witnesses: if witnesses & 3 == 0 { 5 } else { witnesses },
            restart_person: flag[6] && flag[10],
            timed_share: flag[7] && flag[11],
            catch_test: flag[8],
            slices: flag[9],
            flow_prove_s: times.0,
            settle_s: times.1,
            hold_s: times.2,
            purge_s: times.3,
            power_on_s: times.4,
            resume_s: times.5,
            drive_off_ms: sizes.0,
            cycle_ticks: sizes.1,
            run_max_percent: sizes.2,
            hour_cycles: sizes.3,
            day_hours: sizes.4,
            unanswered_max: sizes.5,
        },
    )
}

impl Plan {
    /// Largest dose of a cycle: so many ticks' worth and the drive's off delay, at the rate for caps.
    fn cycle_cap(&self) -> Dose {
        Dose(self.cycle_ticks * GAP + self.drive_off_ms)
    }

    fn dose_min(&self) -> Dose {
        Dose(GAP + self.drive_off_ms + 200)
    }

    fn cutoff(product: Product) -> Cutoff {
        match product {
            Product::Acid => Cutoff::AbovePh(MilliPh(7000)),
            Product::Base => Cutoff::BelowPh(MilliPh(8000)),
            Product::Hypochlorite | Product::GeneratedChlorine => Cutoff::Oxidiser {
                orp: Millivolts(780),
                ph_floor: MilliPh(6900),
                ph_weak: MilliPh(7900),
                weak_share: Percent(85),
                orp_ph: MilliPh(7850),
                orp_fall: Millivolts(60),
            },
        }
    }

    fn body(&self, product: Product, governor: Governor, body: usize) -> BodyLimits {
        let cap = self.cycle_cap();
        let hour = Dose(cap.0 * self.hour_cycles + 700);
        let fallback = FallbackCaps {
            cycle: Dose(self.dose_min().0 + 300),
            day: Dose(cap.0 + 300),
        };
        BodyLimits {
            cycle_cap: cap,
            hour_cap: hour,
            day_cap: Dose(hour.0 * self.day_hours),
            // The smallest dose has to fit.
            reduced_share: Percent(self.dose_min().0 * 100 / cap.0 + 1),
            spread_hold: Millis::from_secs(self.hold_s + u32::try_from(body).unwrap()),
            cutoff: Self::cutoff(product),
            fallback: if self.fallback && governor == Governor::Orp {
                Fitted::Fitted(fallback)
            } else {
                Fitted::NotFitted
            },
        }
    }

    fn feeder<const B: usize>(&self, product: Product) -> FeederSpec<B> {
        let governor = match (self.timed_share, product.is_oxidiser()) {
            (true, _) => Governor::TimedShare,
            (false, true) => Governor::Orp,
            (false, false) => Governor::Ph,
        };
        // The rate for caps is `RATE` either way.
        let rate = if self.catch_test {
            Rate(RATE.0 / 4 * 3)
        } else {
            Rate(RATE.0 / 2)
        };
        let cap = self.cycle_cap();
        let run_max = (self.cycle_ticks * GAP * self.run_max_percent / 100).max(2 * GAP);
        FeederSpec {
            product,
            governor,
            rate: if self.catch_test {
                Rate(3_000_000)
            } else {
                rate
            },
            rate_tolerance: Percent(20),
            rate_any_tube: RATE,
            catch_test_on_record: self.catch_test,
            drive_off: Millis(self.drive_off_ms),
            feedback: fitted(self.feedback, Millis(3000)),
            feedback_clear: Millis(3000),
            cut_timer: fitted(self.cut_timer, ()),
            level_switch: fitted(self.level, ()),
            cell_flow_switch: fitted(
                self.cell_switch && product == Product::GeneratedChlorine,
                (),
            ),
            dose_min: self.dose_min(),
            slice_max: if self.slices {
                Dose((cap.0 / 2).max(self.dose_min().0))
            } else {
                cap
            },
            run_max: Millis(run_max + self.drive_off_ms),
            bodies: core::array::from_fn(|body| self.body(product, governor, body)),
        }
    }

    /// The site as somebody writes it down.
    pub(crate) fn spec<const N: usize, const B: usize>(&self) -> LimitsSpec<N, B> {
        let products = self.kit.products();
        LimitsSpec {
            tick_gap_max: Millis(GAP),
            power_on_delay: Millis::from_secs(self.power_on_s),
            power_on_delay_new_probe: Millis::from_secs(self.power_on_s + 6),
            restart_after_power_loss: if self.restart_person {
                Restart::Person
            } else {
                Restart::Automatic
            },
            flow_switch: fitted(self.witnesses & 1 != 0, ()),
            flow_meter: fitted(self.witnesses & 2 != 0, FlowMlPerS(1500)),
            pump_contact: fitted(self.witnesses & 4 != 0, ()),
            witness_age_max: Millis(1500),
            flow_prove: Millis::from_secs(self.flow_prove_s),
            stuck_flow_max: Millis::from_secs(5),
            ph_probe: Fitted::YES,
            orp_probe: Fitted::YES,
            probe_age_max: Millis(3000),
            probe_settle: Millis::from_secs(self.settle_s),
            probe_failure_max: Millis::from_secs(9),
            body_valves: fitted(self.bodies > 1, Millis::from_secs(3)),
            purge: Millis::from_secs(self.purge_s),
            resume_within: Millis::from_secs(self.resume_s),
            save_max: Millis::from_secs(5),
            manual_max: Millis(2 * GAP + self.drive_off_ms),
            hours: fitted(
                self.hours,
                Hours {
                    open: MinuteOfDay(480),
                    close: MinuteOfDay(1200),
                },
            ),
            response: ResponseLimits {
                wrong_way_max: MilliPh(150),
                answer_max: MilliPh(400),
                answer_min: MilliPh(20),
                unanswered_max: self.unanswered_max,
                probe_cycle_every: Millis::from_hours(1),
            },
            fallback: fitted(
                self.fallback,
                FallbackLimits {
                    run_max: Millis::from_secs(80),
                    test_age_max: Millis::from_secs(60),
                    warn_before: Millis::from_secs(10),
                },
            ),
            off_credit_max: Millis::from_hours(16),
            off_credit_ratio: 2,
            feeders: core::array::from_fn(|feeder| {
                FeederLimits::Enabled(self.feeder(products[feeder]))
            }),
        }
    }

    /// The site, checked.
    pub(crate) fn limits<const N: usize, const B: usize>(&self) -> Limits<N, B> {
        match Limits::try_new(self.spec()) {
            Ok(limits) => limits,
            Err(error) => panic!("the generator made a site that is not valid: {error}"),
        }
    }
}

fn fitted<T>(is: bool, what: T) -> Fitted<T> {
    if is {
        Fitted::Fitted(what)
    } else {
        Fitted::NotFitted
    }
}

/// A plain site, for tests that need one.
pub(crate) const fn a_plan() -> Plan {
    Plan {
        kit: Kit::AcidHypo,
        bodies: 1,
        feedback: false,
        cut_timer: false,
        level: false,
        cell_switch: false,
        hours: false,
        fallback: true,
        witnesses: 5,
        restart_person: false,
        timed_share: false,
        catch_test: true,
        slices: false,
        flow_prove_s: 3,
        settle_s: 5,
        hold_s: 25,
        purge_s: 4,
        power_on_s: 2,
        resume_s: 4,
        drive_off_ms: 300,
        cycle_ticks: 5,
        run_max_percent: 120,
        hour_cycles: 3,
        day_hours: 3,
        unanswered_max: 3,
    }
}

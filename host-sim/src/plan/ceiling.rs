//! How far the ORP cut-off and a day's cap keep chlorine from what nobody may bathe in.

use super::findings::Found;
use super::site::Site;
use super::work::{
    CHLORINE_MAX_MG_L, FeederFigures, Figures, ORP_FALL_MV_PER_PH, ORP_PER_DECADE_MV, water,
};
use crate::water::Water;
use crate::water::units::CHLORINE_MG_PER_MMOL;

/// The most by which the cut-off stands over the set point, mV. Our choice.
const OVER_SET_MV: f64 = 40.0;
/// The cut-off is never over this, mV. Our choice.
const CUTOFF_MAX_MV: f64 = 850.0;
/// ORP is told as high so far over the cut-off, but never later than this, mV. Our choice.
const OVER_CUTOFF_MV: f64 = 20.0;
const HIGH_MAX_MV: f64 = 880.0;
/// By so much a healthy probe may read too low, mV. Our choice.
const PROBE_ERROR_MV: f64 = 5.0;
/// pH up to which the cut-off keeps to [`CHLORINE_MAX_MG_L`]: new plaster and a drum of acid that is empty bring it there.
const PH_MAX: f64 = 10.0;
/// Less room than this over the set point stops feed in mid-dose, mV: a dose, its dead band and the probe's noise. Our choice.
const ROOM_MIN_MV: f64 = 8.0;

/// What nobody holds back of the free chlorine, as HOCl, mg/L as chlorine.
pub(super) fn hypochlorous_mg_l(water: &Water) -> f64 {
    water.equilibrium().solve(water).hypochlorous * CHLORINE_MG_PER_MMOL * 1000.0
}

/// What a probe shows of [`CHLORINE_MAX_MG_L`] at a pH, mV; `at_1_mv` is what it shows of 1 mg/L of HOCl. Water of so little
/// alkalinity may have no such pH.
fn at_limit_mv(site: &Site, alkalinity_mg_l: f64, at_1_mv: f64, ph: f64) -> Option<f64> {
    let mut full = site.clone();
    full.wanted.free_chlorine_mg_l = CHLORINE_MAX_MG_L;
    let full = water(&full, alkalinity_mg_l, ph).ok()?;
    Some(at_1_mv + ORP_PER_DECADE_MV * libm::log10(hypochlorous_mg_l(&full).max(1e-6)))
}

/// Where chlorine by ORP stops, at the wanted pH, mV: what a probe shows of [`CHLORINE_MAX_MG_L`], at whichever pH from the
/// wanted one to [`PH_MAX`] that is the least beside a cut-off that falls with pH.
pub(super) fn orp_cutoff_mv(site: &Site, alkalinity_mg_l: f64, set_mv: f64, at_1_mv: f64) -> f64 {
    let at_most = |tenths: u32| {
        let ph = site.wanted.ph + f64::from(tenths) / 10.0;
        let shown = at_limit_mv(site, alkalinity_mg_l, at_1_mv, ph)?;
        Some(shown + ORP_FALL_MV_PER_PH * (ph - site.wanted.ph) - PROBE_ERROR_MV)
    };
    let last = ((PH_MAX - site.wanted.ph) * 10.0).ceil().max(0.0) as u32;
    let most = (0..=last).filter_map(at_most);
    let most = most.fold(CUTOFF_MAX_MV, f64::min);
    most.min(set_mv + OVER_SET_MV).floor()
}

/// From where on ORP is told as high, mV: over the cut-off, and no later than a probe shows the limit at the wanted pH.
pub(super) fn orp_high_mv(site: &Site, figures: &Figures) -> f64 {
    let (alkalinity, at_1) = (figures.alkalinity_start_mg_l, figures.orp_at_1_mg_l_mv);
    let limit = at_limit_mv(site, alkalinity, at_1, site.wanted.ph).unwrap_or(f64::INFINITY);
    let over = (figures.orp_cutoff_mv + OVER_CUTOFF_MV).min(HIGH_MAX_MV);
    over.min(limit.floor())
        .max(figures.orp_cutoff_mv + PROBE_ERROR_MV)
}

/// How long caps let chlorine be fed from what is wanted to the limit, h: an hour's cap at the start of each hour.
fn hours_to_limit(wanted_mg_l: f64, one: &FeederFigures) -> f64 {
    let caps = (CHLORINE_MAX_MG_L - wanted_mg_l).max(0.0) / (one.hour_cap / one.per_tenth * 0.1);
    let cap_h = (one.hour_cap / one.rate_per_h).min(1.0);
    caps.floor() + caps.fract() * cap_h
}

/// What a probe cannot keep: a set point too near the limit, and a day's cap that a probe which reads low may ask for.
pub(super) fn findings(site: &Site, figures: &Figures, index: usize, found: &mut Found) {
    let (Some(feeder), Some(one)) = (site.feeders.get(index), figures.feeders.get(index)) else {
        return;
    };
    if !feeder.product.is_oxidiser() {
        return;
    }
    let (name, wanted) = (&feeder.name, site.wanted.free_chlorine_mg_l);
    let room = figures.orp_cutoff_mv - figures.orp_set_mv;
    if room < ROOM_MIN_MV {
        found.error(
            "chlorine_near_limit",
            format!(
                "{name}: {wanted:.1} mg/L of free chlorine are wanted at {:.0} mV; the ORP cut-off, {:.0} mV, that keeps \
                 {CHLORINE_MAX_MG_L:.0} mg/L and {CUTOFF_MAX_MV:.0} mV leaves {room:.0} mV of room, and {ROOM_MIN_MV:.0} are needed",
                figures.orp_set_mv, figures.orp_cutoff_mv
            ),
            "want less free chlorine (California 22 CCR 65529(b) has 10 mg/L as the most), or find the ORP at which it is there anew",
        );
        return;
    }
    if one.after_day_cap > CHLORINE_MAX_MG_L {
        found.caution(
            "day_past_limit",
            format!(
                "{name}: so much is used here that a day's cap at once makes {:.1} mg/L of free chlorine: for an ORP probe that \
                 reads too low, {CHLORINE_MAX_MG_L:.0} mg/L may be passed within {:.1} h, and nothing tells of it",
                one.after_day_cap,
                hours_to_limit(wanted, one)
            ),
            "test free chlorine by a kit more often than that while people bathe; your local code may ask for more",
        );
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{names, plan, site};
    use super::super::{HOME_POOL, HOTEL_SPA};

    /// Dissociation of HOCl by Morris 1966 (from memory) in water without salts and cyanuric acid: what free chlorine stands
    /// behind an ORP.
    fn free_chlorine_mg_l(orp_mv: f64, at_1_mv: f64, ph: f64, temperature_c: f64) -> f64 {
        let kelvin = temperature_c + 273.15;
        let pka = 3000.0 / kelvin - 10.0686 + 0.0253 * kelvin;
        let share = 1.0 / (1.0 + libm::exp10(ph - pka));
        libm::exp10((orp_mv - at_1_mv) / 70.0) / share
    }

    /// California 22 CCR 65529(b): at most 10 mg/L. With 40 mV over its set point this spa would be fed to 16 mg/L.
    #[test]
    fn the_cut_off_of_a_spa_keeps_ten_mg_l_at_any_ph_to_ten() {
        let figures = plan(HOTEL_SPA).figures;
        let at = |over_mv: f64, ph: f64| {
            let falls = 60.0 * (ph - 7.5);
            let orp = figures.orp_set_mv + over_mv - falls;
            free_chlorine_mg_l(orp, figures.orp_at_1_mg_l_mv, ph, 38.0)
        };
        assert!((at(0.0, 7.5) - 4.0).abs() < 0.3, "{}", at(0.0, 7.5));
        let over_mv = figures.orp_cutoff_mv - figures.orp_set_mv;
        let most = (0..=25).map(|step| at(over_mv, 7.5 + f64::from(step) / 10.0));
        let most = most.fold(0.0, f64::max);
        assert!(most < 10.0 && most > 7.0, "{most}");
        assert!(at(40.0, 7.5) > 13.0, "{}", at(40.0, 7.5));
        // Where ORP is told as high, at the wanted pH.
        let high = super::orp_high_mv(&site(HOTEL_SPA), &figures) - figures.orp_set_mv;
        assert!((8.7..10.1).contains(&at(high, 7.5)), "{}", at(high, 7.5));
    }

    #[test]
    fn a_pool_that_is_far_from_it_keeps_forty_mv_of_room() {
        let figures = plan(HOME_POOL).figures;
        assert!((figures.orp_cutoff_mv - figures.orp_set_mv - 40.0).abs() < 1e-9);
    }

    #[test]
    fn chlorine_that_is_wanted_near_the_limit_is_an_error() {
        let of = |mg_l: &str| {
            let wanted = format!("free_chlorine = \"{mg_l}\"\nfree_chlorine_min");
            let text = HOTEL_SPA.replace("free_chlorine = \"4 mg/L\"\nfree_chlorine_min", &wanted);
            assert_ne!(text, HOTEL_SPA);
            let plan = plan(&text);
            (
                names(&plan).contains(&"chlorine_near_limit"),
                plan.has_errors(),
            )
        };
        assert_eq!(of("4.5 mg/L"), (false, false));
        assert_eq!(of("8 mg/L"), (true, true));
    }

    #[test]
    fn a_days_cap_past_the_limit_is_a_caution_with_the_time_it_takes() {
        let spa = plan(HOTEL_SPA);
        let found = spa.findings.iter().find(|one| one.name == "day_past_limit");
        let what = &found.expect("a busy spa's").what;
        // 407 mL an hour of 50 g/L in 4.07 m3 are 5.0 mg/L; from 4 to 10 mg/L: one cap, and 0.2 of the next at 588 mL/h.
        assert!(
            what.contains("50.3 mg/L") && what.contains("within 1.1 h"),
            "{what}"
        );
        assert!(!names(&plan(HOME_POOL)).contains(&"day_past_limit"));
    }
}

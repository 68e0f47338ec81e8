//! The busiest hour: what bathers and sun use of the chlorine while people are in, against what the feeder may and can
//! give then. A day's mean hides it: sixty bathers in a spa use up an hour's cap and more, with the whole night left to
//! make up for it.

use super::findings::Found;
use super::site::Site;
use super::work::{BACKGROUND_PER_H, FeederFigures, Figures, SUN_PER_H, TOLERANCE, loose};
use crate::plant::BATHER_CHLORINE_G;
use crate::water::Water;
use dosewarden::guard::Product;

/// Hours in which a busy day's bathers come: 09:00 to 20:00 in the scenario. Our choice.
const BATHING_H: f64 = 11.0;
/// An hour's cap over the busiest hour's use: the tolerance of the rate, which is charged, and something to catch up
/// with. Our choice.
pub(super) const HOUR_OVER_PEAK: f64 = 1.35;

/// Two purges, which stand between cycles of two products, s.
const PURGES_S: f64 = 120.0;
/// An hour of the ledger is up to one of its buckets longer, and the last cycle seldom fits: an example spa with sixty
/// bathers got a sixth less than its cap.
const LEDGER_H: f64 = 1.2;

/// Chlorine that is used in the busiest hour of a busy day where so much of it stands, mg/L; the sun at noon is in it.
pub(super) fn chlorine_mg_l_h(site: &Site, water: &Water, standing_mg_l: f64) -> f64 {
    let sun = if site.outdoors {
        SUN_PER_H * loose(water)
    } else {
        0.0
    };
    let bathers = site.bathers_per_day * BATHER_CHLORINE_G * 1000.0 / site.volume_l / BATHING_H;
    standing_mg_l * (sun + BACKGROUND_PER_H) + bathers
}

/// Share of a cycle's cap above the pH where chlorine is weak, %: half of it, and more where that could not keep up with
/// the busiest hour. In a spa with sixty bathers and an empty acid drum half a cycle left no chlorine at all by evening;
/// how much may stand there is the falling cut-off's to say.
pub(super) fn weak_share_percent(figures: &Figures, one: &FeederFigures) -> f64 {
    let used = figures.chlorine_mg_l_peak_h * one.per_tenth * 10.0 * (1.0 + TOLERANCE);
    let room = 3600.0 * one.cycle_cap - used * one.cycle_s;
    if room <= 0.0 {
        return 100.0;
    }
    let share = used * (one.hold_s + PURGES_S) / room;
    (share * 100.0).ceil().clamp(50.0, 100.0)
}

/// What the feeder can give in an hour: by its cap, and by cycles and holds in the time that acid leaves; in mg/L.
fn can_mg_l_h(site: &Site, figures: &Figures, one: &FeederFigures) -> f64 {
    let acids = figures.feeders.iter().filter(|other| other.acid);
    let acid_h: f64 = acids
        .map(|acid| acid.expected_per_day / acid.rate_per_h)
        .sum();
    let left = (1.0 - acid_h / site.pump_h()).max(0.0);
    let by_cycles = left * 3600.0 / (one.cycle_s + one.hold_s + PURGES_S) * one.cycle_cap;
    let per_mg_l = one.per_tenth * 10.0;
    (one.hour_cap / LEDGER_H).min(by_cycles) / (1.0 + TOLERANCE) / per_mg_l
}

/// An error where the minimum cannot be held in the busiest hour: bathers are in while chlorine runs out.
pub(super) fn findings(site: &Site, figures: &Figures, index: usize, found: &mut Found) {
    let (Some(feeder), Some(one)) = (site.feeders.get(index), figures.feeders.get(index)) else {
        return;
    };
    if feeder.product == Product::Acid {
        return;
    }
    let used = figures.chlorine_mg_l_least_h;
    let can = can_mg_l_h(site, figures, one);
    // What stands over the minimum lasts for some of the hours.
    let stock = site.wanted.free_chlorine_mg_l - site.wanted.free_chlorine_min_mg_l;
    if used > can + stock / BATHING_H {
        found.error(
            "too_little_at_the_peak",
            format!(
                "{}: the busiest hour uses {used:.1} mg/L and {can:.1} can be given: free chlorine runs out while people bathe",
                feeder.name
            ),
            "fewer bathers, a larger feeder, or less free chlorine wanted, which leaves more under the 10 mg/L that an hour may \
             lead to",
        );
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{SITES, names, plan};
    use super::super::{CHLORINE_MAX_MG_L, HOTEL_SPA, Plan};

    /// The example spa with sixty bathers and a stronger product.
    fn sixty(wanted: &str) -> Plan {
        let text = HOTEL_SPA
            .replace("bathers = 30", "bathers = 60")
            .replace("strength = \"50 g/L\"", "strength = \"120 g/L\"")
            .replace("rate = \"600 mL/h\"", "rate = \"1200 mL/h\"")
            .replace(
                "rate_any_tube = \"1200 mL/h\"",
                "rate_any_tube = \"2400 mL/h\"",
            )
            .replace("caught = \"9.8 mL\"", "caught = \"19.6 mL\"")
            .replace(
                "free_chlorine = \"4 mg/L\"",
                &format!("free_chlorine = \"{wanted} mg/L\""),
            );
        plan(&text)
    }

    #[test]
    fn the_hour_s_cap_follows_the_busiest_hour_and_stays_under_what_an_hour_may_lead_to() {
        for (file, text) in SITES {
            let plan = plan(text);
            let chlorine = &plan.figures.feeders[1];
            let hour = chlorine.hour_cap / chlorine.per_tenth * 0.1;
            assert!(
                hour > plan.figures.chlorine_mg_l_peak_h || hour > 1.9,
                "{file}: {hour}"
            );
            assert!(!names(&plan).contains(&"too_little_at_the_peak"), "{file}");
        }
        let plan = sixty("2.5");
        let chlorine = &plan.figures.feeders[1];
        let hour = chlorine.hour_cap / chlorine.per_tenth * 0.1;
        assert!(
            (hour / plan.figures.chlorine_mg_l_peak_h - 1.35).abs() < 1e-9,
            "{hour}"
        );
        assert!(2.5 + hour < CHLORINE_MAX_MG_L);
    }

    #[test]
    fn weak_chlorine_is_half_a_cycle_and_more_where_that_cannot_keep_up() {
        let share = |plan: &Plan| plan.figures.feeders[1].weak_share_percent;
        assert_eq!(share(&plan(SITES[0].1)), 50.0);
        let busy = sixty("2.5");
        let chlorine = &busy.figures.feeders[1];
        let part = share(&busy) / 100.0;
        assert!(part > 0.5 && part < 1.0, "{part}");
        // That many cycles, holds and purges in an hour give what the busiest hour uses, at the rate's tolerance.
        let turn_s = part * chlorine.cycle_s + chlorine.hold_s + 120.0;
        let given = 3600.0 / turn_s * part * chlorine.cycle_cap / (chlorine.per_tenth * 10.0);
        let used = busy.figures.chlorine_mg_l_peak_h * 1.1;
        assert!(given >= used && given < used * 1.02, "{given} {used}");
    }

    #[test]
    fn a_peak_that_cannot_be_fed_is_an_error() {
        assert!(!names(&sixty("2.5")).contains(&"too_little_at_the_peak"));
        // 3 mg/L are wanted, so an hour may give 7 and no more.
        let found = sixty("3").findings.remove(0);
        assert_eq!(found.name, "too_little_at_the_peak", "{}", found.what);
        assert!(found.what.contains("uses 5.5 mg/L"), "{}", found.what);
    }
}

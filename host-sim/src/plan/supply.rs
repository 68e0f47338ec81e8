//! A controller that has power for a part of the day: what a day's cap has to last for, and what time without power
//! may count.
//!
//! The guard ages what was fed by time with power. A clock that goes on lets the time between count as well, up to the
//! bank `off_credit_max`; without one a day's cap lasts for as many days as 24 h of power take.

use super::findings::Found;
use super::site::Site;
use super::work::{FeederFigures, Figures, TOLERANCE};

/// The most that the guard takes: hours without power for an hour with it.
const RATIO_MAX: f64 = 4.0;

/// Time without power that may age what was fed: hours that can be kept, and hours for each hour with power.
pub(super) fn off_credit(site: &Site) -> (u32, u32) {
    let off_h = 24.0 - site.powered_h;
    if !site.clock || off_h <= 0.0 {
        return (0, 0);
    }
    let ratio = (off_h / site.powered_h).ceil().min(RATIO_MAX);
    (off_h.ceil() as u32, ratio as u32)
}

/// Days that a day's cap has to last for.
pub(super) fn days_of_a_cap(site: &Site) -> f64 {
    let (_, ratio) = off_credit(site);
    (24.0 / (site.powered_h * (1.0 + f64::from(ratio)))).max(1.0)
}

/// Days by the controller's own count in as many days.
pub(super) fn counted_days(site: &Site, days: f64) -> f64 {
    if site.clock {
        days
    } else {
        days * site.powered_h / 24.0
    }
}

/// Whether it is wired to the circulation pump's supply, as far as hours tell.
pub(super) fn is_with_pump(site: &Site) -> bool {
    site.powered_h < 24.0 && (site.powered_h - site.pump_h()).abs() < 0.5
}

/// What of the use of `days` a day's cap gives, with the tolerance of the rate in what is charged.
fn share(one: &FeederFigures, days: f64) -> f64 {
    one.day_cap / (1.0 + TOLERANCE) / (one.expected_per_day * days).max(1e-9)
}

/// An error where the pool would be starved; else a caution of what such a supply costs.
pub(super) fn findings(site: &Site, figures: &Figures, found: &mut Found) {
    let days = days_of_a_cap(site);
    if days <= 1.0 {
        return;
    }
    let clock = if site.clock { "a" } else { "no" };
    let what = format!(
        "the controller has power for {:.0} h a day and {clock} real-time clock: not all time without power counts, so a day's \
         cap has to last for {days:.1} days, and a test that is 30 days old looks {:.0} days old",
        site.powered_h,
        counted_days(site, 30.0)
    );
    let change = "feed the controller from a supply that is always on, or fit a real-time clock with a battery";
    let starved = figures.feeders.iter().find(|one| share(one, days) < 1.0);
    match starved {
        Some(one) => {
            let given = 100.0 * share(one, days);
            let what = format!("{what}; {} gives {given:.0} % of what is used", one.name);
            found.error("no_clock", what, change);
        }
        None => found.caution(
            "no_clock",
            format!("{what}; the caps here are made for that: all of them could go in one day"),
            change,
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{names, plan, site};
    use super::super::{HOME_POOL, Severity};
    use super::*;

    fn powered(hours: &str, clock: &str) -> String {
        HOME_POOL
            .replace("powered = \"24 h\"", &format!("powered = \"{hours} h\""))
            .replace("clock = \"fitted\"", &format!("clock = \"{clock}\""))
    }

    #[test]
    fn with_a_clock_the_hours_off_count_and_nothing_else_changes() {
        for (hours, credit) in [
            ("8", (16, 2)),
            ("12", (12, 1)),
            ("5", (19, 4)),
            ("24", (0, 0)),
        ] {
            let text = powered(hours, "fitted");
            assert_eq!(off_credit(&site(&text)), credit, "{hours} h");
            assert!((days_of_a_cap(&site(&text)) - 1.0).abs() < 1e-9);
            let plan = plan(&text);
            assert!(!names(&plan).contains(&"no_clock"), "{hours} h");
            let line = format!(
                "off_credit_max = \"{} h\"\noff_credit_ratio = {}\n",
                credit.0, credit.1
            );
            assert!(plan.scenario.contains(&line), "{hours} h");
        }
    }

    #[test]
    fn without_a_clock_the_caps_are_made_for_three_days_and_the_sheet_says_so() {
        let runs = powered("8", "not fitted").replace("07:00-21:00", "09:00-17:00");
        let short = plan(&runs);
        let found = short
            .findings
            .iter()
            .find(|f| f.name == "no_clock")
            .expect("found");
        assert_eq!(found.severity, Severity::Caution);
        assert!(found.what.contains("3.0 days"), "{}", found.what);
        let usual = plan(HOME_POOL);
        let cap = |of: &super::super::Plan, at: usize| of.figures.feeders[at].day_cap;
        assert!((cap(&short, 1) / cap(&usual, 1) - 3.0).abs() < 1e-9);
        // Acid's is what the water may get at once, whatever the supply.
        assert!((cap(&short, 0) / cap(&usual, 0) - 1.0).abs() < 1e-9);
        for text in [
            "clock = \"not fitted\"",
            "unit_knows_timetable = false",
            "alkalinity_every = \"10 days\"",
        ] {
            assert!(short.scenario.contains(text), "{text}");
        }
    }

    #[test]
    fn caps_that_cannot_last_are_an_error_in_numbers() {
        // 24 h of power are ten days here, and ten days' acid at once would be too much for the water.
        let text = powered("2.4", "not fitted")
            .replace("co2_transfer = \"1.5 cm/h\"", "co2_transfer = \"4 cm/h\"");
        let found = plan(&text).findings.remove(0);
        assert_eq!((found.name, found.severity), ("no_clock", Severity::Error));
        assert!(
            found.what.contains("10.0 days") && found.what.contains("acid gives"),
            "{}",
            found.what
        );
    }
}

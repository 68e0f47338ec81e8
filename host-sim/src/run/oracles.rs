//! What each oracle judges, for people: on which side of its bound a figure has to be, and what has to hold.
//!
//! Invariant: whoever reads `worst 7.31, at least 7.28 pH` needs no source to know that it held.

/// An oracle, for people.
#[derive(Clone, Copy, Debug)]
pub(super) struct About {
    name: &'static str,
    /// `at most` or `at least`: where its figure has to be beside its bound.
    pub(super) side: &'static str,
    /// What has to hold.
    pub(super) holds: &'static str,
}

const fn at_most(name: &'static str, holds: &'static str) -> About {
    About {
        name,
        side: "at most",
        holds,
    }
}

const fn at_least(name: &'static str, holds: &'static str) -> About {
    About {
        name,
        side: "at least",
        holds,
    }
}

/// All of them, by name.
const ALL: [About; 23] = [
    at_least(
        "acid_floor",
        "pH never too low, and no acid past its cut-off",
    ),
    at_least(
        "body_flushed",
        "after another body was selected, flow before feed",
    ),
    at_most(
        "cell_flow",
        "time that a generator's cell is on without flow",
    ),
    at_most(
        "charge_stored",
        "dose that the water had beyond what both records hold",
    ),
    at_most(
        "chlorine_ceiling",
        "free chlorine never too high, and none fed past its cut-off",
    ),
    at_most(
        "cycle_total",
        "dose and drive-on time of one cycle, beside its cap",
    ),
    at_most("day_total", "dose of any 24 h, beside the day's cap"),
    at_most(
        "fallback_capped",
        "dose of any 24 h in fallback, beside its own cap",
    ),
    at_most(
        "fed_or_asked",
        "time that water needs a product, is not fed and nobody is told",
    ),
    at_most(
        "hand_feed_held",
        "time of a feed by hand, and after its button was let go",
    ),
    at_least("holds_kept", "flow between two cycles of a product"),
    at_most("hour_total", "dose of any 60 min, beside the hour's cap"),
    at_most("hours_kept", "time driven outside the operating hours"),
    at_least(
        "kept_in_range",
        "share of the time near the set point of pH and with chlorine",
    ),
    at_most("line_gas", "chlorine gas that the return line gives off"),
    at_most("lockout_kept", "time that a feeder locked out is driven"),
    at_least("never_both", "flow between two products that must not meet"),
    at_most("never_dry", "time driven on an empty drum"),
    at_most(
        "poor_water_alarmed",
        "time that the water is poor and nobody is told",
    ),
    at_least("power_on_delay", "time from power-on to the first feed"),
    at_most(
        "standing_water",
        "dose into standing water, and time driven in it",
    ),
    at_most("stop_obeyed", "time driven while a person has stopped it"),
    at_least("water_settled", "flow before a drive comes on"),
];

/// What there is to say of an oracle.
pub(super) fn about(name: &str) -> Option<&'static About> {
    ALL.iter().find(|one| one.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::{self, Quiet};
    use crate::scenario::Scenario;
    use crate::unit::UnguardedUnit;
    use crate::{DosewardenUnit, run::Summary};

    /// Each side is the one on which the oracle itself finds a figure to hold, with a guard and without one.
    #[test]
    fn each_oracle_is_told_by_the_side_on_which_it_judges() {
        let mut scenario = Scenario::first_pool();
        scenario.days = 4;
        let guarded = DosewardenUnit::for_scenario(&scenario);
        let bare = UnguardedUnit::for_scenario(&scenario);
        let mut seen = std::collections::BTreeSet::new();
        let mut judge = |summary: &Summary| {
            assert_eq!(summary.oracles.len(), ALL.len());
            for one in &summary.oracles {
                assert!(
                    !one.holds.is_empty() && !one.side.is_empty(),
                    "{}",
                    one.name
                );
                let (Some(worst), Some(bound)) = (one.worst, one.bound) else {
                    continue;
                };
                if (worst - bound).abs() > 1e-6 {
                    let is_above = worst > bound;
                    let held = one.verdict == "held";
                    let side = if is_above == held {
                        "at least"
                    } else {
                        "at most"
                    };
                    assert_eq!(one.side, side, "{} {worst} {bound}", one.name);
                    seen.insert(one.name);
                }
            }
        };
        judge(
            &run::run(&scenario, guarded, None, &mut Quiet)
                .unwrap()
                .summary,
        );
        judge(&run::run(&scenario, bare, None, &mut Quiet).unwrap().summary);
        assert!(seen.len() >= 12, "{seen:?}");
    }

    /// The others never come off their bound in such runs: by which side each judges stands in its own file.
    #[test]
    fn each_oracle_is_told_by_the_side_that_stands_in_its_file() {
        let read = |file: &str| {
            let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/src/oracle/");
            let text = std::fs::read_to_string(format!("{folder}{file}.rs"));
            let text = text.expect("its file");
            let code = text.split("#[cfg(test)]").next().map(str::to_owned);
            code.expect("its code")
        };
        for one in &ALL {
            let mut code = read(one.name);
            if code.contains("RollingTotals") {
                code.push_str(&read("support/window"));
            }
            let sides = [(".at_most(", "at most"), (".at_least(", "at least")];
            let judged = sides.iter().filter(|(call, _)| code.contains(call));
            let judged: Vec<&str> = judged.map(|(_, side)| *side).collect();
            assert_eq!(judged, [one.side], "{}", one.name);
        }
    }
}

//! Figures outside their range.

use dosewarden_guard::units::{Dose, FlowMlPerS, Millis, Percent, Rate};
use dosewarden_guard::{Fitted, LimitsError};

use super::{Change, Site, broken, error, feeder};

/// Field of the site, the value below its range, the value above.
type Range = (&'static str, Option<u32>, Option<u32>);

const DAY_OVER: Option<u32> = Some(86_400_001);
const HOUR_OVER: Option<u32> = Some(3_600_001);
const TEN_MIN_OVER: Option<u32> = Some(600_001);

const RANGES: [Range; 19] = [
    ("tick_gap_max", Some(199), Some(5001)),
    ("power_on_delay", Some(0), None),
    ("power_on_delay_new_probe", None, DAY_OVER),
    ("witness_age_max", Some(0), Some(5001)),
    ("flow_prove", Some(0), HOUR_OVER),
    ("stuck_flow_max", Some(0), TEN_MIN_OVER),
    ("probe_age_max", Some(0), Some(300_001)),
    ("probe_settle", Some(0), HOUR_OVER),
    ("probe_failure_max", Some(0), DAY_OVER),
    ("purge", Some(0), HOUR_OVER),
    ("resume_within", None, HOUR_OVER),
    ("save_max", Some(0), TEN_MIN_OVER),
    ("manual_max", Some(0), TEN_MIN_OVER),
    ("off_credit_max", None, DAY_OVER),
    ("flow_meter", Some(0), None),
    ("body_valves", Some(0), HOUR_OVER),
    ("response.probe_cycle_every", Some(3_599_999), DAY_OVER),
    ("off_credit_ratio", None, Some(5)),
    ("response.unanswered_max", Some(0), None),
];

fn set(site: &mut Site, field: &str, value: u32) {
    let small = u8::try_from(value).unwrap_or(0);
    let time = Millis(value);
    match field {
        "tick_gap_max" => site.tick_gap_max = time,
        "power_on_delay" => site.power_on_delay = time,
        "power_on_delay_new_probe" => site.power_on_delay_new_probe = time,
        "witness_age_max" => site.witness_age_max = time,
        "flow_prove" => site.flow_prove = time,
        "stuck_flow_max" => site.stuck_flow_max = time,
        "probe_age_max" => site.probe_age_max = time,
        "probe_settle" => site.probe_settle = time,
        "probe_failure_max" => site.probe_failure_max = time,
        "purge" => site.purge = time,
        "resume_within" => site.resume_within = time,
        "save_max" => site.save_max = time,
        "manual_max" => site.manual_max = time,
        "off_credit_max" => site.off_credit_max = time,
        "flow_meter" => site.flow_meter = Fitted::Fitted(FlowMlPerS(value)),
        "body_valves" => site.body_valves = Fitted::Fitted(time),
        "response.probe_cycle_every" => site.response.probe_cycle_every = time,
        "off_credit_ratio" => site.off_credit_ratio = small,
        "response.unanswered_max" => site.response.unanswered_max = small,
        _ => panic!("there is no {field}"),
    }
}

#[test]
fn figures_of_the_site_have_ranges() {
    for (field, low, high) in RANGES {
        for value in [low, high].into_iter().flatten() {
            let text = format!("{field} is {value}; it has to be ");
            broken!(
                |site| set(site, field, value),
                LimitsError::SiteRange { .. },
                &text,
                " to "
            );
        }
    }
}

#[test]
fn figures_of_a_feeder_have_ranges() {
    let ranges: [(Change, &str); 8] = [
        (|s| feeder(s, 0).rate = Rate(0), "feeder 0: rate is 0;"),
        (
            |s| feeder(s, 1).rate_tolerance = Percent(101),
            "feeder 1: rate_tolerance is 101;",
        ),
        (
            |s| feeder(s, 0).drive_off = Millis(10_001),
            "drive_off is 10001;",
        ),
        (|s| feeder(s, 0).dose_min = Dose(0), "dose_min is 0;"),
        (|s| feeder(s, 0).slice_max = Dose(2), "slice_max is 2;"),
        (
            |s| feeder(s, 0).run_max = Millis(86_400_001),
            "run_max is 86400001;",
        ),
        (
            |s| feeder(s, 0).feedback_clear = Millis(0),
            "feedback_clear is 0;",
        ),
        (
            |s| feeder(s, 0).feedback = Fitted::Fitted(Millis(0)),
            "feedback is 0;",
        ),
    ];
    for (change, text) in ranges {
        broken!(
            change,
            LimitsError::FeederRange { .. },
            text,
            "it has to be"
        );
    }
}

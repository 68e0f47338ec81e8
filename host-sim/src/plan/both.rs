//! Two bodies of water for the templates of scenario and constants.

use minijinja::context;

use super::files::{floor3, of_pool, reduced_share, tidy, whole, window};
use super::findings::ALKALINITY_MIN_MG_L;
use super::second::{FIRST, SecondBody};
use super::site::Site;
use super::work::{Custom, FeederFigures, Figures};

/// How long the valves' position stands before anything is fed, s. Our choice: more than a contact bounces.
const STEADY_S: f64 = 10.0;

/// What differs by the sort of pool; of two bodies on one pump the more patient.
pub(super) fn custom(site: &Site) -> Custom {
    let first = Custom::of(site.kind);
    let Some(body) = &site.second else {
        return first;
    };
    let second = Custom::of(body.site.kind);
    Custom {
        settle_s: first.settle_s.max(second.settle_s),
        wrong_way_ph: first.wrong_way_ph.max(second.wrong_way_ph),
        ..first
    }
}

/// The second body for the templates.
pub(super) fn second_body(site: &Site, body: &SecondBody, figures: &Figures) -> minijinja::Value {
    context! {
        name => body.name.clone(),
        first => FIRST,
        seen => body.is_seen(),
        within => tidy(Custom::of(body.site.kind).within_ph),
        travel_s => tidy(body.valves.travel_s),
        steady_s => tidy(STEADY_S),
        daily => body.selected().iter().map(window).collect::<Vec<_>>(),
        bathing => body.selected().iter().max_by_key(|w| w.minutes()).map(window),
        alkalinity_to => tidy(figures.alkalinity_start_mg_l.max(ALKALINITY_MIN_MG_L + 10.0)),
        settle_s => tidy(custom(site).settle_s),
        ..of_pool(&body.site, figures)
    }
}

/// Caps, hold and cut-off of a feeder in one body, for the templates.
fn of_body(cutoffs: (f64, f64), one: &FeederFigures) -> minijinja::Value {
    let (acid_cutoff, orp_cutoff_mv) = cutoffs;
    let cycle = one.cycle_cap;
    let (hour, day) = (
        floor3(one.hour_cap.max(cycle)),
        floor3(one.day_cap.max(cycle)),
    );
    let share = reduced_share(one);
    let is_small = cycle * f64::from(share) / 100.0 < one.dose_min;
    context! {
        cycle => floor3(cycle),
        hour => hour,
        day => day,
        reduced => if is_small { 100 } else { share },
        hold_s => tidy(one.hold_s.ceil()),
        u_cycle => whole(floor3(cycle) * 1000.0),
        u_hour => whole(hour * 1000.0),
        u_day => whole(day * 1000.0),
        cutoff_ph => tidy(acid_cutoff),
        cutoff_milli_ph => whole(acid_cutoff * 1000.0),
        cutoff_orp => tidy(orp_cutoff_mv.round()),
        weak_share => tidy(one.weak_share_percent),
    }
}

/// What may be fed where nothing tells the controller which of two bodies it is: the less of either, and the longer
/// hold.
pub(super) fn less_of(one: &FeederFigures, other: &FeederFigures) -> FeederFigures {
    FeederFigures {
        cycle_cap: one.cycle_cap.min(other.cycle_cap),
        hour_cap: one.hour_cap.min(other.hour_cap),
        day_cap: one.day_cap.min(other.day_cap),
        weak_share_percent: one.weak_share_percent.min(other.weak_share_percent),
        hold_s: one.hold_s.max(other.hold_s),
        ..one.clone()
    }
}

/// What binds in each of two bodies, in their order.
pub(super) fn of_bodies(
    figures: &Figures,
    one: &FeederFigures,
    second: Option<&FeederFigures>,
) -> minijinja::Value {
    let cutoffs = (figures.acid_cutoff, figures.orp_cutoff_mv);
    let bodies = second.map(|second| vec![of_body(cutoffs, one), of_body(cutoffs, second)]);
    context! { bodies => bodies }
}

//! The scenario and the Rust constants that a sheet ends with.

use minijinja::value::merge_maps;
use minijinja::{Environment, context};

use super::both::{custom, less_of, of_bodies, second_body};
use super::care::PlannedCare;
use super::ceiling;
use super::feeder::SiteFeeder;
use super::findings::ALKALINITY_MIN_MG_L;
use super::life;
use super::second::SecondBody;
use super::site::{Site, Wanted};
use super::supply;
use super::work::{
    DRIVE_OFF_S, FREE_ALKALI_EQ_L, FeederFigures, Figures, ORP_FALL_MV_PER_PH, ORP_PER_DECADE_MV,
    TICK_GAP_S, water,
};
use crate::plant::DayWindow;
use crate::water::units::CHLORINE_MG_PER_MMOL;
use dosewarden::guard::Product;

const SCENARIO: &str = include_str!("scenario.toml.j2");
const RUST: &str = include_str!("limits.rs.j2");

/// A scenario for `run`: the site as planned, with by its stages, with a visit a week, for 60 days.
pub(super) fn scenario(site: &Site, figures: &Figures, second: Option<&Figures>) -> String {
    render(SCENARIO, site, figures, second)
}

/// Limits and settings as Rust constants.
pub(super) fn rust(site: &Site, figures: &Figures, second: Option<&Figures>) -> String {
    render(RUST, site, figures, second)
}

fn render(template: &str, site: &Site, figures: &Figures, second: Option<&Figures>) -> String {
    let environment = Environment::new();
    let both = site.second.as_ref().zip(second);
    let feeders: Vec<minijinja::Value> = site
        .feeders
        .iter()
        .zip(&figures.feeders)
        .enumerate()
        .map(|(at, (feeder, one))| {
            let second = both.and_then(|(_, second)| second.feeders.get(at));
            of_feeder(site, figures, feeder, (one, second))
        })
        .collect();
    let custom = custom(site);
    let wanted = &site.wanted;
    let values = context! {
        name => site.name.replace(['"', '\\'], "'"),
        settle_s => tidy(custom.settle_s),
        wrong_way => tidy(custom.wrong_way_ph),
        purge_s => tidy(figures.purge_s.ceil()),
        ph_wanted => tidy(wanted.ph),
        ph_high => tidy(wanted.ph + 0.3),
        ph_low => tidy((figures.acid_cutoff - 0.05).max(6.8)),
        orp_low => tidy(orp_low(site, figures)),
        orp_high => tidy(ceiling::orp_high_mv(site, figures)),
        flow_absent_h => tidy((25.0 - site.pump_h()).max(2.0)),
        chlorine_min => tidy(wanted.free_chlorine_min_mg_l),
        within => tidy(custom.within_ph),
        alkalinity_to => tidy(figures.alkalinity_start_mg_l.max(ALKALINITY_MIN_MG_L + 10.0)),
        refill => site.feeders.iter().filter(|f| f.is_liquid()).map(|f| f.name.clone())
            .collect::<Vec<_>>(),
        feeders => feeders,
        count => site.feeders.len(),
        bodies => if site.second.as_ref().is_some_and(SecondBody::is_seen) { 2 } else { 1 },
        visit => life::VISIT,
        has_answer => figures.feeders.iter().any(|f| f.check.is_some_and(|c| c.answer.is_some())),
        has_orp => site.feeders.iter().any(|f| f.product.is_oxidiser()),
        days => life::DAYS,
        care => of_care(&PlannedCare::of(site)),
        second => both.map(|(body, figures)| second_body(site, body, figures)),
        deeds => life::deeds(site, figures, second).into_iter()
            .map(|deed| context! { at => deed.at, lines => deed.lines }).collect::<Vec<_>>(),
        ..merge_maps([of_pool(site, figures), of_flow(site), of_supply(site)])
    };
    environment
        .render_str(template, values)
        .unwrap_or_else(|error| format!("# the template is broken: {error:#}\n"))
}

/// The water and what happens to it.
pub(super) fn of_pool(site: &Site, figures: &Figures) -> minijinja::Value {
    let (w, wanted) = (&site.water, &site.wanted);
    // Of two bodies, what the first is called in a scenario.
    let key = if site.second.is_some() {
        "body"
    } else {
        "pool"
    };
    context! {
        key => key,
        volume_m3 => tidy(figures.volume_m3),
        depth_m => tidy(site.depth_m),
        co2 => tidy(site.co2_transfer_cm_h),
        sun => if site.outdoors { "100" } else { "0" },
        bathers => tidy(site.bathers_per_day),
        orp_at_1 => tidy(figures.orp_at_1_mg_l_mv.clamp(300.0, 900.0)),
        orp_per_decade => tidy(ORP_PER_DECADE_MV),
        ph => tidy(w.ph.clamp(wanted.ph - 0.1, wanted.ph + 0.3)),
        alkalinity => tidy(figures.alkalinity_start_mg_l),
        calcium => tidy(w.calcium_mg_l.max(wanted.calcium_mg_l)),
        dissolved => tidy(w.dissolved_mg_l.max(wanted.dissolved_mg_l)),
        cya => tidy(w.cyanuric_acid_mg_l.max(wanted.cyanuric_acid_mg_l)),
        borate => tidy(w.borate_mg_l),
        free_chlorine => tidy(wanted.free_chlorine_mg_l),
        temperature => tidy(site.temperature_c),
        corner => site.corner.map(|c| context! {
            share => tidy(c.share * 100.0), exchange => tidy(c.exchange_min),
            standing => tidy(c.standing_min),
        }),
    }
}

/// What feeds the controller, and its clock.
fn of_supply(site: &Site) -> minijinja::Value {
    let (hours, ratio) = supply::off_credit(site);
    let with_pump = supply::is_with_pump(site);
    context! {
        with_pump => with_pump,
        clock => if site.clock { "fitted" } else { "not fitted" },
        knows_time => if site.clock || !with_pump { "true" } else { "false" },
        off_credit_h => hours,
        off_credit_ms => hours * 3_600_000,
        off_credit_ratio => ratio,
    }
}

/// A window as a scenario says it.
pub(super) fn window(w: &DayWindow) -> String {
    let clock = |minute: u16| format!("{:02}:{:02}", minute / 60, minute % 60);
    format!("{}-{}", clock(w.from_min), clock(w.to_min))
}

/// Circulation and probes.
fn of_flow(site: &Site) -> minijinja::Value {
    let runs: Vec<String> = site.flow.runs.iter().map(window).collect();
    let fitted = |yes: bool| if yes { "fitted" } else { "not fitted" };
    let switch = 0.85 * site.flow.slowest_l_min;
    context! {
        runs => runs,
        flow => tidy(site.flow.flow_l_min),
        standing => tidy(0.7 * site.flow.slowest_l_min),
        line_l => tidy(site.flow.line_volume_l),
        makes => tidy(switch),
        breaks => tidy(0.9 * switch),
        pump_contact => fitted(site.flow.pump_contact),
        meter => if site.flow.flow_meter { format!("{} L/min", tidy(switch)) }
            else { "not fitted".to_owned() },
        master => fitted(site.flow.master),
        delay_s => tidy(site.probes.sample_delay_s),
        lag_s => tidy(site.probes.sample_lag_s),
        ph_lag_s => tidy(site.probes.ph_lag_s),
        orp_lag_s => tidy(site.probes.orp_lag_s),
    }
}

/// ORP at the least chlorine that is wanted, where pH is a tenth low: there less chlorine shows the
/// same ORP, so the alarm comes before the chlorine is under what is wanted.
fn orp_low(site: &Site, figures: &Figures) -> f64 {
    let wanted = &site.wanted;
    let at = |ph: f64, free_chlorine_mg_l: f64| {
        let site = Site {
            wanted: Wanted {
                free_chlorine_mg_l,
                ..*wanted
            },
            ..site.clone()
        };
        let water = water(&site, figures.alkalinity_start_mg_l, ph).ok()?;
        let solved = water.equilibrium().solve(&water);
        Some(solved.hypochlorous * CHLORINE_MG_PER_MMOL * 1000.0)
    };
    let least = at(wanted.ph - 0.1, wanted.free_chlorine_min_mg_l).unwrap_or(0.1);
    let orp = figures.orp_at_1_mg_l_mv + ORP_PER_DECADE_MV * libm::log10(least.max(1e-6));
    // Under the set point by more than the regulator's own band.
    orp.round().min(figures.orp_set_mv - 6.0).max(300.0)
}

fn of_feeder(
    site: &Site,
    figures: &Figures,
    feeder: &SiteFeeder,
    (one, second): (&FeederFigures, Option<&FeederFigures>),
) -> minijinja::Value {
    let unseen = site.second.as_ref().is_some_and(|body| !body.is_seen());
    let least = second.filter(|_| unseen).map(|other| less_of(one, other));
    let one = least.as_ref().unwrap_or(one);
    let second = second.filter(|_| !unseen);
    let liquid = feeder.is_liquid();
    let acid = feeder.product == Product::Acid;
    let unit = if liquid { "mL" } else { "g" };
    // A cell's cycle is an hour of it, charged by slices of ten minutes.
    let cycle = one.cycle_cap;
    let slice = if liquid { cycle } else { cycle / 6.0 };
    let rate_for_run = 0.8 * one.rate_per_h;
    let longest = second.map_or(cycle, |second| second.cycle_cap.max(cycle));
    let run_max_s = (longest / rate_for_run * 3600.0).max(2.0 * (TICK_GAP_S + DRIVE_OFF_S)) + 5.0;
    let share = reduced_share(one);
    let reduced = if cycle * f64::from(share) / 100.0 >= one.dose_min {
        share
    } else {
        100
    };
    context! {
        name => feeder.name.clone(),
        product => match feeder.product {
            Product::Acid => "acid",
            Product::Hypochlorite => "hypochlorite",
            _ => "generator",
        },
        kind => match feeder.product {
            Product::Acid => "Acid",
            Product::Hypochlorite => "Hypochlorite",
            _ => "GeneratedChlorine",
        },
        acid => acid,
        liquid => liquid,
        unit => unit,
        strength => if acid { format!("{} mol/L", tidy(feeder.strength)) }
            else { format!("{} g/L", tidy(feeder.strength)) },
        rate => floor3(one.rate_per_h),
        any_tube => floor3(feeder.rate_any_tube_per_h.max(one.rate_per_h * 1.1 + 0.001)),
        caught => if feeder.caught.is_some() || !liquid { "true" } else { "false" },
        free_alkali => tidy(FREE_ALKALI_EQ_L),
        drum_l => tidy(feeder.drum_l),
        drum_low_l => tidy(0.1 * feeder.drum_l),
        level_l => if feeder.level_switch { format!("{} L", tidy(0.04 * feeder.drum_l)) }
            else { "not fitted".to_owned() },
        feedback => feeder.feedback,
        cell_switch => feeder.cell_switch,
        dose_min => (one.dose_min * 1000.0).ceil() / 1000.0,
        cycle => floor3(cycle),
        slice => floor3(slice.max(one.dose_min)),
        hour => floor3(one.hour_cap.max(cycle)),
        day => floor3(one.day_cap.max(cycle)),
        run_max_s => tidy(run_max_s.ceil()),
        reduced => reduced,
        hold_s => tidy(one.hold_s.ceil()),
        ..merge_maps([
            of_bodies(figures, one, second),
            of_regulator(site, figures, one, cycle),
            of_check(site, figures, one),
            of_guard(figures, feeder, one, cycle, slice.max(one.dose_min)),
        ])
    }
}

/// Share of its caps that a feeder has in the reduced stage, %: half, or what the water is expected to use in a day
/// if that is more, with a busy hour (a day of the ledger is up to one bucket longer) and half a cycle; and cycles that
/// with their holds give what is used in a busy hour. Else the pool would be starved in the days of that stage.
pub(super) fn reduced_share(one: &FeederFigures) -> u32 {
    let needed = 1.125 * one.expected_per_day + 0.5 * one.cycle_cap;
    let percent = (100.0 * needed / one.day_cap.max(one.cycle_cap)).ceil();
    let percent = percent.max((100.0 * share_by_rate(one)).ceil());
    percent.clamp(50.0, 100.0) as u32
}

/// Least share of its cycle with which a liquid gives what is used in a busy hour: share * cycle in every
/// share * cycle_s + hold_s + two purges of a minute. All of a day is used in eleven hours at most, and turns with the
/// other feeder leave three quarters of the time (the hotel spa fell under its minimum with a fifteenth less).
fn share_by_rate(one: &FeederFigures) -> f64 {
    if one.acid || one.cell.is_some() {
        return 0.0;
    }
    let per_s = 4.0 / 3.0 * one.expected_per_day / (11.0 * 3600.0);
    let left = one.cycle_cap - per_s * one.cycle_s;
    if left <= 0.0 {
        return 1.0;
    }
    (per_s * (one.hold_s + 120.0) / left).min(1.0)
}

/// Set points, and what a dose does.
fn of_regulator(
    site: &Site,
    figures: &Figures,
    one: &FeederFigures,
    cycle: f64,
) -> minijinja::Value {
    // ORP that a cycle moves, at the wanted chlorine.
    let rise = cycle / one.per_tenth * 0.1;
    let wanted = site.wanted.free_chlorine_mg_l;
    let moves = ORP_PER_DECADE_MV * libm::log10((wanted + rise) / wanted);
    let answer = one.check.and_then(|check| check.answer);
    context! {
        set_ph => tidy(site.wanted.ph),
        set_orp => tidy(figures.orp_set_mv.round()),
        // Where the answers are followed, a dose is of the water of which they are expected.
        per_tenth => floor3(answer.map_or(one.per_tenth, |answer| answer.dose_ml)),
        orp_dose => floor3(cycle),
        orp_moves => tidy(moves.max(1.0).round()),
        start_orp => tidy((figures.orp_set_mv - 8.0).round()),
        stop_orp => tidy((figures.orp_set_mv + 2.0).round()),
        cutoff_ph => tidy(figures.acid_cutoff),
        cutoff_orp => tidy(figures.orp_cutoff_mv.round()),
        orp_fall => tidy(ORP_FALL_MV_PER_PH),
        weak_share => tidy(one.weak_share_percent),
    }
}

fn of_care(care: &PlannedCare) -> minijinja::Value {
    context! {
        observe_h => care.observe_h,
        reduced_h => care.reduced_h,
        proof_every_days => care.proof_every_days,
        alkalinity_every_days => care.alkalinity_every_days,
        cyanurate_every_days => care.cyanurate_every_days,
        cold_below_c => tidy(care.cold_below_c),
    }
}

/// How the feeder's real rate is checked.
fn of_check(site: &Site, figures: &Figures, one: &FeederFigures) -> minijinja::Value {
    let answer = one.check.and_then(|check| check.answer);
    let (w, wanted) = (&site.water, &site.wanted);
    context! {
        check => one.check.map(|check| context! { level_error_l => tidy(check.level_error_l) }),
        answer => answer.map(|answer| context! {
            dose => floor3(answer.dose_ml),
            u_dose => whole(floor3(answer.dose_ml) * 1000.0),
            at => tidy(answer.at_ph),
            more => whole(answer.more_per_tenth_percent),
            error => whole(answer.error_percent),
            settle_s => whole(answer.settle_s),
            hypochlorite => answer.hypochlorite.map(|(ml, raises)| context! {
                dose => floor3(ml),
                u_dose => whole(floor3(ml) * 1000.0),
                raises => tidy((raises * 1000.0).round() / 1000.0),
            }),
            alkalinity => whole(figures.alkalinity_start_mg_l),
            cya => whole(w.cyanuric_acid_mg_l.max(wanted.cyanuric_acid_mg_l)),
            borate => whole(w.borate_mg_l),
            dissolved => whole(w.dissolved_mg_l.max(wanted.dissolved_mg_l)),
            temperature => whole(site.temperature_c),
        }),
    }
}

/// The same in the guard's whole numbers.
fn of_guard(
    figures: &Figures,
    feeder: &SiteFeeder,
    one: &FeederFigures,
    cycle: f64,
    slice: f64,
) -> minijinja::Value {
    context! {
        uph => whole(one.rate_per_h * 1000.0),
        u_any => whole(feeder.rate_any_tube_per_h.max(one.rate_per_h * 1.1 + 0.001) * 1000.0),
        u_dose_min => whole((one.dose_min * 1000.0).ceil()),
        u_cycle => whole(floor3(cycle) * 1000.0),
        u_slice => whole(floor3(slice) * 1000.0),
        u_hour => whole(floor3(one.hour_cap.max(cycle)) * 1000.0),
        u_day => whole(floor3(one.day_cap.max(cycle)) * 1000.0),
        cutoff_milli_ph => whole(figures.acid_cutoff * 1000.0),
    }
}

/// At most three places, rounded down.
pub(super) fn floor3(value: f64) -> f64 {
    (value * 1000.0).floor() / 1000.0
}

pub(super) fn whole(value: f64) -> u64 {
    value.round() as u64
}

/// At most four places, none for nothing.
pub(super) fn tidy(value: f64) -> String {
    let text = format!("{value:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text.is_empty() || text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

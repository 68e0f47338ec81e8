//! `[limits]` and each `[feeder.limits]`: the site's limits, checked by the guard's own
//! `Limits::try_new`. What it finds wrong is told at the key that it is about.

use dosewarden::guard::units::{
    Dose, FlowMlPerS, MilliPh, Millis, Millivolts, MinuteOfDay, Percent, Rate,
};
use dosewarden::guard::{
    BodyLimits, Cutoff, FallbackCaps, FallbackLimits, FeederLimits, FeederSpec, Fitted, Governor,
    Hours, Limits, LimitsError, LimitsSpec, Product, ResponseLimits, Restart,
};

use super::entry::Entry;
use super::error::InputError;
use super::quantity::Kind;
use super::table::{Source, Table};
use super::two;
use crate::plant::MAX_FEEDERS;

type Read<T> = Result<T, InputError>;

/// Limits of a scenario's site: places that the file does not use are disabled feeders.
pub type SiteLimits<const B: usize = 1> = Limits<MAX_FEEDERS, B>;
type SiteSpec = LimitsSpec<MAX_FEEDERS, 1>;

/// Nearest whole number. The ranges that were checked before fit; beyond them it saturates.
fn whole(value: f64) -> u32 {
    value.round() as u32
}

fn milli_ph(value: f64) -> MilliPh {
    MilliPh((value * 1000.0).round() as i32)
}

fn fit<T>(found: Option<T>) -> Fitted<T> {
    found.map_or(Fitted::NotFitted, Fitted::Fitted)
}

fn time(t: &Table<'_, '_>, key: &'static str, min: &str, max: &str) -> Read<Millis> {
    Ok(Millis(whole(
        t.quantity(key, Kind::Time, min, max)? * 1000.0,
    )))
}

fn share(t: &Table<'_, '_>, key: &'static str, max: &str) -> Read<Percent> {
    Ok(Percent(whole(
        t.quantity(key, Kind::Share, "0 %", max)? * 100.0,
    )))
}

fn millivolts(mv: f64) -> Millivolts {
    Millivolts(mv.round() as i32)
}

fn ph(t: &Table<'_, '_>, key: &'static str, min: &str, max: &str) -> Read<MilliPh> {
    Ok(milli_ph(t.quantity(key, Kind::Ph, min, max)?))
}

/// `"fitted"` or `"not fitted"`.
fn fitted(t: &Table<'_, '_>, key: &'static str) -> Read<Fitted<()>> {
    t.choice(
        key,
        &[("fitted", Fitted::YES), ("not fitted", Fitted::NotFitted)],
    )
}

/// A table, or `"not fitted"`.
fn fitted_table<T>(
    t: &Table<'_, '_>,
    key: &'static str,
    read: impl FnOnce(&Table<'_, '_>) -> Read<T>,
) -> Read<Fitted<T>> {
    if t.need(key, "\"not fitted\"")?.says_not_fitted() {
        return Ok(Fitted::NotFitted);
    }
    let inner = t.table(key)?;
    let value = read(&inner)?;
    inner.close()?;
    Ok(Fitted::Fitted(value))
}

/// How the amounts of a product are written and kept: microlitres of a liquid, milligrams of
/// chlorine of a generator.
#[derive(Clone, Copy)]
pub(super) struct Amounts {
    generator: bool,
}

impl Amounts {
    pub(super) fn of(product: Product) -> Self {
        Self {
            generator: product == Product::GeneratedChlorine,
        }
    }

    pub(super) fn dose(self, entry: &Entry<'_, '_>) -> Read<Dose> {
        let amount = if self.generator {
            entry.quantity(Kind::Mass, "0 mg", "4 kg")? * 1e3
        } else {
            entry.quantity(Kind::Volume, "0 uL", "4000 L")? * 1e6
        };
        Ok(Dose(whole(amount)))
    }

    pub(super) fn dose_at(self, t: &Table<'_, '_>, key: &'static str) -> Read<Dose> {
        self.dose(&t.need(
            key,
            if self.generator {
                "\"8 g\""
            } else {
                "\"45 mL\""
            },
        )?)
    }

    pub(super) fn rate_at(self, t: &Table<'_, '_>, key: &'static str) -> Read<Rate> {
        let per_hour = if self.generator {
            t.quantity(key, Kind::MassRate, "0.1 g/h", "1000 g/h")? * 1e3
        } else {
            t.quantity(key, Kind::LiquidRate, "0.1 mL/min", "1000 L/h")? * 1e6
        };
        Ok(Rate(whole(per_hour)))
    }
}

/// The site's part; the feeders come from their own tables.
pub(super) fn site(
    root: &Table<'_, '_>,
    feeders: [FeederLimits<1>; MAX_FEEDERS],
) -> Read<SiteSpec> {
    let t = root.table("limits")?;
    let flow_meter = t.need("flow_meter", "\"not fitted\"")?.fitted(|entry| {
        let per_hour = entry.quantity(Kind::LiquidRate, "1 L/min", "50000 L/min")?;
        Ok(FlowMlPerS(whole(per_hour / 3.6)))
    })?;
    let hours = t.need("hours", "\"not fitted\"")?.fitted(|entry| {
        let window = entry.window()?;
        let close = MinuteOfDay(window.to_min % 1440);
        Ok(Hours {
            open: MinuteOfDay(window.from_min),
            close,
        })
    })?;
    let restart = [
        ("automatic", Restart::Automatic),
        ("person", Restart::Person),
    ];
    let ratio = t.whole("off_credit_ratio", 0, 4)?;
    let spec = SiteSpec {
        tick_gap_max: time(&t, "tick_gap_max", "200 ms", "5 s")?,
        power_on_delay: time(&t, "power_on_delay", "1 s", "1 h")?,
        power_on_delay_new_probe: time(&t, "power_on_delay_new_probe", "1 s", "1 day")?,
        restart_after_power_loss: t.choice("restart_after_power_loss", &restart)?,
        flow_switch: fitted(&t, "flow_switch")?,
        flow_meter: fit(flow_meter),
        pump_contact: fitted(&t, "pump_contact")?,
        witness_age_max: time(&t, "witness_age_max", "1 ms", "5 s")?,
        flow_prove: time(&t, "flow_prove", "0 s", "1 h")?,
        stuck_flow_max: time(&t, "stuck_flow_max", "0 s", "10 min")?,
        ph_probe: fitted(&t, "ph_probe")?,
        orp_probe: fitted(&t, "orp_probe")?,
        probe_age_max: time(&t, "probe_age_max", "1 ms", "5 min")?,
        probe_settle: time(&t, "probe_settle", "0 s", "1 h")?,
        probe_failure_max: time(&t, "probe_failure_max", "1 s", "1 day")?,
        body_valves: Fitted::NotFitted,
        purge: time(&t, "purge", "0 s", "1 h")?,
        resume_within: time(&t, "resume_within", "0 s", "1 h")?,
        save_max: time(&t, "save_max", "1 ms", "10 min")?,
        manual_max: time(&t, "manual_max", "1 s", "10 min")?,
        hours: fit(hours),
        response: response(&t)?,
        fallback: fitted_table(&t, "fallback", fallback)?,
        off_credit_max: time(&t, "off_credit_max", "0 s", "1 day")?,
        off_credit_ratio: u8::try_from(ratio).unwrap_or(0),
        feeders,
    };
    t.close()?;
    Ok(spec)
}

fn response(site: &Table<'_, '_>) -> Read<ResponseLimits> {
    let t = site.table("response")?;
    let unanswered = t.whole("unanswered_max", 0, 255)?;
    let limits = ResponseLimits {
        wrong_way_max: ph(&t, "wrong_way_max", "pH 0", "pH 2")?,
        answer_max: ph(&t, "answer_max", "pH 0", "pH 2")?,
        answer_min: ph(&t, "answer_min", "pH 0", "pH 2")?,
        unanswered_max: u8::try_from(unanswered).unwrap_or(0),
        probe_cycle_every: time(&t, "probe_cycle_every", "1 h", "1 day")?,
    };
    t.close()?;
    Ok(limits)
}

fn fallback(t: &Table<'_, '_>) -> Read<FallbackLimits> {
    Ok(FallbackLimits {
        run_max: time(t, "run_max", "1 s", "72 h")?,
        test_age_max: time(t, "test_age_max", "1 s", "1 day")?,
        warn_before: time(t, "warn_before", "0 s", "72 h")?,
    })
}

/// What binds a feeder in one body.
fn body(t: &Table<'_, '_>, product: Product) -> Read<BodyLimits> {
    let amounts = Amounts::of(product);
    Ok(BodyLimits {
        cycle_cap: amounts.dose_at(t, "cycle_cap")?,
        hour_cap: amounts.dose_at(t, "hour_cap")?,
        day_cap: amounts.dose_at(t, "day_cap")?,
        reduced_share: share(t, "reduced_share", "100 %")?,
        spread_hold: time(t, "spread_hold", "0 s", "1 day")?,
        cutoff: cutoff(t, product)?,
        fallback: fitted_table(t, "fallback", |inner| {
            Ok(FallbackCaps {
                cycle: amounts.dose_at(inner, "cycle")?,
                day: amounts.dose_at(inner, "day")?,
            })
        })?,
    })
}

/// What binds a feeder in each body: keys of `[feeder.limits]` itself, or with several bodies a
/// `[[feeder.limits.body]]` for each, in their order.
fn each_body(
    t: &Table<'_, '_>,
    product: Product,
    names: &[String],
) -> Read<(BodyLimits, Option<BodyLimits>)> {
    if names.is_empty() {
        if t.find("body").is_some() {
            let what = "[[feeder.limits.body]] are for two [[body]] whose valves have `position` fitted; here the limits stand in [feeder.limits]";
            return Err(t.error_at("body", what.to_owned()));
        }
        return Ok((body(t, product)?, None));
    }
    let order = names.join("\", then \"");
    let mut read = Vec::new();
    for one in t.tables("body")? {
        let of = one.words("of")?;
        if names.get(read.len()).map(String::as_str) != Some(of) {
            let what = format!(
                "this is of \"{of}\"; there has to be one [[feeder.limits.body]] for each body, of \"{order}\""
            );
            return Err(one.error_at("of", what));
        }
        read.push(body(&one, product)?);
        one.close()?;
    }
    match read.as_slice() {
        [first, second] => Ok((*first, Some(*second))),
        _ => Err(t.error(format!(
            "there are {} [[feeder.limits.body]]; there has to be one for each body, of \"{order}\"",
            read.len()
        ))),
    }
}

/// The limits of one feeder, from its `[feeder.limits]`, and those of the second body, where `bodies` names two.
/// `switches` say whether the feeder's own table has a level switch and a cell's switch fitted.
pub(super) fn feeder(
    of: &Table<'_, '_>,
    product: Product,
    switches: (bool, bool),
    bodies: &[String],
) -> Read<(FeederSpec<1>, Option<BodyLimits>)> {
    let (level_switch, cell_switch) = switches;
    let t = of.table("limits")?;
    let amounts = Amounts::of(product);
    let governors = [
        ("ph", Governor::Ph),
        ("orp", Governor::Orp),
        ("timed_share", Governor::TimedShare),
    ];
    let feedback = t.need("feedback", "\"not fitted\"")?.fitted(|entry| {
        Ok(Millis(whole(
            entry.quantity(Kind::Time, "1 ms", "1 min")? * 1000.0,
        )))
    })?;
    let yes = |fitted| {
        if fitted {
            Fitted::YES
        } else {
            Fitted::NotFitted
        }
    };
    let (first, second) = each_body(&t, product, bodies)?;
    let spec = FeederSpec {
        product,
        governor: t.choice("governor", &governors)?,
        rate: amounts.rate_at(&t, "rate")?,
        rate_tolerance: share(&t, "rate_tolerance", "100 %")?,
        rate_any_tube: amounts.rate_at(&t, "rate_any_tube")?,
        catch_test_on_record: t.need("catch_test_on_record", "true")?.yes_or_no()?,
        drive_off: time(&t, "drive_off", "0 s", "10 s")?,
        feedback: fit(feedback),
        feedback_clear: time(&t, "feedback_clear", "1 ms", "1 h")?,
        cut_timer: fitted(&t, "cut_timer")?,
        level_switch: yes(level_switch),
        cell_flow_switch: yes(cell_switch),
        dose_min: amounts.dose_at(&t, "dose_min")?,
        slice_max: amounts.dose_at(&t, "slice_max")?,
        run_max: time(&t, "run_max", "1 s", "1 day")?,
        bodies: [first],
    };
    t.close()?;
    Ok((spec, second))
}

fn cutoff(limits: &Table<'_, '_>, product: Product) -> Read<Cutoff> {
    match product {
        Product::Acid => Ok(Cutoff::AbovePh(ph(limits, "cutoff", "pH 0", "pH 14")?)),
        Product::Base => Ok(Cutoff::BelowPh(ph(limits, "cutoff", "pH 0", "pH 14")?)),
        Product::Hypochlorite | Product::GeneratedChlorine => {
            let t = limits.table("cutoff")?;
            let orp = t.quantity("orp", Kind::Potential, "1 mV", "1000 mV")?;
            let cutoff = Cutoff::Oxidiser {
                orp: millivolts(orp),
                ph_floor: ph(&t, "ph_floor", "pH 0", "pH 14")?,
                ph_weak: ph(&t, "ph_weak", "pH 0", "pH 14")?,
                weak_share: share(&t, "weak_share", "100 %")?,
                orp_ph: ph(&t, "orp_ph", "pH 0", "pH 14")?,
                orp_fall: millivolts(t.quantity("orp_fall", Kind::Potential, "0 mV", "200 mV")?),
            };
            t.close()?;
            Ok(cutoff)
        }
    }
}

/// Lets the guard check the whole, and tells what it finds at the key that it is about.
pub(super) fn check(source: &Source<'_>, spec: SiteSpec) -> Read<SiteLimits> {
    SiteLimits::try_new(spec).map_err(|error| refused(source, &error, None))
}

/// The same for two bodies whose valves' position stands for `steady`.
pub(super) fn check_two(
    source: &Source<'_>,
    spec: &SiteSpec,
    steady: Millis,
    second: &[BodyLimits],
) -> Read<SiteLimits<2>> {
    two::of_two(spec, steady, second).map_err(|error| refused(source, &error, body_of(&error)))
}

/// `body`: the one whose `[[feeder.limits.body]]` it is about.
fn refused(source: &Source<'_>, error: &LimitsError, body: Option<usize>) -> InputError {
    let path = path_of(error, body);
    let written = match source.written(&path) {
        Some(text) => format!(" (here \"{text}\")"),
        None => String::new(),
    };
    let what = format!("the guard refuses these limits: {error}{written}; {UNITS}");
    source.error(&source.place(&path), what)
}

/// The unit of the figures in the guard's own words.
const UNITS: &str = "it counts in ms, uL (a generator: mg), mV and pH x 1000";

/// The body that an error of the guard is about.
const fn body_of(error: &LimitsError) -> Option<usize> {
    match *error {
        LimitsError::BodyRange { body, .. }
        | LimitsError::CapZero { body, .. }
        | LimitsError::CapAbove { body, .. }
        | LimitsError::HoldZero { body, .. }
        | LimitsError::CutoffMismatch { body, .. }
        | LimitsError::CycleTooShort { body, .. }
        | LimitsError::FallbackNotPossible { body, .. } => Some(body),
        _ => None,
    }
}

/// The key that an error of the guard is about.
fn path_of(error: &LimitsError, body: Option<usize>) -> String {
    let of_feeder = |feeder: usize, field: &str| match body {
        None => format!("feeder[{feeder}].limits.{field}"),
        Some(body) => format!("feeder[{feeder}].limits.body[{body}].{field}"),
    };
    match *error {
        LimitsError::SiteRange { field, .. } => format!("limits.{field}"),
        LimitsError::NoFlowWitness => "limits.flow_switch".to_owned(),
        LimitsError::NewProbeWaitShorter { .. } => "limits.power_on_delay_new_probe".to_owned(),
        LimitsError::HoursEmpty { .. } => "limits.hours".to_owned(),
        LimitsError::AnswerRange { .. } => "limits.response.answer_max".to_owned(),
        LimitsError::FeederRange { feeder, field, .. }
        | LimitsError::BodyRange { feeder, field, .. }
        | LimitsError::CapZero { feeder, field, .. }
        | LimitsError::CapAbove { feeder, field, .. } => of_feeder(feeder, field),
        LimitsError::HoldZero { feeder, .. } => of_feeder(feeder, "spread_hold"),
        LimitsError::GovernorNotFitted { feeder } | LimitsError::GovernorMismatch { feeder } => {
            of_feeder(feeder, "governor")
        }
        LimitsError::CutoffMismatch { feeder, .. } => of_feeder(feeder, "cutoff"),
        LimitsError::AnyTubeBelowRate { feeder, .. } => of_feeder(feeder, "rate_any_tube"),
        LimitsError::CycleTooShort { feeder, .. } => of_feeder(feeder, "cycle_cap"),
        LimitsError::FallbackNotPossible { feeder, .. } => of_feeder(feeder, "fallback"),
        LimitsError::CellSwitchWithoutCell { feeder } => format!("feeder[{feeder}].cell_switch"),
        LimitsError::ProductDisagrees { feeder, .. } => format!("feeder[{feeder}].limits"),
        _ => "limits".to_owned(),
    }
}

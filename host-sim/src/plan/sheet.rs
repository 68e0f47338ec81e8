//! The sheet in words.

use core::fmt;

use super::work::ORP_FALL_MV_PER_PH;
use super::{CheckFigures, FeederFigures, Figures, Plan, SecondPlan, Severity, Step, stages};

/// A sheet with those files behind it that are not written elsewhere.
struct Shown<'a> {
    plan: &'a Plan,
    scenario: bool,
    rust: bool,
}

impl fmt::Display for Plan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.shown(true, true).fmt(f)
    }
}

impl Plan {
    /// The sheet as text; the scenario and the Rust constants stand behind it where they are wanted.
    #[must_use]
    pub fn shown(&self, scenario: bool, rust: bool) -> impl fmt::Display + '_ {
        Shown {
            plan: self,
            scenario,
            rust,
        }
    }

    fn sheet(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Commissioning sheet: {}\n", self.site)?;
        self.findings(f)?;
        self.before(f)?;
        self.water(f)?;
        for feeder in &self.figures.feeders {
            amounts(f, feeder, self.figures.acid_cutoff)?;
        }
        if let Some(second) = &self.second {
            self.second_body(f, second)?;
        }
        for moved in &self.tried {
            writeln!(f, "{moved}")?;
        }
        self.then(f)?;
        writeln!(f)
    }
}

impl fmt::Display for Shown<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plan = self.plan;
        plan.sheet(f)?;
        if self.scenario {
            writeln!(f, "Scenario for `dosewarden run`\n\n{}", plan.scenario)?;
        }
        if self.rust {
            writeln!(f, "Limits for a firmware, in Rust\n\n{}", plan.rust)?;
        }
        write!(
            f,
            "Advice, not a permission, and not certified. Local codes and licensed practice come first; the hard-wired\n\
             interlock stays. Never mix acid and hypochlorite; gloves and goggles.\n"
        )
    }
}

impl Plan {
    fn findings(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.findings.is_empty() {
            return writeln!(f, "Findings: none\n");
        }
        writeln!(f, "Findings")?;
        for finding in &self.findings {
            let grave = match finding.severity {
                Severity::Error => "ERROR  ",
                Severity::Caution => "caution",
                Severity::Note => "note   ",
            };
            writeln!(f, "  {grave}  {} ({})", finding.what, finding.name)?;
            writeln!(f, "           -> {}", finding.change)?;
        }
        writeln!(f)
    }

    fn before(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Before feeding starts, by hand, in this order")?;
        steps(f, &self.before)
    }

    /// The same of the second body.
    fn second_body(&self, f: &mut fmt::Formatter<'_>, second: &SecondPlan) -> fmt::Result {
        writeln!(f, "The {}, before feeding starts", second.name)?;
        steps(f, &second.before)?;
        writeln!(f, "The {}: water", second.name)?;
        water(f, &second.figures)?;
        writeln!(f)?;
        for feeder in &second.figures.feeders {
            write!(f, "The {}: ", second.name)?;
            amounts(f, feeder, second.figures.acid_cutoff)?;
        }
        Ok(())
    }

    fn water(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "Water")?;
        water(f, &self.figures)?;
        if let Some(advice) = &self.advice {
            writeln!(
                f,
                "  half the acid            at pH {:.1} and alkalinity {:.0} mg/L ({:.0} % of it)",
                advice.ph,
                advice.alkalinity_mg_l,
                advice.share * 100.0
            )?;
        }
        writeln!(f)
    }

    fn then(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        stages::write(f, self)
    }
}

fn steps(f: &mut fmt::Formatter<'_>, steps: &[Step]) -> fmt::Result {
    if steps.is_empty() {
        return writeln!(f, "  nothing: the water is near enough\n");
    }
    Step::list(f, steps)?;
    writeln!(f)
}

fn water(f: &mut fmt::Formatter<'_>, g: &Figures) -> fmt::Result {
    writeln!(
        f,
        "  volume                   {:.1} m3, {:.2} m deep",
        g.volume_m3, g.depth_m
    )?;
    writeln!(
        f,
        "  alkalinity               {:.0} mg/L at the start, -{:.1} mg/L a day, {:.0} before the next test",
        g.alkalinity_start_mg_l, g.alkalinity_loss_mg_l_day, g.alkalinity_lowest_mg_l
    )?;
    writeln!(
        f,
        "  saturation index         {:+.2} as tested",
        g.calcite_index
    )?;
    writeln!(
        f,
        "  chlorine used            {:.1} mg/L a day",
        g.chlorine_mg_l_day
    )?;
    writeln!(
        f,
        "  held                     acid never under pH {:.2}; ORP at {:.0} mV, never over {:.0} mV",
        g.acid_cutoff, g.orp_set_mv, g.orp_cutoff_mv
    )?;
    writeln!(
        f,
        "                           and {ORP_FALL_MV_PER_PH:.0} mV less for each pH above the wanted one"
    )?;
    writeln!(f, "  purge                    {:.0} s", g.purge_s)
}

fn amounts(f: &mut fmt::Formatter<'_>, one: &FeederFigures, cutoff: f64) -> fmt::Result {
    let unit = one.unit;
    // Small amounts with their tenths.
    let few = |amount: f64| format!("{amount:.*}", usize::from(amount < 10.0));
    let what = if one.acid { "pH" } else { "mg/L" };
    writeln!(f, "{}", one.name)?;
    writeln!(
        f,
        "  rate                     {:.0} {unit}/h; caps count at {:.0}",
        one.rate_per_h, one.rate_for_caps_per_h
    )?;
    writeln!(
        f,
        "  0.1 {what:<4}                 {} {unit}; expected {} {unit} a day",
        few(one.per_tenth),
        few(one.expected_per_day)
    )?;
    writeln!(
        f,
        "  caps                     {} {unit} a cycle ({:.0} s), {} an hour, {} a day; smallest {}",
        few(one.cycle_cap),
        one.cycle_s,
        few(one.hour_cap),
        few(one.day_cap),
        few(one.dose_min)
    )?;
    if !one.acid {
        writeln!(
            f,
            "  weak, over pH 7.9        {:.0} % of a cycle",
            one.weak_share_percent
        )?;
    }
    writeln!(
        f,
        "  hold                     {:.0} min of flow",
        one.hold_s / 60.0
    )?;
    if let Some(days) = one.stock_days {
        writeln!(f, "  a full drum lasts        {days:.0} days")?;
    }
    if let Some(check) = one.check {
        checked(f, &check)?;
    }
    if let Some(cell) = one.cell {
        writeln!(
            f,
            "  size                     {:.1} g/h are needed while the pump runs; {:.1} L/h of hydrogen at its rate",
            cell.needed_g_per_h, cell.hydrogen_l_per_h
        )?;
    }
    writeln!(
        f,
        "  behind the injector      pH {:.1} at the slowest flow",
        one.stream_ph
    )?;
    at_worst(f, one, what, cutoff)
}

/// What a fault or a day's cap does to the water.
fn at_worst(
    f: &mut fmt::Formatter<'_>,
    one: &FeederFigures,
    what: &str,
    cutoff: f64,
) -> fmt::Result {
    let drum = one
        .after_drum
        .map_or_else(String::new, |after| format!("; the whole drum {after:.1}"));
    writeln!(
        f,
        "  if all went wrong        {what} after a cycle too many {:.2}; an hour without a stop {:.1}{drum}",
        one.after_cycle, one.after_hour
    )?;
    if one.acid {
        writeln!(
            f,
            "  a day's cap at once      from pH {cutoff:.2}, at the lowest alkalinity: pH {:.2}",
            one.after_day_cap
        )?;
    } else {
        writeln!(
            f,
            "  a day's cap at once      {:.1} mg/L",
            one.after_day_cap
        )?;
    }
    writeln!(f)
}

/// How the feeder's real rate is checked.
fn checked(f: &mut fmt::Formatter<'_>, check: &CheckFigures) -> fmt::Result {
    if let Some(answer) = check.answer {
        writeln!(
            f,
            "  the water's answer       {:.0} mL move pH {:.1} by 0.1, known to {:.0} %; shown after {:.0} min",
            answer.dose_ml,
            answer.at_ph,
            answer.error_percent,
            answer.settle_s / 60.0
        )?;
    }
    writeln!(
        f,
        "  the drum's level         read to {:.2} L at each visit, against what was booked",
        check.level_error_l
    )
}

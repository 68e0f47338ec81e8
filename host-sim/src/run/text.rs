//! A summary as text for a terminal or a log: no colours, nothing wider than 100 columns.

use core::fmt::{self, Display, Formatter};

use super::bodies;
use super::summary::{FeederSummary, OracleSummary, RateSummary, Summary};
use crate::scenario::words;

/// Most lines of the log that the text shows.
const LOG_LINES_SHOWN: usize = 40;

/// A figure with about three digits that count.
pub(crate) fn figure(value: f64) -> String {
    match value.abs() {
        size if size >= 100.0 => format!("{value:.0}"),
        size if size >= 10.0 => format!("{value:.1}"),
        size if size >= 0.1 || size == 0.0 => format!("{value:.2}"),
        _ => format!("{value:.4}"),
    }
}

fn time(seconds: u64) -> String {
    let (hours, minutes) = (seconds / 3600, seconds / 60 % 60);
    if hours > 0 {
        format!("{hours} h {minutes:02} min")
    } else {
        words::time(seconds * 1000)
    }
}

impl Display for Summary {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let (days, seed, tick) = (self.days, self.seed, self.tick_ms);
        writeln!(
            f,
            "{}: {days} days, seed {seed}, a tick each {tick} ms",
            self.scenario
        )?;
        writeln!(f)?;
        writeln!(f, "The water itself, within its alarm thresholds")?;
        let ph = &self.ph;
        writeln!(
            f,
            "  pH  {:.2} to {:.2}    {:5.1} % of the time",
            ph.low, ph.high, ph.inside_percent
        )?;
        let orp = &self.orp;
        writeln!(
            f,
            "  ORP {:.0} to {:.0} mV  {:5.1} % of the time",
            orp.low, orp.high, orp.inside_percent
        )?;
        let units: Vec<&str> = self.feeders.iter().map(|one| one.unit).collect();
        bodies::write(f, &self.bodies, &units)?;
        for feeder in &self.feeders {
            writeln!(f)?;
            self.fmt_feeder(f, feeder)?;
        }
        self.fmt_alarms(f)?;
        self.fmt_log(f)?;
        writeln!(f)?;
        writeln!(f, "Oracles, from the plant's own truth")?;
        for oracle in &self.oracles {
            fmt_oracle(f, oracle)?;
        }
        writeln!(f)?;
        for event in &self.never_came {
            writeln!(f, "note: never came in these days: {event}")?;
        }
        self.fmt_verdict(f)
    }
}

impl Summary {
    fn fmt_feeder(&self, f: &mut Formatter<'_>, feeder: &FeederSummary) -> fmt::Result {
        let FeederSummary {
            name,
            product,
            unit,
            ..
        } = feeder;
        writeln!(
            f,
            "{name} ({product}): {} {unit} in {} doses; caps {} a cycle, {} an hour, {} a day",
            figure(feeder.total),
            feeder.doses,
            figure(feeder.cycle_cap),
            figure(feeder.hour_cap),
            figure(feeder.day_cap),
        )?;
        for (week, days) in feeder.days.chunks(7).enumerate() {
            let shown: Vec<String> = days
                .iter()
                .map(|day| format!("{:>7}", figure(*day)))
                .collect();
            if week == 4 {
                writeln!(
                    f,
                    "  ... {} more days",
                    feeder.days.len().saturating_sub(28)
                )?;
                break;
            }
            writeln!(
                f,
                "  day {:>3} on, {unit} a day {}",
                week * 7 + 1,
                shown.join(" ")
            )?;
        }
        if let Some(rate) = &feeder.rate {
            fmt_rate(f, rate)?;
        }
        writeln!(f, "  refused while asked for, by reason (in all):")?;
        for refusal in feeder
            .refusals
            .iter()
            .filter(|refusal| refusal.asked_seconds > 0)
        {
            let (asked, all) = (time(refusal.asked_seconds), time(refusal.seconds));
            writeln!(f, "    {:<18} {asked:>12}  ({all})", refusal.rule)?;
        }
        Ok(())
    }

    fn fmt_alarms(&self, f: &mut Formatter<'_>) -> fmt::Result {
        writeln!(f)?;
        if self.alarms.is_empty() {
            return writeln!(f, "No alarm came.");
        }
        writeln!(f, "Alarms")?;
        for alarm in &self.alarms {
            let (times, stood) = (alarm.times, time(alarm.seconds));
            writeln!(f, "  {:<28} {times:>4} x, stood {stood} in all", alarm.name)?;
        }
        let (waiting, off) = (time(self.waiting_for_person_s), time(self.unpowered_s));
        writeln!(f, "  waited for a person {waiting}; without power {off}")
    }

    fn fmt_log(&self, f: &mut Formatter<'_>) -> fmt::Result {
        writeln!(f)?;
        writeln!(f, "What happened")?;
        for line in self.log.iter().take(LOG_LINES_SHOWN) {
            writeln!(f, "  {:<13} {}", line.clock, line.words)?;
        }
        let more =
            (self.log.len() as u64 + self.log_dropped).saturating_sub(LOG_LINES_SHOWN as u64);
        if more > 0 {
            writeln!(f, "  ... {more} more; the JSON and the report have them")?;
        }
        Ok(())
    }

    fn fmt_verdict(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let broken = self
            .oracles
            .iter()
            .filter(|oracle| oracle.verdict == "broken")
            .count();
        let judged = self
            .oracles
            .iter()
            .filter(|oracle| oracle.verdict != "not judged")
            .count();
        let expected = match (self.held, self.as_expected) {
            (true, true) => "",
            (false, true) => ", as this scenario expects",
            (_, false) => ", which this scenario does not expect",
        };
        if self.held {
            writeln!(
                f,
                "Verdict: HELD. All {judged} oracles that had something to judge held{expected}."
            )
        } else {
            writeln!(
                f,
                "Verdict: BROKEN. {broken} of {judged} oracles were broken{expected}."
            )
        }
    }
}

fn fmt_rate(f: &mut Formatter<'_>, rate: &RateSummary) -> fmt::Result {
    write!(f, "  real over entered rate {:.2}", rate.truth)?;
    if let (Some(found), Some(deviation)) = (rate.found, rate.deviation) {
        let doses = rate.doses;
        write!(f, "; found {found:.2} +- {deviation:.2} by {doses} answers")?;
    }
    writeln!(
        f,
        "; by the water: {}; by the drum: {}",
        rate.verdict, rate.by_drum
    )
}

fn fmt_oracle(f: &mut Formatter<'_>, oracle: &OracleSummary) -> fmt::Result {
    let OracleSummary {
        name,
        verdict,
        unit,
        words,
        ..
    } = oracle;
    write!(f, "  {name:<20} {verdict:<10}")?;
    if let (Some(worst), Some(bound)) = (oracle.worst, oracle.bound) {
        write!(
            f,
            " worst {}, {} {} {unit}",
            figure(worst),
            oracle.side,
            figure(bound)
        )?;
    }
    if let Some(first) = &oracle.first_broken {
        write!(f, ", first at {first}")?;
    }
    if !words.is_empty() {
        write!(f, " ({words})")?;
    }
    writeln!(f)
}

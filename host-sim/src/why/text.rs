//! An explanation as text.

use core::fmt;

use super::{Explanation, FeederAt, InTheWay, Since};
use crate::run::figure;
use crate::scenario::words::time;

/// As many of what kept a feeder from feeding are shown; the JSON has all.
const KEPT_SHOWN: usize = 5;

impl fmt::Display for Since {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.from_the_start {
            write!(f, "since the trace begins, or longer")
        } else {
            write!(f, "since {}", self.clock)?;
            match self.seconds {
                0 => Ok(()),
                seconds => write!(f, " ({})", time(seconds * 1000)),
            }
        }
    }
}

impl fmt::Display for Explanation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let row = time(self.row_s * 1000);
        writeln!(
            f,
            "At {} ({} s), by rows {row} apart: what came between two rows is seen at the second.",
            self.clock, self.seconds
        )?;
        if !self.powered {
            writeln!(f, "The unit had no power.")?;
        }
        for feeder in &self.feeders {
            writeln!(f)?;
            told(f, feeder, self.powered)?;
        }
        writeln!(f)?;
        match self.alarms.is_empty() {
            true => writeln!(f, "No alarm stood.")?,
            false => writeln!(f, "Alarms that stood:")?,
        }
        for alarm in &self.alarms {
            writeln!(f, "  {} {}", alarm.name, alarm.since)?;
        }
        for feeder in &self.feeders {
            writeln!(f)?;
            whole(f, feeder)?;
        }
        Ok(())
    }
}

fn told(f: &mut fmt::Formatter<'_>, feeder: &FeederAt, powered: bool) -> fmt::Result {
    let FeederAt { name, unit, .. } = feeder;
    if feeder.phase == Some("feeding") || feeder.fed > 0.0 {
        let (fed, on) = (figure(feeder.fed), figure(feeder.on_s));
        write!(
            f,
            "{name}: fed {fed} {unit} in this row, drive on for {on} s"
        )?;
    } else {
        write!(f, "{name}: not fed")?;
        match &feeder.last_fed {
            Some(clock) => write!(f, "; last at {clock}")?,
            None => write!(f, " yet")?,
        }
    }
    let asked = if feeder.asked {
        "feed is asked for"
    } else {
        "nothing is asked for"
    };
    match feeder.phase {
        Some(phase) => writeln!(f, "; phase {phase}; {asked}")?,
        None if powered => writeln!(f, "; {asked}; the unit does not say what it does")?,
        None => writeln!(f)?,
    }
    if feeder.phase.is_some() && feeder.phase != Some("feeding") && feeder.obstacles.is_empty() {
        writeln!(f, "  nothing stands in the way any more")?;
    }
    for obstacle in &feeder.obstacles {
        in_the_way(f, obstacle)?;
    }
    Ok(())
}

fn in_the_way(f: &mut fmt::Formatter<'_>, obstacle: &InTheWay) -> fmt::Result {
    let InTheWay {
        name, words, since, ..
    } = obstacle;
    let kind = match obstacle.kind {
        "lockout" => "locked out: ",
        _ => "",
    };
    writeln!(f, "  {name}: {kind}{words}")?;
    writeln!(f, "    {since}; clears {}", obstacle.clears)?;
    if !obstacle.look_first.is_empty() {
        writeln!(f, "    look first at: {}", obstacle.look_first.join(" / "))?;
    }
    Ok(())
}

fn whole(f: &mut fmt::Formatter<'_>, feeder: &FeederAt) -> fmt::Result {
    let whole = &feeder.whole;
    let (fed, unit, name) = (figure(whole.fed), feeder.unit, &feeder.name);
    let (asked, unfed) = (time(whole.asked_s * 1000), time(whole.asked_unfed_s * 1000));
    writeln!(
        f,
        "{name} over the whole trace: {fed} {unit}; feed asked for in {asked}, not fed in {unfed} of it"
    )?;
    if whole.unpowered_s > 0 {
        writeln!(f, "  without power for {}", time(whole.unpowered_s * 1000))?;
    }
    for kept in whole.kept_by.iter().take(KEPT_SHOWN) {
        let (all, longest) = (time(kept.seconds * 1000), time(kept.longest_s * 1000));
        let from = &kept.longest_from;
        writeln!(
            f,
            "  kept by {} for {all}, longest {longest} from {from}",
            kept.name
        )?;
    }
    let more = whole.kept_by.len().saturating_sub(KEPT_SHOWN);
    if more > 0 {
        writeln!(f, "  and by {more} more for less")?;
    }
    Ok(())
}

//! Checks of a [`PlantSpec`]: every number finite and in its stated range.

use super::interface::MAX_FEEDERS;
use super::spec::{
    BasinSpec, CirculationSpec, DayWindow, FeederKind, FeederSpec, PlantError, PlantSpec,
    ProbeSpec, WaterSpec,
};
use core::fmt::Display;

impl PlantSpec {
    /// Checks every field against its documented range.
    ///
    /// # Errors
    /// The first field out of its range, with its value and what would be right.
    pub fn validate(&self) -> Result<(), PlantError> {
        count("bodies", self.bodies.len(), 1, 8)?;
        for (i, body) in self.bodies.iter().enumerate() {
            basin(&format!("bodies[{i}]"), body)?;
        }
        if let Some(valves) = &self.valves {
            within("valves.travel_s", valves.travel_s, 0.0, 600.0)?;
            let last = self.bodies.len().saturating_sub(1) as f64;
            within("valves.first", valves.first as f64, 0.0, last)?;
        }
        circulation(&self.circulation)?;
        probe("ph_probe", &self.ph_probe)?;
        probe("orp_probe", &self.orp_probe)?;
        within("sample_delay_s", self.sample_delay_s, 0.0, 3600.0)?;
        within("sample_lag_s", self.sample_lag_s, 0.0, 3600.0)?;
        count("feeders", self.feeders.len(), 0, MAX_FEEDERS)?;
        for (i, one) in self.feeders.iter().enumerate() {
            feeder(&format!("feeders[{i}]"), one)?;
        }
        if let Some(ms) = self.dead_man_ms {
            within("dead_man_ms", f64::from(ms), 1.0, 600_000.0)?;
        }
        within("start_min", f64::from(self.start_min), 0.0, 1439.0)
    }
}

fn basin(at: &str, b: &BasinSpec) -> Result<(), PlantError> {
    let check = |name: &str, value, low, high| within(&format!("{at}.{name}"), value, low, high);
    check("volume_m3", b.volume_m3, 0.2, 10_000.0)?;
    check("depth_m", b.depth_m, 0.2, 10.0)?;
    water(&format!("{at}.water"), &b.water)?;
    let t = &b.temperature;
    check("temperature.mean_c", t.mean_c, 1.0, 45.0)?;
    check("temperature.day_swing_c", t.day_swing_c, 0.0, 10.0)?;
    check(
        "temperature.warmest_min",
        f64::from(t.warmest_min),
        0.0,
        1439.0,
    )?;
    check("temperature.year_swing_c", t.year_swing_c, 0.0, 25.0)?;
    check(
        "temperature.warmest_day",
        f64::from(t.warmest_day),
        0.0,
        365.0,
    )?;
    let hottest = t.mean_c + t.day_swing_c + t.year_swing_c;
    check("temperature (mean and swings)", hottest, 1.0, 45.0)?;
    if let Some(corner) = &b.corner {
        check("corner.share", corner.share, 0.001, 0.5)?;
        let quick = corner.exchange_min;
        check("corner.exchange_min", quick, 1.0, 10_000.0)?;
        check("corner.standing_min", corner.standing_min, quick, 100_000.0)?;
    }
    if let Some(up) = &b.make_up {
        water(&format!("{at}.make_up.water"), &up.water)?;
        check(
            "make_up.evaporation_mm_day",
            up.evaporation_mm_day,
            0.0,
            30.0,
        )?;
        check("make_up.lost_l_day", up.lost_l_day, 0.0, 100_000.0)?;
    }
    if let Some(plaster) = &b.plaster {
        check("plaster.first_eq_day", plaster.first_eq_day, 0.0, 10_000.0)?;
        check("plaster.days", plaster.days, 1.0, 365.0)?;
    }
    check("co2_transfer_cm_h", b.co2_transfer_cm_h, 0.0, 20.0)?;
    check("sun_peak_per_h", b.sun_peak_per_h, 0.0, 5.0)?;
    check("background_per_h", b.background_per_h, 0.0, 1.0)?;
    check("bathers_per_day", b.bathers_per_day, 0.0, 10_000.0)?;
    check("orp_at_1_mg_l_mv", b.orp_at_1_mg_l_mv, 300.0, 900.0)?;
    check("orp_per_decade_mv", b.orp_per_decade_mv, 10.0, 200.0)?;
    window(&format!("{at}.daylight"), b.daylight)?;
    window(&format!("{at}.bathing"), b.bathing)
}

fn water(at: &str, w: &WaterSpec) -> Result<(), PlantError> {
    let check = |name: &str, value, low, high| within(&format!("{at}.{name}"), value, low, high);
    check("ph", w.ph, 5.0, 9.5)?;
    check("alkalinity_mg_l", w.alkalinity_mg_l, 5.0, 500.0)?;
    check("calcium_mg_l", w.calcium_mg_l, 0.0, 2000.0)?;
    check("dissolved_mg_l", w.dissolved_mg_l, 10.0, 15_000.0)?;
    check("cyanuric_acid_mg_l", w.cyanuric_acid_mg_l, 0.0, 300.0)?;
    check("borate_mg_l", w.borate_mg_l, 0.0, 100.0)?;
    check("free_chlorine_mg_l", w.free_chlorine_mg_l, 0.0, 50.0)
}

fn circulation(c: &CirculationSpec) -> Result<(), PlantError> {
    let check =
        |name: &str, value, low, high| within(&format!("circulation.{name}"), value, low, high);
    for (i, one) in c.timetable.iter().enumerate() {
        window(&format!("circulation.timetable[{i}]"), *one)?;
    }
    if let Some(frost) = c.frost {
        check("frost.below_c", frost.below_c, 0.0, 15.0)?;
        let every = f64::from(frost.every_min);
        check("frost.every_min", every, 1.0, 1440.0)?;
        check("frost.runs_min", f64::from(frost.runs_min), 1.0, every)?;
    }
    check("flow_l_min", c.flow_l_min, 1.0, 100_000.0)?;
    for (i, one) in c.speeds.iter().enumerate() {
        window(&format!("circulation.speeds[{i}].window"), one.window)?;
        let name = format!("speeds[{i}].flow_l_min");
        check(&name, one.flow_l_min, 1.0, 100_000.0)?;
    }
    check("spin_up_s", c.spin_up_s, 0.0, 600.0)?;
    check("run_down_s", c.run_down_s, 0.0, 600.0)?;
    check("feed_min_l_min", c.feed_min_l_min, 0.01, c.flow_l_min)?;
    check("line_volume_l", c.line_volume_l, 0.1, 10_000.0)?;
    check("switch_make_l_min", c.switch_make_l_min, 0.01, 100_000.0)?;
    check(
        "switch_break_l_min",
        c.switch_break_l_min,
        0.01,
        c.switch_make_l_min,
    )
}

fn probe(at: &str, p: &ProbeSpec) -> Result<(), PlantError> {
    within(&format!("{at}.lag_s"), p.lag_s, 0.0, 3600.0)?;
    within(&format!("{at}.noise"), p.noise, 0.0, 1000.0)?;
    within(&format!("{at}.offset"), p.offset, -1000.0, 1000.0)
}

fn feeder(at: &str, f: &FeederSpec) -> Result<(), PlantError> {
    let check = |name: &str, value, low, high| within(&format!("{at}.{name}"), value, low, high);
    match f.kind {
        FeederKind::Acid {
            ml_per_min,
            mol_per_l,
        } => {
            check("ml_per_min", ml_per_min, 0.1, 100_000.0)?;
            check("mol_per_l", mol_per_l, 0.1, 12.5)?;
        }
        FeederKind::Hypochlorite {
            ml_per_min,
            g_per_l,
        } => {
            check("ml_per_min", ml_per_min, 0.1, 100_000.0)?;
            check("g_per_l", g_per_l, 1.0, 250.0)?;
        }
        FeederKind::Generator {
            g_per_h,
            co2_strip_cm_h,
            ..
        } => {
            check("g_per_h", g_per_h, 0.1, 100_000.0)?;
            check("co2_strip_cm_h", co2_strip_cm_h, 0.0, 20.0)?;
        }
    }
    check("free_alkali_eq_l", f.free_alkali_eq_l, 0.0, 5.0)?;
    if let Some(decay) = f.decay {
        check("decay.half_life_days", decay.half_life_days, 1.0, 10_000.0)?;
        check("decay.drum_c", decay.drum_c, 0.0, 60.0)?;
    }
    check("rate_factor", f.rate_factor, 0.0, 100.0)?;
    check("on_delay_ms", f64::from(f.on_delay_ms), 0.0, 10_000.0)?;
    check("off_delay_ms", f64::from(f.off_delay_ms), 0.0, 10_000.0)?;
    check("drum_l", f.drum_l, 0.0, 100_000.0)?;
    match f.level_switch_l {
        Some(litres) => check("level_switch_l", litres, 0.0, 100_000.0),
        None => Ok(()),
    }
}

fn window(at: &str, w: DayWindow) -> Result<(), PlantError> {
    within(
        &format!("{at}.from_min"),
        f64::from(w.from_min),
        0.0,
        1439.0,
    )?;
    within(&format!("{at}.to_min"), f64::from(w.to_min), 1.0, 1440.0)?;
    if w.from_min == w.to_min {
        return Err(wrong(at, "empty", "a window with a length"));
    }
    Ok(())
}

fn within(field: &str, value: f64, low: f64, high: f64) -> Result<(), PlantError> {
    // Written so that not-a-number fails too.
    if value >= low && value <= high {
        return Ok(());
    }
    Err(wrong(field, value, &format!("from {low} to {high}")))
}

fn count(field: &str, value: usize, low: usize, high: usize) -> Result<(), PlantError> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(wrong(field, value, &format!("{low} to {high} of them")))
}

fn wrong(field: &str, value: impl Display, wanted: &str) -> PlantError {
    PlantError {
        field: field.to_owned(),
        value: value.to_string(),
        wanted: wanted.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::valves::ValvesSpec;
    use super::*;

    fn fails(change: impl FnOnce(&mut PlantSpec)) -> String {
        let mut spec = PlantSpec::default();
        change(&mut spec);
        spec.validate().unwrap_err().to_string()
    }

    #[test]
    fn the_default_stands() {
        assert_eq!(PlantSpec::default().validate(), Ok(()));
    }

    #[test]
    fn each_mistake_names_field_value_and_what_is_right() {
        assert_eq!(
            fails(|s| s.bodies[0].volume_m3 = -95.0),
            "bodies[0].volume_m3 is -95; it has to be from 0.2 to 10000"
        );
        assert!(fails(|s| s.bodies[0].water.ph = f64::NAN).contains("bodies[0].water.ph is NaN"));
        assert!(fails(|s| s.bodies.clear()).contains("bodies is 0"));
        assert!(fails(|s| s.feeders[1].rate_factor = f64::INFINITY).contains("feeders[1]"));
        assert!(fails(|s| s.circulation.feed_min_l_min = 251.0).contains("feed_min_l_min"));
        assert!(fails(|s| s.circulation.switch_break_l_min = 131.0).contains("switch_break_l_min"));
        assert!(fails(|s| s.dead_man_ms = Some(0)).contains("dead_man_ms"));
        assert!(fails(|s| s.start_min = 1440).contains("start_min"));
        let valves = |travel_s, first| {
            fails(|s| {
                s.valves = Some(ValvesSpec {
                    travel_s,
                    position: true,
                    first,
                });
            })
        };
        assert!(valves(601.0, 0).contains("valves.travel_s is 601"));
        assert!(valves(20.0, 1).contains("valves.first is 1"));
        assert!(
            fails(|s| s.bodies[0].bathing.to_min = s.bodies[0].bathing.from_min)
                .contains("a window with a length")
        );
        let five = vec![PlantSpec::default().feeders[0].clone(); MAX_FEEDERS + 1];
        assert!(fails(|s| s.feeders = five).contains("0 to 4 of them"));
    }

    #[test]
    fn windows_over_midnight() {
        let night = DayWindow {
            from_min: 1320,
            to_min: 120,
        };
        assert!(night.contains(1320) && night.contains(0) && night.contains(119));
        assert!(!night.contains(120) && !night.contains(1319));
        assert_eq!(night.minutes(), 240);
        assert_eq!(DayWindow::ALWAYS.minutes(), 1440);
        assert!(DayWindow::ALWAYS.contains(0) && DayWindow::ALWAYS.contains(1439));
    }
}

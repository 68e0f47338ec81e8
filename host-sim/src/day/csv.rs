//! The day as CSV: a row an entry, in a form that stays.

use super::{DECIDES, DaySheet, TestMade};

const HEADER: [&str; 8] = [
    "date", "from", "to", "kind", "what", "value", "unit", "note",
];

impl DaySheet {
    /// The day as CSV, one row an entry. `kind` is one of test, probe, difference, due, fed, bathers,
    /// alarm, gap, met, cannot_tell, code, remark.
    ///
    /// # Errors
    /// What writing gives; never in memory.
    pub fn csv(&self) -> Result<String, csv::Error> {
        let mut out = csv::Writer::from_writer(Vec::new());
        out.write_record(HEADER)?;
        for row in self.rows() {
            let date = [self.date.as_str()];
            out.write_record(date.into_iter().chain(row.iter().map(String::as_str)))?;
        }
        let bytes = out
            .into_inner()
            .map_err(|error| csv::Error::from(error.into_error()))?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }

    fn rows(&self) -> Vec<[String; 7]> {
        let mut rows = vec![row("", "", ("remark", "", ""), "", DECIDES)];
        for code in &self.codes {
            rows.push(row("", "", ("code", code.name, ""), "", code.source));
        }
        for test in &self.tests {
            tested(test, &mut rows);
        }
        for due in &self.dues {
            let made = due.made.as_deref().unwrap_or("");
            let note = if due.made.is_some() { "" } else { "missing" };
            let late = due.late_min.to_string();
            rows.push(row(
                &due.due,
                made,
                ("due", due.what, &late),
                "min late",
                note,
            ));
        }
        for fed in &self.fed {
            let amount = fed.amount.map_or_else(String::new, |it| format!("{it:.0}"));
            let note = if fed.amount.is_some() {
                ""
            } else {
                "not recorded"
            };
            rows.push(row("", "", ("fed", &fed.feeder, &amount), fed.unit, note));
        }
        let count = self
            .bathers
            .map_or_else(String::new, |it| format!("{it:.0}"));
        let note = if count.is_empty() { "not entered" } else { "" };
        rows.push(row("", "", ("bathers", "", &count), "", note));
        for one in self.alarms.iter().flatten() {
            rows.push(row(&one.from, &one.to, ("alarm", &one.what, ""), "", ""));
        }
        for one in &self.gaps {
            rows.push(row(&one.from, &one.to, ("gap", &one.what, ""), "", ""));
        }
        for one in &self.conditions {
            let (kind, what) = if one.is_met {
                ("met", &one.past)
            } else {
                ("cannot_tell", &one.what)
            };
            let after = one.tested_after.as_deref();
            let after = after.map_or_else(String::new, |time| format!("; tested inside at {time}"));
            let note = format!("{}: {}{after}", one.code, one.asks);
            rows.push(row(&one.from, &one.to, (kind, what, ""), "", &note));
        }
        rows
    }
}

fn row(
    from: &str,
    to: &str,
    (kind, what, value): (&str, &str, &str),
    unit: &str,
    note: &str,
) -> [String; 7] {
    [from, to, kind, what, value, unit, note].map(str::to_owned)
}

fn tested(test: &TestMade, rows: &mut Vec<[String; 7]>) {
    let all = [
        ("test", "pH", test.ph, 2, ""),
        ("probe", "pH", test.ph_probe, 2, ""),
        ("difference", "pH", test.ph_difference, 2, ""),
        ("test", "free chlorine", test.free_chlorine_mg_l, 2, "mg/L"),
        (
            "test",
            "combined chlorine",
            test.combined_chlorine_mg_l,
            2,
            "mg/L",
        ),
        ("probe", "ORP", test.orp_probe_mv, 0, "mV"),
        ("test", "temperature", test.temperature_c, 1, "C"),
    ];
    for (kind, what, value, digits, unit) in all {
        if let Some(value) = value {
            let value = format!("{value:.digits$}");
            rows.push(row(&test.time, "", (kind, what, &value), unit, ""));
        }
    }
}

//! Maps and logs: what is understood, and what is wrong with its place.

use super::*;
use crate::audit::Bounds;
use crate::scenario::Scenario;

const MAP: &str = r#"
separator = ";"
decimal = ","

[time]
column = "when"
form = "date"
gap_over = "90 s"

[flow]
switch = "flow"
meter = "m3_h"
meter_unit = "m3/h"
flows_at = "90 L/min"

[power]
column = "on"

[ph]
column = "pH"
ok = "pH ok"
flat_after = "20 min"

[orp]
column = "V"
unit = "V"
age = "age"
age_unit = "min"

[[feeder]]
name = "acid"
drive = "acid"
on_time = "acid s"
on_time_unit = "s"
amount = "acid L"
amount_unit = "L"
command = "cmd"
level = "drum"
"#;

const NAMES: &str = "\u{feff}when;flow;m3_h;on;pH;pH ok;V;age;acid;acid s;acid L;cmd;drum\n";
const ROWS: &str = "\
2026-05-03 23:59:00;1;12,5;on;7,51;yes;0,7;0,5;off;0;0;0;1
2026-05-04 00:00:00;1;5,3;on;;;;;ON;12,5;0,0125;true;no
";

fn site() -> Bounds {
    bounds(&Scenario::first_pool())
}

fn read(map: &str, log: &str) -> Result<crate::audit::Log, String> {
    let map = LogMap::parse("map.toml", map).map_err(|error| error.to_string())?;
    read_log("log.csv", log.as_bytes(), &map, &site()).map_err(|error| error.to_string())
}

fn near(value: Option<f64>, wanted: f64) {
    let value = value.expect("it is there");
    assert!(
        (value - wanted).abs() <= wanted.abs() * 1e-9,
        "{value}, not {wanted}"
    );
}

#[test]
fn fields_come_in_the_units_of_the_bounds() {
    let log = read(MAP, &format!("{NAMES}{ROWS}")).expect("it is sound");
    let [first, second] = log.rows.as_slice() else {
        panic!("two rows");
    };
    assert_eq!(
        (first.line, first.at_ms, first.minute),
        (2, 0.0, Some(1439))
    );
    assert_eq!(
        (second.line, second.at_ms, second.minute),
        (3, 60_000.0, Some(0))
    );
    assert_eq!(second.clock, "2026-05-04 00:00:00");
    // 5.3 m3/h are 88.3 L/min: the meter says no, whatever the switch says.
    assert_eq!((first.flow, second.flow), (Some(true), Some(false)));
    assert_eq!(
        (first.powered, first.ph.ok, first.feeders[0].drive),
        (Some(true), Some(true), Some(false))
    );
    near(first.ph.value, 7.51);
    near(first.orp.value, 700.0);
    near(first.orp.age_ms, 30_000.0);
    assert_eq!(
        (second.ph.value, second.ph.ok, second.orp.age_ms),
        (None, None, None)
    );
    let acid = second.feeders[0];
    near(acid.on_ms, 12_500.0);
    near(acid.amount, 12_500.0);
    assert_eq!(
        (acid.drive, acid.command, acid.stock),
        (Some(true), Some(true), Some(false))
    );
    assert_eq!(second.feeders[1], crate::audit::FeederRow::default());
    // Half of the last place: pH 0.01, 0.1 V, 0.1 s, 0.0001 L.
    near(Some(log.columns.ph.half_place), 0.005);
    near(Some(log.columns.orp.half_place), 50.0);
    near(Some(log.columns.half_on_ms[0]), 50.0);
    near(Some(log.columns.half_amount[0]), 50.0);
    assert_eq!(
        (log.gap_ms, log.columns.ph.flat_after_ms),
        (90_000.0, Some(1_200_000.0))
    );
}

#[test]
fn what_is_wrong_with_a_log_is_told_at_its_line() {
    let good = format!("{NAMES}{ROWS}");
    let cases = [
        (
            good.replace("7,51", "7.51"),
            "log.csv:2:1: pH is \"7.51\"; it has to be a number such as 7,5",
        ),
        (
            good.replace(";ON;", ";open;"),
            "log.csv:3:1: acid is \"open\"; it has to be 1, on, yes or true",
        ),
        (
            good.replace("2026-05-04 00:00", "04.05.2026 00:00"),
            "log.csv:3:1: when is \"04.05.2026 00:00:00\"; it has to be a date",
        ),
        (
            good.replace("05-04 00:00:00", "05-03 23:59:00"),
            "log.csv:3:1: the row is at 2026-05-03 23:59:00, not after",
        ),
        (
            good.replace(";12,5;0,0125", ";-12,5;0,0125"),
            "log.csv:3:1: acid s is \"-12,5\"; it has to be 0 or more",
        ),
        (
            good.replace(";cmd;", ";command;"),
            "log.csv:1:1: column `cmd`, which the map names, is missing; the log has when, flow",
        ),
        (
            good.replace(";cmd;", ";acid;"),
            "log.csv:1:1: column `acid` stands twice",
        ),
        (
            good.replace(";no\n", "\n"),
            "log.csv:3:1: the row has 12 fields; it has to have 13",
        ),
        (
            NAMES.to_owned(),
            "log.csv:1:1: the log has 0 rows under its names; it has to have two",
        ),
    ];
    for (log, part) in cases {
        let error = read(MAP, &log).expect_err(part);
        assert!(error.starts_with(part), "{error}");
    }
}

#[test]
fn what_is_wrong_with_a_map_is_told_at_its_place() {
    let log = format!("{NAMES}{ROWS}");
    let cases = [
        (
            "form = \"date\"",
            "form = \"dates\"",
            "map.toml:7:8: `form` is \"dates\"; it has to be one of",
        ),
        (
            "meter_unit = \"m3/h\"",
            "meter_unit = \"m3\"",
            "map.toml:13:14: `meter_unit` is \"m3\"; it has to be a unit of a volume over time",
        ),
        (
            "amount_unit = \"L\"",
            "amount_unit = \"gal\"",
            "`amount_unit` has the unit `gal`, which could mean two things",
        ),
        (
            "amount_unit = \"L\"",
            "",
            "has no `amount_unit`; write amount_unit = \"m3\"",
        ),
        ("flows_at = \"90 L/min\"", "", "has no `flows_at`"),
        (
            "command = \"cmd\"",
            "comand = \"cmd\"",
            "unknown key `comand` in [feeder[0]]; did you mean `command`?",
        ),
        (
            "decimal = \",\"\n",
            "decimal = \",\"\nseparators = 1\n",
            "unknown key `separators`",
        ),
        (
            "separator = \";\"",
            "separator = \",\"",
            "`decimal` and `separator` are both \",\"",
        ),
        (
            "name = \"acid\"",
            "name = \"base\"",
            "log.csv:1:1: the map has a feeder \"base\", which the site has not; it has acid, chlorine",
        ),
        (
            "amount_unit = \"L\"",
            "amount_unit = \"g\"",
            "amount_unit of the map's feeder \"acid\" has to be a volume",
        ),
    ];
    for (old, new, part) in cases {
        let map = MAP.replacen(old, new, 1);
        assert_ne!(map, MAP, "{old}");
        let error = read(&map, &log).expect_err(part);
        assert!(error.contains(part), "{error}\nhas no {part}");
    }
}

#[test]
fn bounds_are_those_of_the_scenarios_limits() {
    let site = site();
    let acid = &site.feeders[0];
    assert_eq!(
        (acid.name.as_str(), acid.rate_per_ms, acid.rate_max_per_ms),
        ("acid", 1.0, 1.5)
    );
    assert_eq!(
        (acid.cycle_cap, acid.hour_cap, acid.day_cap),
        (Some(60_000.0), 240_000.0, 900_000.0)
    );
    assert_eq!(
        (acid.cutoff.ph_above, acid.feedback_ms),
        (Some(7.2), Some(2_000.0))
    );
    let chlorine = &site.feeders[1];
    assert_eq!(
        (chlorine.cutoff.orp_below_mv, chlorine.cutoff.ph_floor),
        (Some(780.0), Some(6.8))
    );
    assert_eq!(
        (site.purge_ms, site.flow_prove_ms, site.hours),
        (60_000.0, 60_000.0, None)
    );
}

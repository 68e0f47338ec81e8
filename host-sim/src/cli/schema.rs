//! `dosewarden schema`: what the files that `--json` writes look like.

use std::fmt::Write as _;

use clap::Args;
use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema};

use super::water::WaterRow;
use super::{BAD_INPUT, HELD, listed, output};
use crate::audit::Audit;
use crate::board::BoardSheet;
use crate::campaign::Report;
use crate::day::DaySheet;
use crate::evidence::Index;
use crate::explain::Explained;
use crate::explore::PartSummary;
use crate::plan::Plan;
use crate::rules::Entry;
use crate::run::Summary;
use crate::season::{Closing, OpeningSheet};
use crate::visit::{Round, VisitResult};
use crate::why::Explanation;

/// What `schema` is told.
#[derive(Debug, Args)]
pub(super) struct SchemaArguments {
    /// The command whose --json it is of; `visits` is that of `visit` for a folder. Without it the names of all.
    #[arg(hide_possible_values = true, value_parser = listed::text_of(names))]
    command: Option<String>,
}

/// A schema of what a command writes.
struct Written {
    command: &'static str,
    schema: fn() -> Schema,
}

/// The schema of a type as it is written.
fn of<T: JsonSchema>() -> Schema {
    let settings = SchemaSettings::draft2020_12().for_serialize();
    settings.into_generator().into_root_schema_for::<T>()
}

const ALL: [Written; 16] = {
    const fn written(command: &'static str, schema: fn() -> Schema) -> Written {
        Written { command, schema }
    }
    [
        written("run", of::<Summary>),
        written("plan", of::<Plan>),
        written("campaign", of::<Report>),
        written("explore", of::<Vec<PartSummary>>),
        written("visit", of::<VisitResult>),
        written("visits", of::<Round>),
        written("close", of::<Closing>),
        written("open", of::<OpeningSheet>),
        written("day", of::<DaySheet>),
        written("board", of::<BoardSheet>),
        written("explain", of::<Explained>),
        written("why", of::<Explanation>),
        written("audit", of::<Audit>),
        written("water", of::<Vec<WaterRow>>),
        written("rules", of::<Vec<Entry>>),
        written("evidence", of::<Index>),
    ]
};

fn names() -> Vec<&'static str> {
    ALL.iter().map(|one| one.command).collect()
}

/// Prints a schema, or the names of all.
pub(super) fn schema(arguments: &SchemaArguments) -> u8 {
    match text(arguments.command.as_deref()).and_then(|text| output::print(&text)) {
        Ok(()) => HELD,
        Err(why) => {
            eprintln!("error: {why}");
            BAD_INPUT
        }
    }
}

fn text(command: Option<&str>) -> Result<String, String> {
    let Some(name) = command else {
        let mut all = String::new();
        for one in &ALL {
            let _ = writeln!(all, "{}", one.command);
        }
        return Ok(all);
    };
    let found = ALL.iter().find(|one| one.command == name);
    let found = found.ok_or_else(|| {
        let names: Vec<&str> = ALL.iter().map(|one| one.command).collect();
        format!(
            "schema: no file of {name} is described; there are {}",
            names.join(", ")
        )
    })?;
    output::json(&(found.schema)())
}

#[cfg(test)]
mod tests {
    use super::*;

    use std::path::Path;

    use clap::CommandFactory;
    use serde_json::Value;

    #[test]
    fn the_committed_schemas_are_those_of_the_types() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("schemas");
        let write = std::env::var_os("SCHEMA_WRITE").is_some();
        for one in &ALL {
            let path = folder.join(format!("{}.json", one.command));
            let own = text(Some(one.command)).unwrap();
            if write {
                std::fs::write(&path, &own).unwrap();
            }
            let kept = std::fs::read_to_string(&path).unwrap_or_default();
            assert!(
                kept == own,
                "{}: has changed; SCHEMA_WRITE=1 writes it anew",
                path.display()
            );
        }
        let kept = std::fs::read_dir(folder).unwrap().count();
        assert_eq!(kept, ALL.len(), "a schema of no command");
    }

    #[test]
    fn each_command_that_writes_json_has_its_schema() {
        let all = super::super::Arguments::command();
        for command in all.get_subcommands() {
            let writes = command.get_arguments().any(|one| one.get_id() == "json");
            let name = command.get_name();
            assert_eq!(writes, ALL.iter().any(|one| one.command == name), "{name}");
        }
    }

    /// Whether words name a unit, or say that it is a count.
    fn has_unit(words: &str) -> bool {
        const UNITS: &[&str] = &[
            "mL",
            "uL",
            "mg/L",
            "g/L",
            "mol/L",
            "mmol/L",
            "g/h",
            "mL/h",
            "L/h",
            "L/min",
            "kg",
            "mg",
            "g",
            "L",
            "m3",
            "m",
            "mV",
            "pH",
            "ph",
            "ORP",
            "C",
            "s",
            "ms",
            "h",
            "min",
            "day",
            "days",
            "Days",
            "seconds",
            "ticks",
            "Ticks",
            "%",
            "percent",
            "share",
            "ratio",
            "Real",
            "deviations",
            "index",
            "often",
            "many",
            "Number",
            "number",
            "line",
            "Line",
            "version",
            "Share",
            "Version",
            "seed",
            "Seed",
            "rows",
            "times",
            "unit",
        ];
        let all = words.split(|c: char| !(c.is_alphanumeric() || "/%_".contains(c)));
        all.flat_map(|word| [word].into_iter().chain(word.split('_')))
            .any(|word| UNITS.contains(&word))
    }

    /// Numbers of a schema whose unit stands neither in their name nor in their words nor in those of what they are in.
    fn without_unit(schema: &Value, within: &str, found: &mut Vec<String>) {
        let own = schema["description"].as_str().unwrap_or_default();
        if let Some(fields) = schema["properties"].as_object() {
            for (name, field) in fields {
                let words = field["description"].as_str().unwrap_or_default();
                let text = field["type"].to_string() + &field["items"]["type"].to_string();
                let is_number = text.contains("number") || text.contains("integer");
                let said = format!("{name} {words} {own}");
                if is_number && !has_unit(&said) && !fields.contains_key("unit") {
                    found.push(format!("{within}.{name}: {words}"));
                }
            }
        }
        for (name, part) in schema["$defs"].as_object().into_iter().flatten() {
            without_unit(part, &format!("{within}:{name}"), found);
        }
        without_unit_in_items(schema, within, found);
    }

    fn without_unit_in_items(schema: &Value, within: &str, found: &mut Vec<String>) {
        if schema["items"].is_object() {
            without_unit(&schema["items"], within, found);
        }
    }

    #[test]
    fn each_number_says_its_unit() {
        let mut found = Vec::new();
        for one in &ALL {
            let schema = serde_json::to_value((one.schema)()).unwrap();
            without_unit(&schema, one.command, &mut found);
        }
        assert!(found.is_empty(), "no unit:\n  {}", found.join("\n  "));
        let bad = serde_json::json!({"properties": {"cap": {"type": "number", "description": "The cap."}}});
        without_unit(&bad, "bad", &mut found);
        assert_eq!(found, ["bad.cap: The cap."]);
    }

    /// A whole run of it takes minutes; the other commands' files are held to their schemas as they write them.
    #[test]
    fn an_index_of_evidence_fits() {
        let made = crate::evidence::Made {
            version: "0.1.0",
            on: "x86_64 linux".into(),
            command: "dosewarden evidence --out FOLDER".into(),
        };
        let index = serde_json::to_value(Index::of(Vec::new(), made)).unwrap();
        let schema = serde_json::to_value(of::<Index>()).unwrap();
        assert!(jsonschema::is_valid(&schema, &index));
        let mut other = index;
        other["not_shown"] = Value::Null;
        assert!(!jsonschema::is_valid(&schema, &other));
    }

    #[test]
    fn a_command_without_one_is_told() {
        let error = text(Some("rum")).unwrap_err();
        assert!(
            error.contains("no file of rum is described; there are run, plan"),
            "{error}"
        );
        assert!(text(None).unwrap().starts_with("run\nplan\n"));
    }
}

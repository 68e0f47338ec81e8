//! `dosewarden rules`.

use std::path::PathBuf;

use clap::Args;
use dosewarden::guard::Rule;

use super::{BAD_INPUT, HELD, listed, output};
use crate::rules::{self, Reason, RulePage, Shape};

/// What `rules` is told.
#[derive(Debug, Args)]
pub(super) struct RulesArguments {
    /// Rules to show, or other reasons that a trace names (other_has_turn); without any, all of them.
    #[arg(value_parser = listed::text_of(all_names), hide_possible_values = true)]
    names: Vec<String>,
    /// In what shape.
    #[arg(long = "as", value_name = "SHAPE", value_enum, default_value_t)]
    shape: Shape,
    /// Writes it there instead of to standard output.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Writes them as JSON too.
    #[arg(long, value_name = "FILE.json")]
    json: Option<PathBuf>,
}

/// Every name that `rules` shows.
fn all_names() -> Vec<&'static str> {
    let rules = Rule::ALL.iter().map(|rule| rule.name());
    let reasons = rules::reasons().into_iter().map(|one| one.name);
    rules.chain(reasons).collect()
}

pub(super) fn rules(arguments: &RulesArguments) -> u8 {
    match try_rules(arguments) {
        Ok(()) => HELD,
        Err(why) => {
            eprintln!("error: {why}");
            BAD_INPUT
        }
    }
}

fn try_rules(arguments: &RulesArguments) -> Result<(), String> {
    let (pages, reasons) = chosen(&arguments.names)?;
    let text =
        rules::shown(&pages, &reasons, arguments.shape).map_err(|error| format!("{error:#}"))?;
    let files = [
        (arguments.out.as_deref(), text.as_str()),
        (
            arguments.json.as_deref(),
            &output::json(&rules::entries(&pages, &reasons))?,
        ),
    ];
    let mut told = match arguments.out {
        None => text.clone(),
        Some(_) => String::new(),
    };
    for path in output::write_all(&[], &files)? {
        told.push_str(&format!("Wrote {}\n", path.display()));
    }
    output::print(&told)
}

fn chosen(names: &[String]) -> Result<(Vec<RulePage>, Vec<Reason>), String> {
    let all = rules::all().map_err(|error| error.to_string())?;
    let mut reasons = rules::reasons();
    if names.is_empty() {
        return Ok((all, reasons));
    }
    let is_reason = |name: &String| rules::reasons().iter().any(|one| one.name == *name);
    let one = |name: &String| {
        let found = all.iter().find(|page| page.rule == *name);
        found.cloned().ok_or_else(|| {
            let near = all.iter().map(|page| page.rule.as_str());
            let near = near.chain(reasons.iter().map(|one| one.name));
            let near = near.max_by(|a, b| {
                strsim::jaro_winkler(a, name).total_cmp(&strsim::jaro_winkler(b, name))
            });
            format!(
                "rules: there is no rule {name}; is it {}?",
                near.unwrap_or("")
            )
        })
    };
    let wanted = names.iter().filter(|name| !is_reason(name));
    let pages = wanted.map(one).collect::<Result<_, _>>()?;
    reasons.retain(|one| names.iter().any(|name| name == one.name));
    Ok((pages, reasons))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rules_are_chosen_by_name_and_a_wrong_one_is_told() {
        let names =
            |names: &[&str]| chosen(&names.iter().map(ToString::to_string).collect::<Vec<_>>());
        assert_eq!(names(&[]).unwrap().0.len(), 27);
        assert_eq!(names(&[]).unwrap().1.len(), 10);
        let (pages, reasons) = names(&["other_has_turn"]).unwrap();
        assert_eq!((pages.len(), reasons[0].name), (0, "other_has_turn"));
        assert_eq!(
            names(&["day_cap", "flow_proven"]).unwrap().0[0].rule,
            "day_cap"
        );
        assert_eq!(
            names(&["flow_prooven"]).unwrap_err(),
            "rules: there is no rule flow_prooven; is it flow_proven?"
        );
    }
}

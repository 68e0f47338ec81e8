//! `dosewarden completions` and `dosewarden manual`.

use clap::Args;
use clap::builder::PossibleValue;
use clap_complete::Shell;
use clap_mangen::Man;

use super::{BAD_INPUT, HELD, listed, output};

const NAME: &str = "dosewarden";

/// What `completions` is told.
#[derive(Debug, Args)]
pub(super) struct CompletionsArguments {
    /// The shell.
    shell: Shell,
}

/// What `manual` is told.
#[derive(Debug, Args)]
pub(super) struct ManualArguments {
    /// The command; without it the page of the whole program.
    #[arg(hide_possible_values = true, value_parser = listed::text_of(commands))]
    command: Option<String>,
}

fn commands() -> Vec<&'static str> {
    vec![
        "run",
        "plan",
        "campaign",
        "explore",
        "visit",
        "day",
        "close",
        "open",
        "explain",
        "why",
        "board",
        "audit",
        "water",
        "rules",
        "evidence",
        "schema",
        "completions",
        "manual",
    ]
}

pub(super) fn completions(arguments: &CompletionsArguments) -> u8 {
    let mut text = Vec::new();
    clap_complete::generate(arguments.shell, &mut super::command(), NAME, &mut text);
    if arguments.shell == Shell::Fish {
        text.extend(for_fish(&super::command()).into_bytes());
    }
    told(Ok(text))
}

/// What the generator leaves out for fish: the values of arguments that have no option's name.
fn for_fish(all: &clap::Command) -> String {
    let mut lines = String::new();
    for command in all.get_subcommands() {
        for argument in command.get_positionals() {
            let values = argument.get_possible_values();
            let names: Vec<&str> = values.iter().map(PossibleValue::get_name).collect();
            if !names.is_empty() {
                let (of, names) = (command.get_name(), names.join(" "));
                lines.push_str(&format!(
                    "complete -c {NAME} -n \"__fish_{NAME}_using_subcommand {of}\" -f -a \"{names}\"\n"
                ));
            }
        }
    }
    lines
}

pub(super) fn manual(arguments: &ManualArguments) -> u8 {
    told(page(arguments.command.as_deref()))
}

fn told(text: Result<Vec<u8>, String>) -> u8 {
    match text.and_then(|text| output::print(&String::from_utf8_lossy(&text))) {
        Ok(()) => HELD,
        Err(why) => {
            eprintln!("error: {why}");
            BAD_INPUT
        }
    }
}

fn page(command: Option<&str>) -> Result<Vec<u8>, String> {
    let mut all = super::command();
    // Names each command with its program's, as its page has to.
    all.build();
    let shown = match command {
        None => all,
        Some(name) => match all.find_subcommand(name) {
            Some(found) => found.clone(),
            None => {
                let names: Vec<&str> = all.get_subcommands().map(clap::Command::get_name).collect();
                return Err(format!(
                    "manual: there is no command {name}; there are {}",
                    names.join(", ")
                ));
            }
        },
    };
    let mut text = Vec::new();
    let rendered = Man::new(shown).render(&mut text);
    rendered.map(|()| text).map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_manual_tells_of_each_command_and_what_it_takes() {
        let text = |command| String::from_utf8(page(command).unwrap()).unwrap();
        let all = super::super::command();
        for command in all.get_subcommands() {
            let name = command.get_name();
            assert!(
                text(None).contains(&format!("dosewarden\\-{name}(1)")),
                "{name}"
            );
            let own = text(Some(name));
            assert!(own.contains(&format!("dosewarden\\-{name}")), "{own}");
        }
        let run = text(Some("run"));
        assert!(
            run.contains("\\-\\-trace") && run.contains("Exit status"),
            "{run}"
        );
        let error = page(Some("rum")).unwrap_err();
        assert!(
            error.contains("no command rum; there are run, plan"),
            "{error}"
        );
    }

    #[test]
    fn a_shell_completes_each_command_that_has_a_page() {
        let all = super::super::command();
        let names: Vec<&str> = all.get_subcommands().map(clap::Command::get_name).collect();
        assert_eq!(commands(), names);
    }

    /// The generator gives them to the other shells.
    #[test]
    fn fish_completes_what_has_no_option_too() {
        let lines = for_fish(&super::super::command());
        for (command, name) in [
            ("rules", "flow_proven"),
            ("schema", "visits"),
            ("manual", "explore"),
            ("completions", "fish"),
        ] {
            let line = lines
                .lines()
                .find(|line| line.contains(&format!("subcommand {command}\"")));
            assert!(
                line.is_some_and(|line| line.contains(name)),
                "{command}: {lines}"
            );
        }
        assert_eq!(lines.lines().count(), 4, "{lines}");
    }

    #[test]
    fn each_shell_is_told_of_each_command() {
        for shell in [
            Shell::Bash,
            Shell::Zsh,
            Shell::Fish,
            Shell::Elvish,
            Shell::PowerShell,
        ] {
            let mut text = Vec::new();
            clap_complete::generate(shell, &mut super::super::command(), NAME, &mut text);
            let text = String::from_utf8(text).unwrap();
            for name in ["campaign", "explore", "report"] {
                assert!(text.contains(name), "{shell}: {name}");
            }
        }
    }
}

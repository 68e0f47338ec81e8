//! The command line of the binary `dosewarden`.
//!
//! Invariant: a file that this program writes is whole or not there, and an input that is wrong
//! leaves none.

mod audit;
mod board;
mod boards;
mod campaign;
mod day;
mod evidence;
mod explain;
mod explore;
mod failed;
mod listed;
mod output;
mod plan;
mod replay;
mod rules;
mod run;
mod schema;
mod season;
mod shell;
mod stop;
mod visit;
mod water;
mod why;

use std::process::ExitCode;

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};

/// Everything held.
pub const HELD: u8 = 0;
/// An oracle was broken.
pub const BROKEN: u8 = 1;
/// The usage or an input is wrong, or an output cannot be written.
pub const BAD_INPUT: u8 = 2;
/// Nothing was broken, and not all could be told, where that was asked for.
pub const CANNOT_TELL: u8 = 3;
/// Stopped by the person who started it, as shells tell it.
pub const STOPPED: u8 = 130;

/// Tries a dosing controller on a simulated pool and shows what got through.
///
/// Without a command it runs the built-in week and writes its report to dosewarden-report.html.
///
/// Exit status: 0 everything held; 1 an oracle was broken; 2 bad usage or input.
#[derive(Debug, Parser)]
#[command(name = "dosewarden", version)]
struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Runs a scenario and prints the verdict.
    ///
    /// Example: dosewarden run examples/scenarios/salt-pool.toml --report salt.html
    ///
    /// Exit status: 0 every oracle held; 1 one was broken; 2 bad usage or input; 130 stopped.
    Run(run::RunArguments),
    /// Works out a commissioning sheet from what was measured at a site.
    ///
    /// Example: dosewarden plan examples/sites/home-pool.toml --scenario planned.toml
    ///
    /// Exit status: 0 no error finding; 1 there are some; 2 bad usage or input.
    Plan(plan::PlanArguments),
    /// Tries faults on a planned site, one by one, in pairs or at random, against bounds with their reasons.
    ///
    /// Some bounds were written down before the first campaign; most are there because a campaign was outside without them,
    /// and say so.
    ///
    /// Example: dosewarden campaign --faults single --runs 8 --json found.json
    ///
    /// Exit status: 0 inside the bounds; 1 outside; 2 bad usage or input; 130 stopped.
    Campaign(campaign::CampaignArguments),
    /// Walks the guard to the end of its state space, and shows the shortest way to a broken property.
    ///
    /// Example: dosewarden explore --config x3
    ///
    /// Exit status: 0 everything held as far as it went (the verdict says what was cut); 1 a property was broken; 2 bad usage or
    /// input; 130 stopped.
    Explore(explore::ExploreArguments),
    /// Reads a technician's log of visits: what is wrong, what is due, what to do today.
    ///
    /// Example: dosewarden visit examples/sites/home-pool.toml visits.csv --report visit.html
    ///
    /// Exit status: 0 nothing to ask or to mend; 1 there is; 2 bad usage or input.
    Visit(visit::VisitArguments),
    /// Writes up the day of a public pool: tests due, probes beside the kit, conditions for closing that were met.
    ///
    /// Example: dosewarden day examples/sites/community-pool.toml tests.csv --hours 07:00-21:00 --record day.csv --report day.html
    ///
    /// Exit status: 0 nothing to ask or to mend; 1 there is; 2 bad usage or input.
    Day(day::DayArguments),
    /// Says what to do before a pool is laid up for winter: what to balance, with amounts, and the plant.
    ///
    /// Example: dosewarden close examples/sites/home-pool.toml visits.csv --coldest 4 --days 180
    ///
    /// Exit status: 0 told; 2 bad usage or input.
    Close(season::CloseArguments),
    /// Says what has to be entered before a pool that was laid up is fed again, and what of it is in the log.
    ///
    /// Example: dosewarden open examples/sites/home-pool.toml visits.csv --since 2032-04-10
    ///
    /// Exit status: 0 all that the unit asks for is entered; 1 something is not; 2 bad usage or input.
    Open(season::OpenArguments),
    /// Splits the movement of pH, alkalinity and chlorine between two tests of a log into what moved it.
    ///
    /// Example: dosewarden explain log.csv --from "2031-05-02 10:00" --to "2031-05-16 10:00" --site site.toml
    ///
    /// Exit status: 0 explained, as far as it can be; 2 bad usage or input.
    Explain(explain::ExplainArguments),
    /// Says why a feeder did not feed, from the trace of a run: what stood in the way, since when, what clears it.
    ///
    /// Example: dosewarden why trace.csv --at "day 2 14:05" --feeder acid
    ///
    /// Exit status: 0 told; 2 bad usage or input.
    Why(why::WhyArguments),
    /// Shows what stands in the image of a board that was given away, and whether its settings are a site's.
    ///
    /// Example: dosewarden board image.bin --site examples/sites/home-pool.toml
    ///
    /// Exit status: 0 whole, and nothing stands against feeding; 1 something does, or settings differ; 2 bad usage or input.
    Board(board::BoardArguments),
    /// Judges a recorded log of any controller by what a site's limits allow.
    ///
    /// Example: dosewarden audit log.csv --site examples/sites/home-pool.toml --map examples/audit/map.toml
    ///
    /// Exit status: 0 no rule was broken, as far as the log shows; 1 one was; 2 bad usage or input; 3 with --strict: none was, and of
    /// some the log cannot tell.
    Audit(audit::AuditArguments),
    /// Works out saturation, dissolved carbon and acid demand for a file of water tests.
    ///
    /// Example: dosewarden water --batch tests.csv --out found.csv
    ///
    /// Exit status: 0 written; 2 bad usage or input, and nothing written.
    Water(water::WaterArguments),
    /// Shows the guard's rules, a page each: hazard, source, limits, tests, what walked it.
    ///
    /// Example: dosewarden rules --as html --out rules.html
    Rules(rules::RulesArguments),
    /// Gathers what this program can show of the guard into one folder with an index.
    ///
    /// Example: dosewarden evidence --out evidence
    ///
    /// Exit status: 0 all of it holds; 1 part of it does not; 2 bad usage or input; 130 stopped.
    Evidence(evidence::EvidenceArguments),
    /// Prints the JSON Schema of the file that a command writes with --json.
    ///
    /// Example: dosewarden schema run > run.schema.json
    Schema(schema::SchemaArguments),
    /// Prints what completes this command line in a shell.
    ///
    /// Example: dosewarden completions bash > /etc/bash_completion.d/dosewarden
    Completions(shell::CompletionsArguments),
    /// Prints the manual page, of everything or of one command.
    ///
    /// Example: dosewarden manual run | man -l -
    Manual(shell::ManualArguments),
}

/// What each command that writes files says of them.
const FILES: &str = "\
Files that are written: a regular one is replaced as a whole or not at all, and of a link the file that it leads to. A pipe
or a device is written straight into, before any of these is replaced, and what it got stays there if a later step fails; a
pipe has to have its reader at the beginning. - is standard output, and what is meant for the screen then goes to standard error.";

/// The whole command line: with what is said of files, and with negative figures as values, so that the range of an
/// argument is what refuses them.
fn command() -> clap::Command {
    Arguments::command().mut_subcommands(|command| {
        let command = command.mut_args(|one| match one.get_action().takes_values() {
            true => one.allow_negative_numbers(true),
            false => one,
        });
        if !command.get_arguments().any(|one| one.get_id() == "json") {
            return command;
        }
        let before = command.get_after_help().map(ToString::to_string);
        let both = before.map_or_else(|| FILES.to_owned(), |own| format!("{own}\n\n{FILES}"));
        command.after_help(both)
    })
}

/// Reads the command line, does what it says, and gives the exit status.
#[must_use]
pub fn main() -> ExitCode {
    let read = Arguments::from_arg_matches(&command().get_matches());
    let code = match read.unwrap_or_else(|error| error.exit()).command {
        None => run::bare(),
        Some(Command::Run(arguments)) => run::run(&arguments),
        Some(Command::Plan(arguments)) => plan::plan(&arguments),
        Some(Command::Campaign(arguments)) => campaign::campaign(&arguments),
        Some(Command::Explore(arguments)) => explore::explore(&arguments),
        Some(Command::Visit(arguments)) => visit::visit(&arguments),
        Some(Command::Day(arguments)) => day::day(&arguments),
        Some(Command::Close(arguments)) => season::close(&arguments),
        Some(Command::Open(arguments)) => season::open(&arguments),
        Some(Command::Explain(arguments)) => explain::explain(&arguments),
        Some(Command::Board(arguments)) => board::board(&arguments),
        Some(Command::Audit(arguments)) => audit::audit(&arguments),
        Some(Command::Why(arguments)) => why::why(&arguments),
        Some(Command::Water(arguments)) => water::water(&arguments),
        Some(Command::Rules(arguments)) => rules::rules(&arguments),
        Some(Command::Evidence(arguments)) => evidence::evidence(&arguments),
        Some(Command::Schema(arguments)) => schema::schema(&arguments),
        Some(Command::Completions(arguments)) => shell::completions(&arguments),
        Some(Command::Manual(arguments)) => shell::manual(&arguments),
    };
    ExitCode::from(code)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_arguments_are_sound() {
        command().debug_assert();
    }

    #[test]
    fn each_command_that_writes_says_what_becomes_of_what_stands_there() {
        let all = command();
        let mut count = 0;
        for command in all.get_subcommands() {
            let help = command.clone().render_help().to_string();
            let writes = command.get_arguments().any(|one| one.get_id() == "json");
            let says = help.contains("- is standard output, and what is meant for the screen");
            assert_eq!(writes, says, "{}", command.get_name());
            count += usize::from(says);
        }
        assert!(count > 10);
        let water = all.find_subcommand("water").unwrap().clone();
        assert!(
            water
                .clone()
                .render_help()
                .to_string()
                .contains("si_calcite")
        );
    }

    #[test]
    fn a_negative_figure_is_refused_by_its_own_range() {
        let error = command().try_get_matches_from(["dosewarden", "run", "--days", "-3"]);
        let told = error.unwrap_err().to_string();
        assert!(told.contains("-3 is not in 1..=3650"), "{told}");
    }

    #[test]
    fn the_help_of_each_command_shows_an_example_that_is_read() {
        let all = command();
        assert!(all.get_subcommands().count() >= 7);
        for command in all.get_subcommands() {
            let help = command.get_long_about().map(ToString::to_string);
            let help = help.unwrap_or_default();
            let example = help.lines().find_map(|line| line.strip_prefix("Example: "));
            let example = example.unwrap_or_else(|| panic!("{}: no example", command.get_name()));
            // What stands in quotes is one word.
            let parts = example.split('"').enumerate();
            let words = parts.flat_map(|(at, part)| match at % 2 {
                0 => part.split_whitespace().collect(),
                _ => vec![part],
            });
            let words = words.take_while(|word| !matches!(*word, "|" | ">"));
            let read = super::command().try_get_matches_from(words);
            let read = read.unwrap_or_else(|error| panic!("{example}: {error}"));
            assert_eq!(read.subcommand_name(), Some(command.get_name()));
        }
    }
}

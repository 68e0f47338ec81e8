//! The command line of the binary `dosewarden`.
//!
//! Invariant: a file that this program writes is whole or not there, and an input that is wrong
//! leaves none.

mod audit;
mod campaign;
mod explore;
mod output;
mod plan;
mod replay;
mod run;
mod water;
mod why;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Everything held.
pub const HELD: u8 = 0;
/// An oracle was broken.
pub const BROKEN: u8 = 1;
/// The usage or an input is wrong, or an output cannot be written.
pub const BAD_INPUT: u8 = 2;
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
    Run(run::RunArguments),
    /// Works out a commissioning sheet from what was measured at a site.
    ///
    /// Example: dosewarden plan examples/sites/home-pool.toml --scenario planned.toml
    ///
    /// Exit status: 0 no error finding; 1 there are some; 2 bad usage or input.
    Plan(plan::PlanArguments),
    /// Tries faults on a planned site, one by one, in pairs or at random, against bounds written down before.
    ///
    /// Example: dosewarden campaign --faults single --runs 8 --json found.json
    ///
    /// Exit status: 0 inside the bounds; 1 outside; 2 bad usage or input; 130 stopped.
    Campaign(campaign::CampaignArguments),
    /// Walks the guard to the end of its state space, and shows the shortest way to a broken property.
    ///
    /// Example: dosewarden explore --config x3
    ///
    /// Exit status: 0 everything held as far as it went; 1 a property was broken; 2 bad usage or input.
    Explore(explore::ExploreArguments),
    /// Says why a feeder did not feed, from the trace of a run: what stood in the way, since when, what clears it.
    ///
    /// Example: dosewarden why trace.csv --at "day 2 14:05" --feeder acid
    ///
    /// Exit status: 0 told; 2 bad usage or input.
    Why(why::WhyArguments),
    /// Judges a recorded log of any controller by what a site's limits allow.
    ///
    /// Example: dosewarden audit log.csv --site examples/sites/home-pool.toml --map examples/audit/map.toml
    ///
    /// Exit status: 0 no rule was broken, as far as the log shows; 1 one was; 2 bad usage or input.
    Audit(audit::AuditArguments),
    /// Works out saturation, dissolved carbon and acid demand for a file of water tests.
    Water(water::WaterArguments),
}

/// Reads the command line, does what it says, and gives the exit status.
#[must_use]
pub fn main() -> ExitCode {
    let code = match Arguments::parse().command {
        None => run::bare(),
        Some(Command::Run(arguments)) => run::run(&arguments),
        Some(Command::Plan(arguments)) => plan::plan(&arguments),
        Some(Command::Campaign(arguments)) => campaign::campaign(&arguments),
        Some(Command::Explore(arguments)) => explore::explore(&arguments),
        Some(Command::Audit(arguments)) => audit::audit(&arguments),
        Some(Command::Why(arguments)) => why::why(&arguments),
        Some(Command::Water(arguments)) => water::water(&arguments),
    };
    ExitCode::from(code)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_arguments_are_sound() {
        use clap::CommandFactory;
        Arguments::command().debug_assert();
    }
}

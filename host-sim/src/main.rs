//! The binary `dosewarden`; all of it is in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    dosewarden_sim::cli::main()
}

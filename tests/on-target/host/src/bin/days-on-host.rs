//! Lives seeded days on the host and prints the same lines as the boards.
//!
//! ```text
//! days-on-host [COUNT [FIRST]]
//! ```

fn main() -> std::process::ExitCode {
    let mut figures = std::env::args().skip(1).map(|word| word.parse::<u32>());
    let (Ok(count), Ok(first)) = (
        figures.next().unwrap_or(Ok(20)),
        figures.next().unwrap_or(Ok(0)),
    ) else {
        eprintln!("usage: days-on-host [COUNT [FIRST]], both whole numbers");
        return std::process::ExitCode::from(2);
    };
    print!("{}", days::run(first, count));
    std::process::ExitCode::SUCCESS
}

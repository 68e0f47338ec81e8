//! Figures of the boards: reads what was measured, compares it with `figures.toml`, prints a table.
//!
//! ```text
//! figures marks ELF                                  arguments of the plugin that counts
//! figures table DIR COMPILER TARGET... [--write-figures]
//! ```
//!
//! DIR holds, for each target, `TARGET.measured` (a name and a figure a line), `TARGET.count` (what
//! the plugin wrote) and the programs in `TARGET/release`.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;
use std::process::ExitCode;

use object::{Object, ObjectSection, ObjectSymbol, SectionFlags, SectionKind};

/// A figure's name in `figures.toml`, what it is, its budget and the target that the budget is for.
type Row = (&'static str, &'static str, Option<(u64, &'static str)>);

const M0: &str = "thumbv6m-none-eabi";
const M3: &str = "thumbv7m-none-eabi";

const ROWS: [Row; 16] = [
    (
        "guard_flash",
        "flash of the guard alone, bytes",
        Some((10 * 1024, M3)),
    ),
    (
        "whole_flash",
        "flash of the whole, bytes",
        Some((24 * 1024, M3)),
    ),
    ("guard_ram", "RAM of the guard alone, bytes", None),
    ("whole_ram", "RAM of the whole, bytes", Some((2 * 1024, M3))),
    (
        "guard_stack",
        "greatest stack of a guard's tick, bytes",
        None,
    ),
    (
        "whole_stack",
        "greatest stack of a whole tick, bytes",
        Some((1024, M3)),
    ),
    ("seal_stack", "greatest stack to seal a record, bytes", None),
    (
        "restore_stack",
        "stack to start from two records, bytes",
        None,
    ),
    ("guard_typical", "guard's tick, typical, instructions", None),
    (
        "guard_worst",
        "guard's tick, worst, instructions",
        Some((8000, M0)),
    ),
    (
        "guard_counter_back",
        "guard's tick, counter jumped back, instr.",
        None,
    ),
    ("whole_typical", "whole tick, typical, instructions", None),
    (
        "whole_drawn",
        "whole tick, mean of drawn days, instr.",
        None,
    ),
    (
        "whole_worst",
        "whole tick, worst, instructions",
        Some((20_000, M0)),
    ),
    (
        "seal",
        "a record sealed besides, instructions",
        Some((10_000, M0)),
    ),
    ("restore", "start from two records, instructions", None),
];

/// A change beyond this share has to be committed on purpose, in percent.
const CHANGE_MAX: u64 = 2;

type Figures = BTreeMap<String, u64>;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let done = match words.as_slice() {
        ["marks", elf] => marks(elf).map(|marks| {
            println!("{marks}");
            true
        }),
        ["table", dir, compiler, targets @ .., "--write-figures"] => {
            table(dir, compiler, targets, true)
        }
        ["table", dir, compiler, targets @ ..] => table(dir, compiler, targets, false),
        _ => Err("usage: figures marks ELF | figures table DIR COMPILER TARGET...".into()),
    };
    match done {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("figures: {error}");
            ExitCode::from(2)
        }
    }
}

fn read(path: &Path) -> Result<Vec<u8>, String> {
    std::fs::read(path).map_err(|error| format!("{}: {error}", path.display()))
}

/// Where the plugin begins and ends to count.
fn marks(path: &str) -> Result<String, String> {
    let data = read(Path::new(path))?;
    let elf = object::File::parse(&*data).map_err(|error| format!("{path}: {error}"))?;
    let (mut begin, mut ends) = (None, String::new());
    for symbol in elf.symbols() {
        let name = symbol.name().unwrap_or_default();
        // The lowest bit of a function's address says Thumb.
        let at = symbol.address() & !1;
        match name.strip_prefix("count_") {
            Some("begin") => begin = Some(at),
            Some(end) => write!(ends, ",end={at:x}:{end}").map_err(|error| error.to_string())?,
            None => {}
        }
    }
    let begin = begin.ok_or_else(|| format!("{path}: no mark to count from"))?;
    Ok(format!("begin={begin:x}{ends}"))
}

/// Bytes that a program takes in flash: everything that is loaded.
fn flash(path: &Path) -> Result<u64, String> {
    let data = read(path)?;
    let elf =
        object::File::parse(&*data).map_err(|error| format!("{}: {error}", path.display()))?;
    let loaded = elf.sections().filter(|section| {
        let SectionFlags::Elf { sh_flags, .. } = section.flags() else {
            return false;
        };
        let zeroed = section.kind() == SectionKind::UninitializedData;
        sh_flags.0 & object::elf::SHF_ALLOC.0 != 0 && !zeroed
    });
    Ok(loaded.map(|section| section.size()).sum())
}

fn number(word: Option<&str>, line: &str) -> Result<u64, String> {
    word.and_then(|word| word.parse().ok())
        .ok_or_else(|| format!("not understood: {line}"))
}

fn text(path: &Path) -> Result<String, String> {
    String::from_utf8(read(path)?).map_err(|error| format!("{}: {error}", path.display()))
}

/// Everything that was measured of one target.
fn measured(dir: &Path, target: &str) -> Result<Figures, String> {
    let mut figures = Figures::new();
    for line in text(&dir.join(format!("{target}.measured")))?.lines() {
        let mut words = line.split_whitespace();
        let name = words.next().unwrap_or_default().to_owned();
        figures.insert(name, number(words.next(), line)?);
    }
    let mut counts: BTreeMap<String, [u64; 2]> = BTreeMap::new();
    for line in text(&dir.join(format!("{target}.count")))?.lines() {
        let mut words = line.split_whitespace();
        let name = words.next().unwrap_or_default().to_owned();
        let how_many = number(words.next(), line)?;
        let sum = number(words.next(), line)?;
        let largest = number(words.next(), line)?;
        let mean = sum
            .checked_div(how_many)
            .ok_or(format!("{name} was never counted"))?;
        counts.insert(name, [mean, largest]);
    }
    // What the marks themselves take.
    let [_, marks] = *counts.get("nothing").ok_or("the marks were not measured")?;
    let count = |name: &str, which: usize| {
        let found = counts
            .get(name)
            .map(|figures| figures[which].saturating_sub(marks));
        found.ok_or(format!("{target}: {name} was not counted"))
    };
    let worst = |names: &[&str]| {
        names
            .iter()
            .try_fold(0, |most, name| count(name, 1).map(|one| one.max(most)))
    };
    figures.insert("guard_typical".into(), count("guard_typical", 0)?);
    let guard = ["guard_typical", "guard_refused", "guard_changed"];
    figures.insert("guard_worst".into(), worst(&guard)?);
    figures.insert("guard_counter_back".into(), count("guard_counter_back", 1)?);
    figures.insert("whole_typical".into(), count("whole_typical", 0)?);
    figures.insert("whole_drawn".into(), count("whole_drawn", 0)?);
    let whole = [
        "whole_typical",
        "whole_refused",
        "whole_changed",
        "whole_drawn",
    ];
    figures.insert("whole_worst".into(), worst(&whole)?);
    figures.insert("seal".into(), count("seal", 1)?);
    figures.insert("restore".into(), count("restore", 1)?);
    let release = dir.join(target).join("release");
    figures.insert("guard_flash".into(), flash(&release.join("size-guard"))?);
    figures.insert("whole_flash".into(), flash(&release.join("size-whole"))?);
    Ok(figures)
}

const HEAD: &str = "\
# What guard and controller take on each target: two feeders, two bodies, everything fitted, the shipping
# buckets, opt-level \"s\", overflow checks on. Instructions are counted by the emulator and are no cycles.
# Written by `tests/on-target/run --write-figures`; a change over 2 % fails until it is written anew.
";

fn write(compiler: &str, all: &[(&str, Figures)]) -> Result<(), String> {
    let mut out = format!("{HEAD}\ncompiler = \"{compiler}\"\n");
    for (target, figures) in all {
        out += &format!("\n[{target}]\n");
        for (name, _, _) in ROWS {
            let figure = figures.get(name).ok_or(format!("{target}: no {name}"))?;
            out += &format!("{name} = {figure}\n");
        }
    }
    std::fs::write("figures.toml", out).map_err(|error| format!("figures.toml: {error}"))
}

/// True if everything holds.
fn table(dir: &str, compiler: &str, targets: &[&str], writes: bool) -> Result<bool, String> {
    let mut all = Vec::new();
    for target in targets {
        all.push((*target, measured(Path::new(dir), target)?));
    }
    print(&all)?;
    if writes {
        write(compiler, &all)?;
        println!("   written to tests/on-target/figures.toml");
        return Ok(true);
    }
    let committed: toml::Table = text(Path::new("figures.toml"))?
        .parse()
        .map_err(|error| format!("figures.toml: {error}"))?;
    let found = changes(&committed, &all);
    let by = committed
        .get("compiler")
        .and_then(toml::Value::as_str)
        .unwrap_or_default();
    for change in &found {
        println!("   {change}");
    }
    if found.is_empty() {
        println!("   all within {CHANGE_MAX} % of figures.toml");
        return Ok(true);
    }
    if by != compiler {
        println!("   not held against: figures.toml is of {by}, this is {compiler}");
        return Ok(true);
    }
    println!("   if that is meant, commit it: tests/on-target/run --write-figures");
    Ok(false)
}

/// Every figure that changed by more than it may, or left its budget.
fn changes(committed: &toml::Table, all: &[(&str, Figures)]) -> Vec<String> {
    let mut found = Vec::new();
    for (target, figures) in all {
        for (name, _, budget) in ROWS {
            let now = figures.get(name).copied().unwrap_or(0);
            let was = committed.get(*target).and_then(|table| table.get(name));
            let Some(was) = was
                .and_then(toml::Value::as_integer)
                .and_then(|was| u64::try_from(was).ok())
            else {
                found.push(format!("{target}: {name} is not in figures.toml"));
                continue;
            };
            if now.abs_diff(was) * 100 > was * CHANGE_MAX {
                found.push(format!("{target}: {name} was {was}, is {now}"));
            }
            if let Some((most, of)) = budget
                && of == *target
                && was <= most
                && now > most
            {
                found.push(format!(
                    "{target}: {name} is {now}, over its budget of {most}"
                ));
            }
        }
    }
    found
}

fn print(all: &[(&str, Figures)]) -> Result<(), String> {
    let mut head = format!("   {:<43}", "");
    for (target, _) in all {
        let short = target.split('-').next().unwrap_or(target);
        head += &format!("{short:>11}");
    }
    println!("{head}  budget");
    for (name, what, budget) in ROWS {
        let mut line = format!("   {what:<43}");
        for (target, figures) in all {
            let figure = figures.get(name).ok_or(format!("{target}: no {name}"))?;
            line += &format!("{figure:>11}");
        }
        if let Some((most, of)) = budget {
            let figures = all.iter().find(|(target, _)| *target == of);
            let held = figures
                .and_then(|(_, figures)| figures.get(name))
                .map(|now| *now <= most);
            let of = of.split('-').next().unwrap_or(of);
            let verdict = match held {
                Some(true) => "held",
                Some(false) => "NOT HELD",
                None => "not measured",
            };
            line += &format!("  {most} on {of}: {verdict}");
        }
        println!("{line}");
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(change: impl Fn(&mut Figures)) -> Vec<String> {
        let mut figures: Figures = ROWS.iter().map(|row| (row.0.to_owned(), 1000)).collect();
        let mut committed = toml::Table::new();
        let same = figures
            .iter()
            .map(|(name, figure)| (name.clone(), (*figure as i64).into()));
        committed.insert(M0.into(), toml::Value::Table(same.collect()));
        change(&mut figures);
        changes(&committed, &[(M0, figures)])
    }

    #[test]
    fn two_percent_is_allowed_and_more_is_not() {
        assert_eq!(with(|_| ()), Vec::<String>::new());
        for (figure, findings) in [(1020, 0), (1021, 1), (980, 0), (979, 1)] {
            let found = with(|figures| _ = figures.insert("seal".into(), figure));
            assert_eq!(found.len(), findings, "{found:?}");
        }
    }

    #[test]
    fn a_budget_that_was_held_stays_held() {
        let found = with(|figures| _ = figures.insert("seal".into(), 10_001));
        assert!(
            found.iter().any(|line| line.contains("over its budget")),
            "{found:?}"
        );
    }
}

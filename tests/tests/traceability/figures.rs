//! What the README says of a chip, against what was measured.

/// How the README names a figure, and how `figures.toml` does.
const FIGURES: [(&str, &str); 7] = [
    ("flash of the guard alone, bytes", "guard_flash"),
    ("flash of the whole, bytes", "whole_flash"),
    ("RAM of the whole, bytes", "whole_ram"),
    ("greatest stack of a whole tick, bytes", "whole_stack"),
    ("guard's tick, worst, instructions", "guard_worst"),
    ("whole tick, worst, instructions", "whole_worst"),
    ("a record sealed besides, instructions", "seal"),
];
const CHIPS: [(&str, &str); 2] = [
    ("Cortex-M3", "thumbv7m-none-eabi"),
    ("Cortex-M0", "thumbv6m-none-eabi"),
];

/// Rows of the README's table that are missing or say something else.
pub(crate) fn stale(readme: &str, figures: &str) -> Vec<String> {
    let measured: toml::Table = figures.parse().unwrap_or_default();
    let mut found = Vec::new();
    for (words, key) in FIGURES {
        let row = readme.lines().find_map(|line| {
            let cells: Vec<&str> = line.split('|').map(str::trim).collect();
            match cells.as_slice() {
                ["", name, chip, is, _, ""] if *name == words => Some((*chip, is.replace(',', ""))),
                _ => None,
            }
        });
        let Some((chip, is)) = row else {
            found.push(format!("no row \"{words}\""));
            continue;
        };
        let target = CHIPS.iter().find(|(name, _)| *name == chip);
        let real = target.and_then(|(_, target)| measured.get(*target)?.get(key)?.as_integer());
        if real.map(|real| real.to_string()) != Some(is.clone()) {
            found.push(format!("{words} on {chip}: {is}, measured {real:?}"));
        }
    }
    found
}

#[test]
fn a_row_that_is_missing_or_stale_is_found() {
    let figures: String = CHIPS
        .iter()
        .map(|(_, target)| {
            let lines = FIGURES.map(|(_, key)| format!("{key} = 1234\n"));
            format!("[{target}]\n{}", lines.concat())
        })
        .collect();
    let rows = |is: &str| -> String {
        let row = |(words, _)| format!("| {words} | Cortex-M3 | {is} | 1 |\n");
        FIGURES.map(row).concat()
    };
    assert_eq!(stale(&rows("1,234"), &figures), Vec::<String>::new());
    assert_eq!(stale(&rows("1,233"), &figures).len(), 7);
    assert_eq!(stale("", &figures).len(), 7);
    assert_eq!(stale(&rows("1,234"), "").len(), 7);
}

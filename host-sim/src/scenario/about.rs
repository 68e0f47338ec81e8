//! `[scenario]`: what a run is called, how long it goes and what it shows.

use super::clock;
use super::error::InputError;
use super::quantity::Kind;
use super::table::Table;

/// What `[scenario]` says.
pub(super) struct About {
    pub(super) name: String,
    pub(super) words: String,
    pub(super) days: u32,
    pub(super) ends_at_ms: Option<u64>,
    pub(super) seed: u64,
    pub(super) tick_ms: u32,
    pub(super) start_min: u16,
    pub(super) expect_broken: Vec<String>,
}

pub(super) fn read(root: &Table<'_, '_>) -> Result<About, InputError> {
    let t = root.table("scenario")?;
    let name = t.words("name")?.to_owned();
    let words = t
        .words("words")?
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    let days = t.whole("days", 1, 3650)?;
    let seed = t.whole("seed", 0, i64::MAX)?;
    let tick_s = t.quantity("tick", Kind::Time, "200 ms", "5 s")?;
    let start_min = t.need("starts_at", "\"00:00\"")?.time_of_day()?;
    let mut expect_broken = Vec::new();
    if let Some(entry) = t.find("expect_broken") {
        let known = crate::judge::ORACLES.map(|oracle| (oracle, oracle));
        for one in entry.list()? {
            expect_broken.push(one.choice(&known)?.to_owned());
        }
    }
    let ends_at_ms = match t.find("ends_at") {
        None => None,
        Some(at) => {
            let ends_ms = at.moment()?;
            let start_ms = u64::from(start_min) * 60_000;
            let last_ms = start_ms + u64::try_from(days).unwrap_or(1) * clock::DAY_MS;
            if !(start_ms + 1..=last_ms).contains(&ends_ms) {
                let (from, to) = (clock::show(start_ms), clock::show(last_ms));
                return Err(at.error(format!(
                    "`ends_at` has to be after {from} and at most {to}, as `starts_at` and `days` say"
                )));
            }
            Some(ends_ms)
        }
    };
    t.close()?;
    Ok(About {
        name,
        words,
        days: u32::try_from(days).unwrap_or(1),
        ends_at_ms,
        seed: u64::try_from(seed).unwrap_or(0),
        tick_ms: (tick_s * 1000.0).round() as u32,
        start_min,
        expect_broken,
    })
}

//! An invented site, and logs of it written second by second.

use crate::audit::{
    Bounds, Columns, CutoffBounds, FeederBounds, FeederColumns, FeederRow, Log, Probe,
    ProbeColumns, Reading, Row,
};
use crate::plant::Product;

/// 1 mL/s of acid, 2 mL/s of hypochlorite.
pub(super) fn site() -> Bounds {
    let acid = FeederBounds {
        name: "acid".to_owned(),
        product: Product::Acid,
        drive_off_ms: 200.0,
        feedback_ms: Some(3_000.0),
        rate_per_ms: 1.0,
        rate_max_per_ms: 1.5,
        cycle_cap: Some(60_000.0),
        run_max_ms: 180_000.0,
        hour_cap: 240_000.0,
        day_cap: 900_000.0,
        spread_hold_ms: 600_000.0,
        governor: Some(Probe::Ph),
        cutoff: CutoffBounds {
            ph_above: Some(7.2),
            ..CutoffBounds::default()
        },
        level_switch: true,
    };
    let chlorine = FeederBounds {
        name: "chlorine".to_owned(),
        product: Product::Hypochlorite,
        rate_per_ms: 2.0,
        rate_max_per_ms: 2.0,
        cycle_cap: Some(160_000.0),
        hour_cap: 640_000.0,
        day_cap: 3_000_000.0,
        governor: Some(Probe::Orp),
        cutoff: CutoffBounds {
            ph_above: None,
            ph_floor: Some(6.8),
            orp_below_mv: Some(780.0),
            orp_falls: None,
        },
        ..acid.clone()
    };
    Bounds {
        site: "Sallow Lido".to_owned(),
        tick_gap_max_ms: 2_000.0,
        power_on_delay_ms: 120_000.0,
        flow_prove_ms: 60_000.0,
        probe_settle_ms: 300_000.0,
        probe_age_max_ms: 10_000.0,
        purge_ms: 60_000.0,
        resume_within_ms: 120_000.0,
        hours: Some((480, 1200)),
        feeders: vec![acid, chlorine],
    }
}

/// A time from one second to another, the latter not in it.
pub(super) type Time = (u32, u32);

/// What happens, in seconds from the first row.
#[derive(Clone, Debug)]
pub(super) struct Script {
    /// Seconds of the log, and between two rows.
    pub(super) length: u32,
    pub(super) step: u32,
    /// Minute of the day at which it begins.
    pub(super) starts: u32,
    pub(super) flow: Vec<Time>,
    pub(super) power: Vec<Time>,
    /// For each feeder.
    pub(super) feeds: [Vec<Time>; 2],
    /// pH and ORP where they are not usual.
    pub(super) ph: Vec<(Time, f64)>,
    pub(super) orp: Vec<(Time, f64)>,
}

impl Script {
    /// All is well: 40 mL of acid twice, 80 mL of chlorine once.
    pub(super) fn good() -> Self {
        Self {
            length: 1_400,
            step: 1,
            starts: 540,
            flow: vec![(50, 100_000)],
            power: vec![(20, 100_000)],
            feeds: [vec![(400, 440), (1_100, 1_140)], vec![(520, 560)]],
            ph: Vec::new(),
            orp: Vec::new(),
        }
    }

    pub(super) fn log(&self) -> Log {
        let rows = (0..=self.length / self.step).map(|row| self.row(row));
        let probe = ProbeColumns {
            value: true,
            ok: true,
            age: true,
            ..ProbeColumns::default()
        };
        let all = FeederColumns {
            drive: true,
            on_time: true,
            amount: true,
            command: true,
            level: true,
        };
        Log {
            name: "log.csv".to_owned(),
            columns: Columns {
                flow: true,
                power: true,
                time_of_day: true,
                ph: probe,
                orp: probe,
                half_amount: vec![0.0; 2],
                half_on_ms: vec![0.0; 2],
                feeders: vec![all; 2],
            },
            rows: rows.collect(),
            gap_ms: 2_000.0 * f64::from(self.step),
        }
    }

    fn row(&self, row: u32) -> Row {
        let at = row * self.step;
        let within = |times: &[Time]| times.iter().any(|(from, to)| (*from..*to).contains(&at));
        let value = |usual: f64, other: &[(Time, f64)]| {
            let other = other
                .iter()
                .find(|((from, to), _)| (*from..*to).contains(&at));
            Reading {
                // It moves a little, as water does.
                value: Some(other.map_or(usual + f64::from(at % 7) * 0.001, |(_, value)| *value)),
                ok: Some(true),
                age_ms: Some(1_000.0),
            }
        };
        let feeders = [0, 1].map(|feeder| {
            let feeds = &self.feeds[feeder];
            let from = at.saturating_sub(self.step);
            let on = feeds
                .iter()
                .map(|(begin, end)| at.min(*end).saturating_sub(from.max(*begin)));
            let on_ms = f64::from(on.sum::<u32>()) * 1_000.0;
            let drive = Some(within(feeds));
            FeederRow {
                drive,
                on_ms: Some(on_ms),
                amount: Some(on_ms * [1.0, 2.0][feeder]),
                command: drive,
                stock: Some(true),
            }
        });
        Row {
            // The names stand in line 1.
            line: u64::from(row) + 2,
            at_ms: f64::from(at) * 1_000.0,
            clock: format!("{at} s"),
            minute: u16::try_from((self.starts + at / 60) % 1440).ok(),
            flow: Some(within(&self.flow)),
            powered: Some(within(&self.power)),
            ph: value(7.6, &self.ph),
            orp: value(700.0, &self.orp),
            feeders: feeders.into(),
        }
    }
}

/// The row of a second, in a log with a row a second.
pub(super) fn second(log: &mut Log, at: u32) -> &mut Row {
    &mut log.rows[at as usize]
}

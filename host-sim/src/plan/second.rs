//! A second body of water on the same pump: `[second_body]` and `[valves]` of a site file.
//!
//! | key of `[second_body]` | what |
//! |---|---|
//! | `name` | what it is called; the first is the pool |
//! | `kind`, `outdoors`, `bathers`, `co2_transfer` | as in `[site]` |
//! | `selected` | when the valves send the water there, each day |
//! | `[[second_body.part]]`, `[second_body.dilution]`, `[second_body.corner]` | as in `[basin]` |
//! | `[second_body.water]` | as `[water]` |
//! | `[second_body.wanted]` | what is wanted otherwise than of the pool: `free_chlorine`, `free_chlorine_min`, `alkalinity`, `calcium`, `cyanuric_acid`; each may be left out |
//!
//! What else is wanted of the water is wanted of both: a controller has one set point for pH and one for ORP. Where a code
//! wants more ORP of warm water (Quebec Q-2 r. 39: over 750 mV above 35 C), plan for the ORP of the spa, or move the set
//! point in the firmware as the valves turn, as `dosewarden::regulate` says; no plan and no scenario does that.
//!
//! | key of `[valves]` | what |
//! |---|---|
//! | `travel` | time from one end to the other |
//! | `position` | what tells the controller: `"fill and return"`, `"return"` or `"not fitted"` |
//! | `turn` | the fill and the return valve: `"together"`, by one drive or one switch, or `"apart"` |

use super::basin::{basin, corner};
use super::site::{KINDS, Read, Site, SiteFlow, Wanted, water};
use crate::plant::DayWindow;
use crate::scenario::feeder;
use crate::scenario::quantity::Kind;
use crate::scenario::table::Table;

/// What the first body of a site is called.
pub const FIRST: &str = "pool";

/// What tells the controller how the valves stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Position {
    /// Switches on the fill valve and on the return valve, in series.
    FillAndReturn,
    /// Switches on the return valve alone.
    Return,
    /// Nothing.
    NotFitted,
}

/// The valves between the bodies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SiteValves {
    /// From one end to the other, s.
    pub travel_s: f64,
    /// What tells how they stand.
    pub position: Position,
    /// Fill and return valve turn together.
    pub together: bool,
}

/// Another body of water on the same pump.
#[derive(Clone, Debug, PartialEq)]
pub struct SecondBody {
    /// Its name.
    pub name: String,
    /// The site as if this were its only body: the pump runs for it while it is selected.
    pub site: Box<Site>,
    /// The valves.
    pub valves: SiteValves,
}

impl SecondBody {
    /// When the valves send the water there.
    #[must_use]
    pub fn selected(&self) -> &[DayWindow] {
        &self.site.flow.runs
    }

    /// The controller is told which body is selected.
    #[must_use]
    pub fn is_seen(&self) -> bool {
        self.valves.position != Position::NotFitted
    }
}

/// The site with its second body, where it has one.
pub(super) fn with(root: &Table<'_, '_>, first: Site) -> Read<Site> {
    let Some(t) = root.find_table("second_body")? else {
        if let Some(valves) = root.find_table("valves")? {
            return Err(valves.error(
                "[valves] select one of two bodies of water; write [second_body], or leave [valves] out",
            ));
        }
        return Ok(first);
    };
    let name = feeder::name(&t)?;
    if name == FIRST {
        let what =
            format!("`name` is \"{FIRST}\", as the first body is called; names have to differ");
        return Err(t.error_at("name", what));
    }
    let mut runs = Vec::new();
    for entry in t.need("selected", "[\"18:00-20:00\"]")?.list()? {
        let window = entry.window()?;
        let due = |minute: u16| first.flow.runs.iter().any(|one| one.contains(minute));
        if !(0..1440).any(|minute| window.contains(minute) && due(minute)) {
            return Err(entry.error(
                "the pump does not run then; `selected` has to lie in `runs` of [circulation]",
            ));
        }
        runs.push(window);
    }
    let (volume_l, depth_m) = basin(&t, "second_body")?;
    let (water, temperature_c) = water(&t)?;
    let site = Site {
        name: format!("{}, {name}", first.name),
        kind: t.choice("kind", &KINDS)?,
        outdoors: t.need("outdoors", "true")?.yes_or_no()?,
        bathers_per_day: t.need("bathers", "4")?.number(0.0, 10_000.0)?,
        co2_transfer_cm_h: t.quantity("co2_transfer", Kind::Speed, "0 cm/h", "20 cm/h")? * 100.0,
        volume_l,
        depth_m,
        corner: corner(&t)?,
        water,
        temperature_c,
        wanted: wanted(&t, first.wanted)?,
        flow: SiteFlow {
            runs,
            ..first.flow.clone()
        },
        ..first.clone()
    };
    t.close()?;
    let second = SecondBody {
        name,
        site: Box::new(site),
        valves: valves(root)?,
    };
    Ok(Site {
        second: Some(second),
        ..first
    })
}

/// What is wanted of it: where nothing is said, what is wanted of the pool.
fn wanted(of: &Table<'_, '_>, pool: Wanted) -> Read<Wanted> {
    let Some(t) = of.find_table("wanted")? else {
        return Ok(pool);
    };
    for key in ["ph", "orp", "dissolved"] {
        if t.find(key).is_some() {
            let what = format!(
                "`{key}` is of both bodies: a controller has one set point for pH and one for ORP, and a generator one \
                 salt; write it in [wanted]"
            );
            return Err(t.error_at(key, what));
        }
    }
    let mg_l = |key, pool: f64, min, max| {
        let Some(entry) = t.find(key) else {
            return Ok(pool);
        };
        entry.quantity(Kind::Concentration, min, max)
    };
    let own = Wanted {
        free_chlorine_mg_l: mg_l(
            "free_chlorine",
            pool.free_chlorine_mg_l,
            "0.2 mg/L",
            "10 mg/L",
        )?,
        free_chlorine_min_mg_l: mg_l(
            "free_chlorine_min",
            pool.free_chlorine_min_mg_l,
            "0.1 mg/L",
            "10 mg/L",
        )?,
        alkalinity_mg_l: mg_l("alkalinity", pool.alkalinity_mg_l, "40 mg/L", "200 mg/L")?,
        calcium_mg_l: mg_l("calcium", pool.calcium_mg_l, "0 mg/L", "1000 mg/L")?,
        cyanuric_acid_mg_l: mg_l(
            "cyanuric_acid",
            pool.cyanuric_acid_mg_l,
            "0 mg/L",
            "100 mg/L",
        )?,
        ..pool
    };
    if own.free_chlorine_min_mg_l > own.free_chlorine_mg_l {
        let what = format!(
            "the least free chlorine, {} mg/L, is above what is wanted, {} mg/L; it has to be at most that",
            own.free_chlorine_min_mg_l, own.free_chlorine_mg_l
        );
        return Err(t.error(what));
    }
    t.close()?;
    Ok(own)
}

fn valves(root: &Table<'_, '_>) -> Read<SiteValves> {
    let t = root.table("valves")?;
    let positions = [
        ("fill and return", Position::FillAndReturn),
        ("return", Position::Return),
        ("not fitted", Position::NotFitted),
    ];
    let valves = SiteValves {
        travel_s: t.quantity("travel", Kind::Time, "1 s", "10 min")?,
        position: t.choice("position", &positions)?,
        together: t.choice("turn", &[("together", true), ("apart", false)])?,
    };
    t.close()?;
    Ok(valves)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::LazyLock;

    static POOL_AND_SPA: LazyLock<String> =
        LazyLock::new(|| crate::examples::text("sites/pool-and-spa.toml"));

    fn read(wanted: &str) -> Result<Site, String> {
        let with = format!("[second_body.wanted]\n{wanted}\n\n[valves]\n");
        let text = POOL_AND_SPA.replace("[valves]\n", &with);
        Site::parse("site.toml", &text).map_err(|error| error.to_string())
    }

    #[test]
    fn what_is_wanted_of_the_second_body_is_its_own_or_the_pool_s() {
        let site = read("alkalinity = \"120 mg/L\"\ncyanuric_acid = \"0 mg/L\"").expect("sound");
        let own = site.second.as_ref().expect("a spa").site.wanted;
        assert_eq!((own.alkalinity_mg_l, own.cyanuric_acid_mg_l), (120.0, 0.0));
        let others = Wanted {
            alkalinity_mg_l: site.wanted.alkalinity_mg_l,
            cyanuric_acid_mg_l: site.wanted.cyanuric_acid_mg_l,
            ..own
        };
        assert_eq!(others, site.wanted);
        assert!(
            site.wanted.cyanuric_acid_mg_l > 0.0,
            "the pool keeps its own"
        );
    }

    #[test]
    fn what_both_have_in_common_or_cannot_be_is_told_at_its_line() {
        for (wrong, why) in [
            (
                "ph = \"pH 7.4\"",
                "`ph` is of both bodies: a controller has one set point for pH",
            ),
            ("orp = \"700 mV\"", "`orp` is of both bodies"),
            (
                "free_chlorine = \"40 mg/L\"",
                "it has to be a concentration, \"0.2 mg/L\" to \"10 mg/L\"",
            ),
            (
                "free_chlorine = \"1 mg/L\"",
                "the least free chlorine, 1.5 mg/L, is above what is wanted, 1 mg/L",
            ),
            ("chlorine = \"1 mg/L\"", "chlorine"),
        ] {
            let told = read(wrong).expect_err(wrong);
            assert!(told.contains(why), "{wrong}: {told}");
            let line = 1 + POOL_AND_SPA[..POOL_AND_SPA.find("[valves]\n").expect("there")]
                .lines()
                .count();
            let near = [line, line + 1].map(|line| format!("site.toml:{line}:"));
            assert!(near.iter().any(|at| told.starts_with(at)), "{told}");
        }
    }
}

//! The walk itself on trial. Its counts are pinned by `tests/explore`, which walks to the end.

use std::sync::atomic::AtomicBool;

use dosewarden::guard::Restart;

use super::pack::WORDS;
use super::site::{Figures, Site};
use super::walk::{Ended, Walking, walk};
use super::world::{Came, World};
use super::{ALL, ALWAYS, explore, replay_file, sites};

fn walking(states_max: usize, jobs: usize, run: impl FnOnce(&mut Walking<'_>)) {
    let stop = AtomicBool::new(false);
    run(&mut Walking {
        states_max,
        jobs,
        fed_only: false,
        stop: &stop,
        progress: &mut |_| {},
    });
}

/// A number that follows from the one before (Marsaglia 2003, "Xorshift RNGs", J. Stat. Softw. 8(14)).
fn shuffled(seed: &mut u64) -> usize {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    (*seed >> 33) as usize
}

/// Lives the same life twice: once settled after every tick, once never. What is decided is the same.
fn settling_changes_nothing<const N: usize, const B: usize, const H: usize, const D: usize>(
    site: &Site<N, B>,
) {
    let mut seed = 0x2545_F491_4F6C_DD1D;
    let mut unlike = 0;
    for _ in 0..400 {
        let mut settled = World::<N, B, H, D>::new(site);
        let mut raw = settled;
        for _ in 0..60 {
            let event = site.events[shuffled(&mut seed) % site.events.len()];
            // A power cut at every other tick would let nothing happen.
            if event.cut.is_some() && !shuffled(&mut seed).is_multiple_of(4) {
                continue;
            }
            let (one, other) = (settled.next(site, &event), raw.happen(site, &event));
            match (one, other) {
                (Ok(Came::Judged(one)), Ok(Came::Judged(other))) => {
                    for (one, other) in one.feeders.iter().zip(&other.feeders) {
                        assert_eq!(one.vetoes, other.vetoes, "{}: {}", site.name, event.told());
                        assert_eq!((one.run, one.stage), (other.run, other.stage));
                    }
                    assert_eq!((one.action, one.changed), (other.action, other.changed));
                }
                (Ok(_), Ok(_)) => {}
                (one, other) => panic!("{}: {:?} {:?}", site.name, one.err(), other.err()),
            }
            unlike += usize::from(raw.state != settled.state);
            if !site.ledger {
                // Out of reach, but for a day that counts as used after the state changed by itself.
                raw.state.ledger = settled.state.ledger;
            }
            let mut late = raw;
            late.settle(site);
            assert_eq!(late, settled, "{}: {}", site.name, event.told());
        }
    }
    assert!(unlike > 0, "{}: settling took nothing out", site.name);
}

#[test]
fn what_is_taken_out_of_a_world_makes_no_difference() {
    settling_changes_nothing::<1, 1, 2, 3>(&sites::x1(Restart::Automatic).unwrap());
    settling_changes_nothing::<2, 1, 2, 2>(&sites::x2().unwrap());
    settling_changes_nothing::<1, 1, 2, 2>(&sites::x3_persons().unwrap());
    settling_changes_nothing::<1, 2, 2, 2>(&sites::x3_bodies().unwrap());
    settling_changes_nothing::<1, 1, 2, 2>(&sites::x3_answers().unwrap());
}

fn packs<const N: usize, const B: usize, const H: usize, const D: usize>(site: &Site<N, B>) {
    let mut seed = 0x9E37_79B9_7F4A_7C15;
    let mut world = World::<N, B, H, D>::new(site);
    for _ in 0..20_000 {
        let event = site.events[shuffled(&mut seed) % site.events.len()];
        world.next(site, &event).unwrap_or(Came::Nothing);
        let packed = world.pack(site).expect("it fits");
        assert_eq!(World::<N, B, H, D>::unpack(site, &packed), world);
        assert!(world.bits(site) <= 64 * WORDS as u32);
    }
}

#[test]
fn a_world_fits_into_32_bytes_and_comes_out_whole() {
    packs::<1, 1, 2, 3>(&sites::x1(Restart::Person).unwrap());
    packs::<2, 1, 2, 2>(&sites::x2().unwrap());
    packs::<1, 1, 2, 2>(&sites::x3_persons().unwrap());
    packs::<1, 2, 2, 2>(&sites::x3_bodies().unwrap());
    packs::<1, 1, 2, 2>(&sites::x3_answers().unwrap());
}

#[test]
fn any_number_of_threads_finds_the_same_worlds_in_the_same_order() {
    let site = sites::x3_answers().unwrap();
    walking(3000, 1, |one| {
        let one = walk::<1, 1, 2, 2>(&site, one);
        walking(3000, 3, |three| {
            let three = walk::<1, 1, 2, 2>(&site, three);
            assert_eq!(one.worlds.all, three.worlds.all);
            assert_eq!((one.judgements, one.seen), (three.judgements, three.seen));
            assert_eq!(one.ended, Ended::Cut);
        });
    });
}

/// Walks with a figure of the truth bent, so that the guard looks too lax by a tick. The property that
/// has to notice.
fn bent<const N: usize, const B: usize, const H: usize, const D: usize>(
    mut site: Site<N, B>,
    bend: fn(&mut Figures<N>),
    property: &str,
) {
    bend(&mut site.figures);
    walking(60_000, 2, |walking| {
        let (found, _) = walk::<N, B, H, D>(&site, walking).broken.expect("noticed");
        assert_eq!(found.name, property);
    });
}

#[test]
fn a_guard_that_is_too_lax_by_one_tick_is_noticed() {
    let persons = || sites::x3_persons().unwrap();
    let bodies = || sites::x3_bodies().unwrap();
    bent::<1, 1, 2, 2>(
        persons(),
        |figures| {
            figures.power_on += 1;
            figures.new_probe += 1;
        },
        "POWER_ON",
    );
    bent::<1, 1, 2, 2>(persons(), |figures| figures.prove += 2, "FLOW");
    bent::<1, 1, 2, 2>(persons(), |figures| figures.settle += 1, "SETTLED");
    bent::<1, 1, 2, 2>(persons(), |figures| figures.feeders[0].hold += 1, "SPREAD");
    bent::<1, 2, 2, 2>(bodies(), |figures| figures.steady += 2, "BODY");
    // A line that is released too early is as near as products that meet.
    bent::<2, 1, 2, 2>(
        sites::x2().unwrap(),
        |figures| figures.purge += 2,
        "LOCKED_OUT",
    );
}

#[test]
fn a_way_is_told_again_from_its_file_and_a_wrong_file_is_told_by_line() {
    let mut site = sites::x3_answers().unwrap();
    site.figures.feeders[0].hold += 1;
    walking(60_000, 2, |walking| {
        let (_, path) = walk::<1, 1, 2, 2>(&site, walking).broken.expect("noticed");
        let trail = super::told::told::<1, 1, 2, 2>(&site, &path).0;
        let again = replay_file("way.txt", &trail.file()).expect("a sound file");
        assert_eq!(again.events, path);
        let words = |all: &super::Trail| -> Vec<String> {
            all.ticks.iter().map(|tick| tick.happens.clone()).collect()
        };
        assert_eq!(words(&again), words(&trail));
        assert!(again.broken.is_none(), "the shipped guard holds");
        assert_eq!(again.found.broken.map(|one| one.name), Some("SPREAD"));
        let told = again.to_string();
        let was = "with the guard of the walk that found it SPREAD did not hold";
        assert!(told.contains(was), "{told}");
    });
    for (text, says) in [
        ("", "way.txt:1: a file for --replay begins"),
        ("dosewarden explore x9\n", "way.txt:1: `x9` is no part"),
        (
            "dosewarden explore x2\nx\t-\n",
            "way.txt:2: `x` is no event",
        ),
        (
            "dosewarden explore x2\nthen FED_AGAIN 2\n",
            "way.txt:2: `FED_AGAIN 2` is not what is waited for; it is FED_AGAIN or FED_OR_ASKED and a feeder, 0 to 1",
        ),
        (
            "dosewarden explore x2\nthen FED_AGAIN 1\n0\t-\n",
            "way.txt:3: after `then` only",
        ),
        (
            "dosewarden explore x2\nbroken SPRAED\n",
            "way.txt:2: `SPRAED` is no property",
        ),
        (
            "dosewarden explore x2\nbroken SPREAD\n0\t-\n",
            "way.txt:3: nothing may follow",
        ),
        (
            "dosewarden explore x2\n60000\t-\n",
            "way.txt:2: x2 has no event",
        ),
        (
            "dosewarden explore x2\n0\tbad\n",
            "way.txt:2: this event is",
        ),
    ] {
        let why = replay_file("way.txt", text).expect_err(text).to_string();
        assert!(why.starts_with(says), "{why}");
    }
}

/// A wait is told again too, and judged: the file of a walk whose guard never fed again is sound under one that does.
#[test]
fn what_must_happen_in_the_end_is_told_again_from_its_file() {
    for (aim, ends) in [("FED_AGAIN", "runs for"), ("FED_OR_ASKED", "feeder 0")] {
        let text =
            format!("dosewarden explore x3-answers\n0\t\tnever fed\nthen {aim} 0\nbroken {aim}\n");
        let text = text.replace("\t\t", &format!("\t{}\t", first_event()));
        let trail = replay_file("way.txt", &text).expect("a sound file");
        assert_eq!((trail.broken, trail.ticks.len()), (None, 1), "{trail}");
        assert!(
            !trail.healthy.is_empty() && trail.healthy.len() < 12,
            "{trail}"
        );
        assert!(
            trail
                .healthy
                .last()
                .is_some_and(|tick| tick.comes.contains(ends)),
            "{trail}"
        );
        let told = trail.to_string();
        assert!(
            told.contains("from here on nothing is wrong any more"),
            "{told}"
        );
        assert!(told.contains("when it was found: never fed"), "{told}");
        assert!(
            told.contains(&format!("found it {aim} did not hold")),
            "{told}"
        );
        assert!(
            trail.file().ends_with(&format!("\nthen {aim} 0\n")),
            "{}",
            trail.file()
        );
    }
}

fn first_event() -> String {
    sites::x3_answers().unwrap().events[0].told()
}

/// Every tick comes too late here, and so no feeder is ever fed again.
#[test]
fn a_wait_in_vain_is_told_as_such() {
    let mut site = sites::x3_answers().unwrap();
    site.in_time = site.too_long;
    let trail = super::told::then::<1, 1, 2, 2>(&site, &[], super::Aim::Fed, 0);
    assert_eq!(
        trail.broken.map(|(name, _)| name),
        Some("FED_AGAIN"),
        "{trail}"
    );
    assert_eq!(trail.healthy.len(), 12, "only its beginning is told");
    let file = trail.file();
    assert!(
        file.ends_with("\nthen FED_AGAIN 0\nbroken FED_AGAIN\n"),
        "{file}"
    );
}

/// A walk that breaks for real: the site's hold is a tick longer than what the guard was told.
#[test]
fn a_page_of_a_broken_walk_says_which_property_in_which_part_and_the_whole_way() {
    let mut site = sites::x3_answers().unwrap();
    site.figures.feeders[0].hold += 1;
    walking(60_000, 2, |walking| {
        let report = super::report::explore_site::<1, 1, 2, 2>(site, walking);
        assert_eq!(report.ended, Ended::Broken);
        let trail = report.broken.as_ref().expect("a way");
        let (name, says) = trail.broken.expect("a property");
        let page = super::page("x3-answers", std::slice::from_ref(&report), "again").unwrap();
        for part in [
            "Verdict: BROKEN in 1 of 1 part; a property does not hold in x3-answers. The way to it stands below.",
            &format!("<strong>{name}</strong> does not hold: {says}"),
            "<li class=last>",
            "does not hold</span></li>",
        ] {
            assert!(page.contains(part), "{part}\n{page}");
        }
        assert_eq!(
            page.matches("<span class=\"came\">").count(),
            trail.ticks.len()
        );
    });
}

#[test]
fn a_stopped_walk_tells_what_is_done() {
    let stop = AtomicBool::new(true);
    let mut walking = Walking {
        states_max: usize::MAX,
        jobs: 1,
        fed_only: false,
        stop: &stop,
        progress: &mut |_| {},
    };
    let report = explore("x3-persons", &mut walking).unwrap();
    assert_eq!(report.ended, Ended::Stopped);
    assert!(report.holds() && report.states > 1, "{report}");
}

#[test]
fn names_are_those_of_the_parts() {
    for part in ALL {
        assert_eq!(super::parts(part), Some(&[part][..]));
    }
    assert_eq!(super::parts("x4"), None);
    let mut names: Vec<&str> = ALWAYS.iter().map(|one| one.name).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), ALWAYS.len());
}

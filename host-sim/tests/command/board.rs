//! `dosewarden board`: what a pool had on one board, as committed and as the controller itself had it; an image that is
//! damaged, cut, of another version or no image at all is refused, whichever bit it is.
//!
//! `BOARD_WRITE=1 cargo test -p dosewarden-sim --test command board::` writes the sheet anew.

use std::fs;
use std::path::{Path, PathBuf};

use dosewarden::guard::{Authority, Crc32};
use dosewarden_sim::board::BoardSheet;
use dosewarden_sim::plan::{HOME_POOL, Plan, Site};
use dosewarden_sim::scenario::{Act, PersonAct};
use dosewarden_sim::{DosewardenUnit, Scenario, SimPool};
use proptest::prelude::*;

use crate::common::{dosewarden, names};

const BY: Authority = Authority::Technician;

/// The planned home pool after two days, given away with its emergency stop pressed or not; what its ledger says of the
/// day, mL; and the image.
fn given_away(is_stopped: bool) -> ([f64; 2], Vec<u8>) {
    let site = Site::parse("site.toml", HOME_POOL).expect("a sound site");
    let plan = Plan::of(&site).expect("a plan");
    let scenario = Scenario::parse("planned.toml", &plan.scenario).expect("it runs");
    let unit = DosewardenUnit::for_scenario(&scenario);
    let mut pool = SimPool::attach(&scenario, unit).expect("a sound plant");
    pool.run_for_ms(2 * 86_400_000 + 14 * 3_600_000);
    if is_stopped {
        pool.act(Act::Person(PersonAct::EmergencyStop(2_000)));
        pool.run_for_ms(3_000);
    }
    pool.unit_mut().hand_over(BY, false);
    pool.run_for_ms(3_000);
    let controller = pool.unit().controller().expect("it has power");
    let ledger = &controller.guard().state().ledger;
    let day = [0, 1].map(|feeder| f64::from(ledger.totals(feeder, 0).1.0) / 1000.0);
    (day, pool.unit_mut().export().expect("given away"))
}

fn site(name: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/sites");
    folder.join(name).display().to_string()
}

fn committed() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/command/boards")
}

/// Written before cut-offs fell: all of it is read, and the site's plan differs in the fall.
#[test]
fn an_image_with_settings_of_version_3_is_read_and_its_cut_offs_do_not_fall() {
    let (image, home) = ("home-pool-settings-3.bin", site("home-pool.toml"));
    let (code, sheet, said) = dosewarden(&committed(), "board", &[image, "--site", &home]);
    assert_eq!(code, Some(1), "a lockout stands: {said}");
    assert!(sheet.contains("810 bytes, whole"), "{sheet}");
    let fall = sheet.lines().find(|line| line.contains("orp_fall"));
    let fall = fall.unwrap_or_else(|| panic!("{sheet}"));
    assert!(fall.ends_with("image 0, site 60"), "{fall}");
}

#[test]
fn the_committed_image_gives_the_sheet_beside_it() {
    let folder = committed();
    if std::env::var_os("BOARD_WRITE").is_some() && !folder.join("home-pool.bin").exists() {
        fs::write(folder.join("home-pool.bin"), given_away(true).1).expect("written");
    }
    let (code, sheet, said) = dosewarden(&folder, "board", &["home-pool.bin"]);
    assert_eq!(code, Some(1), "a lockout stands: {said}");
    if std::env::var_os("BOARD_WRITE").is_some() {
        fs::write(folder.join("home-pool.txt"), &sheet).expect("written");
    }
    let text = fs::read_to_string(folder.join("home-pool.txt")).expect("committed");
    assert!(
        sheet == text,
        "home-pool.txt is stale; it would be\n{sheet}"
    );
    assert!(sheet.contains("lockouts       emergency stop"), "{sheet}");
}

#[test]
fn an_image_says_what_its_controller_had_and_fits_its_own_site_only() {
    let folder = tempfile::tempdir().expect("a folder");
    let (day, image) = given_away(false);
    fs::write(folder.path().join("a.bin"), &image).expect("written");
    let own = site("home-pool.toml");
    let all = ["a.bin", "--site", &*own, "--json", "a.json"];
    let (code, sheet, said) = dosewarden(folder.path(), "board", &all);
    assert_eq!(code, Some(0), "{sheet}{said}");
    assert!(sheet.contains("Settings: those of"), "{sheet}");
    let text = fs::read_to_string(folder.path().join("a.json")).expect("written");
    let json: serde_json::Value = serde_json::from_str(&text).expect("it is JSON");
    for (feeder, used) in day.iter().enumerate() {
        let found = &json["feeders"][feeder]["day_used"][0];
        assert_eq!(found.as_f64(), Some(*used), "{text}");
    }
    assert!(day[0] > 0.0, "acid was booked: {day:?}");
    let crc = image
        .last_chunk()
        .copied()
        .map(u32::from_le_bytes)
        .expect("its end");
    assert_eq!(json["crc"], format!("{crc:08x}"));
    assert_eq!((&json["change"], &json["version"]), (&1.into(), &1.into()));
    for other in ["community-pool.toml", "salt-pool.toml"] {
        let all = ["a.bin", "--site", &*site(other)];
        let (code, sheet, said) = dosewarden(folder.path(), "board", &all);
        assert_eq!(code, Some(1), "{other}: {said}");
        assert!(sheet.contains("Settings: NOT those of"), "{sheet}");
        let cap = "limits.feeders[0].enabled.bodies[0].day_cap: image 3142977, site ";
        assert!(sheet.contains(cap), "{sheet}");
    }
}

#[test]
fn no_bit_of_an_image_can_flip_and_none_can_be_missing() {
    let (_, image) = given_away(true);
    assert!(BoardSheet::read("whole.bin", &image).is_ok());
    let refused = |bytes: &[u8], what: &str| {
        let error = BoardSheet::read("torn.bin", bytes)
            .expect_err(what)
            .to_string();
        assert!(
            error.starts_with("torn.bin: not the whole image"),
            "{what}: {error}"
        );
    };
    for bit in 0..image.len() * 8 {
        let mut torn = image.clone();
        torn[bit / 8] ^= 1 << (bit % 8);
        refused(&torn, &format!("bit {bit}"));
    }
    for length in 0..image.len() {
        refused(&image[..length], &format!("{length} bytes"));
    }
}

/// Water that wants more acid than a day's cap; a clock, and full caps on the first morning. It ends at `ends`.
fn thirsty(ends: &str) -> String {
    let first = dosewarden_sim::scenario::FIRST_POOL;
    let (site, _) = first.split_once("# --- What happens").expect("events");
    let site = site.replacen("ph = \"pH 7.7\"\n", "ph = \"pH 8.4\"\n", 1);
    let site = site.replacen(
        "# ends_at = \"day 3 12:00\"",
        &format!("ends_at = \"{ends}\" #"),
        1,
    );
    assert!(site.contains("pH 8.4") && site.contains("\nends_at"));
    format!(
        "{site}\n[unit]\npower = \"always\"\nclock = \"fitted\"\n\
         [[event]]\nat = \"day 1 09:00\"\nperson = \"initialise\"\n\
         [[event]]\nat = \"day 1 09:01\"\nperson = \"full_stage\"\n"
    )
}

/// What `run` says, and mL of acid that the plant was given in all.
fn acid_of(folder: &Path, ends: &str, more: &[&str]) -> (String, f64) {
    fs::write(folder.join("pool.toml"), thirsty(ends)).expect("written");
    let all = [&["pool.toml", "--json", "run.json"][..], more].concat();
    let (code, shown, said) = dosewarden(folder, "run", &all);
    assert!(code == Some(0) || code == Some(1), "{said}");
    let text = fs::read_to_string(folder.join("run.json")).expect("written");
    let json: serde_json::Value = serde_json::from_str(&text).expect("it is JSON");
    let days = json["feeders"][0]["days"].as_array().expect("days");
    let oracle = |name: &str| {
        let all = json["oracles"].as_array().expect("oracles");
        let one = all.iter().find(|one| one["name"] == name);
        one.expect(name)["verdict"].clone()
    };
    assert_eq!(oracle("day_total"), "held", "{shown}");
    let fed = days.iter().filter_map(serde_json::Value::as_f64).sum();
    (shown, fed)
}

/// The day's cap of acid in the first pool, mL.
const DAY_CAP: f64 = 900.0;

#[test]
fn a_run_writes_the_image_of_its_board_and_another_begins_on_a_board_that_took_it_up() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path();
    let (_, before) = acid_of(path, "day 1 11:30", &["--board", "a.bin"]);
    assert!(before > DAY_CAP / 3.0 && before < DAY_CAP, "{before} mL");
    let (_, sheet, said) = dosewarden(path, "board", &["a.bin", "--json", "a.json"]);
    assert!(sheet.contains("whole"), "{sheet}{said}");
    let text = fs::read_to_string(path.join("a.json")).expect("written");
    let json: serde_json::Value = serde_json::from_str(&text).expect("it is JSON");
    let used = json["feeders"][0]["day_used"][0].as_f64().expect("acid");
    assert!(
        (used - before).abs() < 70.0 && used >= before,
        "{used} of {before}: a charge may stand open"
    );
    // What was fed before leaves the day at 09:00 at the earliest; the new board's clock begins at midnight.
    let evening = "day 1 20:00";
    let (shown, with) = acid_of(path, evening, &["--take-up", "a.bin", "--away", "1 h"]);
    assert!(
        shown.starts_with("Took up a.bin: the day's total goes on"),
        "{shown}"
    );
    assert!(shown.contains(" --take-up a.bin --away '1 h'\n"), "{shown}");
    assert!(with > 150.0, "it goes on with the rest: {with} mL");
    assert!(before + with <= DAY_CAP, "{before} and {with} mL in a day");
    let (_, anew) = acid_of(path, evening, &[]);
    assert!(
        before + anew > DAY_CAP * 1.3,
        "without the image: {before} and {anew} mL"
    );
    for (more, words) in [
        (
            &["--take-up", "a.bin"][..],
            "the day counts as used: nobody says how long ago",
        ),
        (
            &["--take-up", "a.bin", "--away", "25 h"],
            "the day counts as used: it is more than a day old",
        ),
    ] {
        let (shown, used_up) = acid_of(path, evening, more);
        assert!(shown.contains(words), "{shown}");
        assert_eq!(used_up, 0.0, "{more:?}");
    }
    let (_, later) = acid_of(path, "day 3 20:00", &["--take-up", "a.bin"]);
    assert!(later > 150.0, "and on the days after: {later} mL");
}

#[test]
fn an_image_that_cannot_be_taken_up_or_written_leaves_no_file() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path();
    fs::write(path.join("pool.toml"), thirsty("day 1 00:05")).expect("written");
    let mut image = fs::read(committed().join("home-pool.bin")).expect("committed");
    fs::write(path.join("sound.bin"), &image).expect("written");
    image[300] ^= 1;
    fs::write(path.join("torn.bin"), &image).expect("written");
    let dark = thirsty("day 1 00:05") + "[[event]]\nat = \"day 1 00:01\"\npower_cut = \"1 h\"\n";
    fs::write(path.join("dark.toml"), dark).expect("written");
    let before = names(path);
    for (scenario, more, words) in [
        (
            "pool.toml",
            &["--take-up", "none.bin"][..],
            "none.bin: cannot be read",
        ),
        (
            "pool.toml",
            &["--take-up", "torn.bin"],
            "torn.bin: not the whole image of a board",
        ),
        (
            "pool.toml",
            &["--take-up", "sound.bin", "--away", "soon"],
            "--away is `soon`; write how long ago",
        ),
        (
            "pool.toml",
            &["--take-up", "sound.bin", "--away", "2 mL"],
            "--away is `2 mL`; write how long ago",
        ),
        (
            "pool.toml",
            &["--take-up", "sound.bin"],
            "the unit of this scenario does not take it up",
        ),
        ("pool.toml", &["--away", "2 h"], "--take-up"),
        (
            "pool.toml",
            &["--take-up", "sound.bin", "--board", "sound.bin"],
            "over another file",
        ),
        (
            "pool.toml",
            &["--board", "b.bin", "--canary", "no-guard"],
            "no-guard has none",
        ),
        (
            "dark.toml",
            &["--board", "b.bin"],
            "has to have power at the end of the run",
        ),
    ] {
        let all = [&[scenario, "--json", "a.json"][..], more].concat();
        let (code, shown, said) = dosewarden(path, "run", &all);
        assert_eq!((code, shown.as_str()), (Some(2), ""), "{more:?}: {said}");
        assert!(said.contains(words), "{more:?}: {said}");
        assert_eq!(names(path), before, "{more:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn the_command_refuses_what_was_flipped_and_writes_nothing(flips in prop::collection::hash_set(0_usize..8000, 1..4)) {
        let folder = tempfile::tempdir().expect("a folder");
        let mut image = fs::read(committed().join("home-pool.bin")).expect("committed");
        let bits = image.len() * 8;
        for bit in &flips {
            let bit = bit % bits;
            image[bit / 8] ^= 1 << (bit % 8);
        }
        fs::write(folder.path().join("a.bin"), &image).expect("written");
        let (code, shown, said) = dosewarden(folder.path(), "board", &["a.bin", "--json", "a.json"]);
        prop_assert_eq!(code, Some(2));
        prop_assert!(shown.is_empty() && said.contains("a.bin: not the whole image of a board"), "{}", said);
        prop_assert_eq!(names(folder.path()), ["a.bin"]);
    }
}

/// The image with some bytes changed and its CRC made right again.
fn resealed(image: &[u8], change: impl Fn(&mut [u8])) -> Vec<u8> {
    let mut other = image.to_vec();
    let body = other.len() - 4;
    change(&mut other[..body]);
    let crc = Crc32::of(&other[..body]);
    other[body..].copy_from_slice(&crc.to_le_bytes());
    other
}

#[test]
fn another_version_shape_or_file_is_told_as_what_it_is() {
    let folder = tempfile::tempdir().expect("a folder");
    let image = fs::read(committed().join("home-pool.bin")).expect("committed");
    assert_eq!(
        resealed(&image, |_| ()),
        image,
        "the CRC of this test is the image's"
    );
    for (bytes, words) in [
        (
            resealed(&image, |it| it[4] = 9),
            "a.bin: image of a board of version 9; right is 1",
        ),
        (
            resealed(&image, |it| it[6] = 3),
            "a.bin: of 3 feeders and 1 bodies",
        ),
        (
            resealed(&image, |it| it[7] = 2),
            "a.bin: of 2 feeders and 2 bodies",
        ),
        (resealed(&image, |it| it[8] ^= 1), "a.bin: "),
        (
            HOME_POOL.as_bytes().to_vec(),
            "a.bin: not the whole image of a board",
        ),
        (Vec::new(), "a.bin: not the whole image of a board"),
        (vec![0; 70_000], "a.bin: has 70000 bytes"),
    ] {
        fs::write(folder.path().join("a.bin"), bytes).expect("written");
        let (code, shown, said) =
            dosewarden(folder.path(), "board", &["a.bin", "--json", "a.json"]);
        assert_eq!((code, shown.as_str()), (Some(2), ""), "{said}");
        assert!(said.contains(words), "{said}");
    }
    fs::write(folder.path().join("a.bin"), &image).expect("written");
    for (all, words) in [
        (&["none.bin"][..], "none.bin: cannot be read"),
        (&["a.bin", "--json", "a.bin"], "over another file"),
        (&["a.bin", "--site", "none.toml"], "none.toml"),
    ] {
        let (code, _, said) = dosewarden(folder.path(), "board", all);
        assert_eq!(code, Some(2), "{said}");
        assert!(said.contains(words), "{said}");
    }
    assert_eq!(names(folder.path()), ["a.bin"]);
    assert_eq!(fs::read(folder.path().join("a.bin")).expect("there"), image);
}

//! `dosewarden water`: what it adds to a file of water tests, and that one bad row leaves no file.

use std::fs;
use std::path::Path;
use std::process::Output;

use crate::common::{names, one_error, run};

const HEADER: &str = "temp_c,ta_mg_l,ca_mg_l,tds_mg_l,ph,to_ph,cya_mg_l,borate_mg_l";

fn water(folder: &Path, arguments: &[&str]) -> Output {
    run(folder, &[&["water"], arguments].concat())
}

/// Columns of the rows that a file comes to.
#[track_caller]
fn accepted(text: &str) -> (String, Vec<Vec<String>>) {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("in.csv"), text).expect("written");
    let output = water(folder.path(), &["--batch", "in.csv", "--out", "out.csv"]);
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(0), "{told}");
    assert_eq!(names(folder.path()), ["in.csv", "out.csv"]);
    let out = fs::read_to_string(folder.path().join("out.csv")).expect("written");
    let mut lines = out.lines();
    let header = lines.next().expect("a header").to_owned();
    let rows = lines.map(|line| line.split(',').map(str::to_owned).collect());
    (header, rows.collect())
}

/// The one line on stderr for a file that is refused.
#[track_caller]
fn refused(text: &str) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("in.csv"), text).expect("written");
    let output = water(folder.path(), &["--batch", "in.csv", "--out", "out.csv"]);
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{text}: {told}");
    assert_eq!(names(folder.path()), ["in.csv"], "{text}");
    assert!(output.stdout.is_empty(), "{text}");
    one_error(&told);
    told
}

fn number(text: &str) -> f64 {
    text.parse()
        .unwrap_or_else(|_| panic!("`{text}` is no number"))
}

#[test]
fn what_follows_stands_behind_what_was_given() {
    let (header, rows) = accepted(&format!(
        "{HEADER}\n25,100,300,1000,7.8,7.2,,\n25,100,300,1000,7.2,7.8,0,0\n25,100,300,1000,7.5,,50,50\n"
    ));
    assert_eq!(header, format!("{HEADER},si_calcite,dic_mmol_l,hcl_mmol_l"));
    assert_eq!(rows.len(), 3);
    assert_eq!(rows[0][..8].join(","), "25,100,300,1000,7.8,7.2,,");
    // PHREEQC, 25 C, TA 100, Ca 300, TDS 1000, pH 7.8 (computed), at the bounds of the chemistry.
    assert!((number(&rows[0][8]) - 0.413).abs() < 0.05);
    assert!((number(&rows[0][9]) / 2.033 - 1.0).abs() < 0.01);
    assert!((number(&rows[0][10]) / 0.17795 - 1.0).abs() < 0.03);
    // A base, told as negative acid.
    assert!(number(&rows[1][10]) < -0.1, "{}", rows[1][10]);
    // The same water with cyanurate and borate in its alkalinity (PHREEQC with 3 mg/L of
    // chlorine, computed).
    assert!((number(&rows[2][8]) - 0.0172).abs() < 0.05);
    assert!((number(&rows[2][9]) / 1.660 - 1.0).abs() < 0.02);
    assert_eq!(rows[2][10], "", "no acid without to_ph");
}

#[test]
fn only_the_needed_columns_in_any_order_will_do() {
    let (header, rows) =
        accepted("\u{feff}ph, tds_mg_l ,ca_mg_l,ta_mg_l,temp_c\r\n7.5,1000, 300 ,100,25\r\n");
    assert_eq!(
        header,
        "ph,tds_mg_l,ca_mg_l,ta_mg_l,temp_c,si_calcite,dic_mmol_l,hcl_mmol_l"
    );
    assert!(
        (number(&rows[0][5]) - 0.119).abs() < 0.05,
        "PHREEQC (computed)"
    );
    assert_eq!(rows[0][7], "");
}

#[test]
fn one_bad_row_is_told_by_its_line_and_leaves_no_file() {
    let good = "25,100,300,1000,7.8,7.2,,";
    for (bad, reason) in [
        ("25,100,300,1000,,7.2,,", "ph is empty"),
        (
            "25,100,300,1000,7;8,7.2,,",
            "ph is `7;8`; it has to be a number",
        ),
        ("25,100,300,1000,NaN,7.2,,", "ph is `NaN`"),
        (
            "95,100,300,1000,7.8,7.2,,",
            "temp_c is 95; it has to be 0 to 50",
        ),
        (
            "25,-1,300,1000,7.8,7.2,,",
            "ta_mg_l is -1; it has to be 0 to 1000",
        ),
        (
            "25,100,300,1000,78,7.2,,",
            "ph is 78; it has to be 4 to 10.5",
        ),
        (
            "25,100,300,1000,7.8,72,,",
            "to_ph is 72; it has to be 4 to 10.5",
        ),
        ("25,100,300,1000,7.8,7.2,900,", "cya_mg_l is 900"),
        ("25,100,300,1000,7.8,7.2,,201", "borate_mg_l is 201"),
        (
            "25,20,300,1000,7.8,7.2,100,",
            "cyanurate, borate and chlorine alone have",
        ),
        ("25,100,300,1000,7.8", "5 fields; the header has 8"),
    ] {
        let text = refused(&format!("{HEADER}\n{good}\n{good}\n{bad}\n{good}\n"));
        assert!(text.starts_with("error: in.csv:4: "), "{bad}: {text}");
        assert!(text.contains(reason), "{bad}: {text}");
    }
}

#[test]
fn a_header_that_is_wrong_is_told() {
    for (header, reason) in [
        ("temp_c,ta_mg_l,ca_mg_l,tds_mg_l", "column `ph` is missing"),
        (
            "temp_c;ta_mg_l;ca_mg_l;tds_mg_l;ph",
            "columns are parted by `;`; they have to be parted by commas",
        ),
        (
            "temp_c,ta_mg_l,ca_mg_l,tds_mg_l,ph,colour",
            "column `colour` is not known",
        ),
        (
            "temp_c,ta_mg_l,ca_mg_l,tds_mg_l,ph,ph",
            "column `ph` stands twice",
        ),
        (
            "temp_c,ta_mg_l,ca_mg_l,tds_mg_l,ph,hcl_mmol_l",
            "column `hcl_mmol_l` would be added",
        ),
        ("", "is missing"),
    ] {
        let text = refused(&format!("{header}\n"));
        assert!(
            text.starts_with("error: in.csv:1: ") && text.contains(reason),
            "{text}"
        );
    }
    assert!(refused(&format!("{HEADER}\n")).contains("no row"));
}

#[test]
fn an_output_that_stands_is_left_when_a_row_is_bad() {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(
        folder.path().join("in.csv"),
        format!("{HEADER}\nx,,,,,,,\n"),
    )
    .expect("written");
    fs::write(folder.path().join("out.csv"), "mine").expect("written");
    let output = water(folder.path(), &["--batch", "in.csv", "--out", "out.csv"]);
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(
        fs::read_to_string(folder.path().join("out.csv")).expect("there"),
        "mine"
    );
    let over = water(folder.path(), &["--batch", "in.csv", "--out", "in.csv"]);
    assert_eq!(over.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&over.stderr).contains("name another file"));
    let none = water(folder.path(), &["--batch", "no.csv", "--out", "new.csv"]);
    assert_eq!(none.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&none.stderr).starts_with("error: no.csv: "));
    assert_eq!(names(folder.path()), ["in.csv", "out.csv"]);
}

#[test]
fn the_example_of_the_help_runs() {
    let folder = tempfile::tempdir().expect("a folder");
    let output = water(folder.path(), &["--help"]);
    assert_eq!(output.status.code(), Some(0));
    let help = String::from_utf8_lossy(&output.stdout).into_owned();
    let from = help.find("temp_c,ta_mg_l").expect("an example");
    let rows = help[from..].lines().take_while(|line| !line.contains('$'));
    let text: String = rows.map(|line| format!("{}\n", line.trim())).collect();
    assert!(help.contains("dosewarden water --batch waters.csv --out balance.csv"));
    let (_, rows) = accepted(&text);
    assert_eq!(rows.len(), 2);
}

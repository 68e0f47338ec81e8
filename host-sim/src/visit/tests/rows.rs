//! Rows of a log, right and wrong.

use super::log;

/// Rows that are wrong, and what is said.
const WRONG: [(&str, &str); 16] = [
    (
        "2031-05-02 10:00,test,ph,pH 7.5,",
        "5 fields; the header has 6",
    ),
    (
        "2031-05-02 10:00,test,ph,7.5,,",
        "value `7.5` has no unit; it has to be a pH such as pH 7.2",
    ),
    (
        "2031-05-02 10:00,test,ph,7.5 L,,",
        "is a volume; it has to be a pH",
    ),
    (
        "2031-05-02 10:00,test,ph,pH 75,,",
        "value is `pH 75`; it has to be pH 4 to pH 10.5",
    ),
    (
        "2031-05-02 10:00,test,alkalinty,80 mg/L,,",
        "did you mean `alkalinity`?",
    ),
    (
        "2031-05-02 10:00,tests,ph,pH 7.5,,",
        "what is `tests`; it has to be one of test, shows",
    ),
    (
        "2031-05-02 10:00,test,free_chlorine,9 mg/L,thinned,",
        "it has to be empty or diluted",
    ),
    (
        "2031-05-02 10:00,level,acid,,,",
        "value is empty; it has to be a volume such as 95 m3",
    ),
    (
        "2031-05-02 10:00,catch,acid,26 mL,,",
        "with is empty; it has to be a time",
    ),
    (
        "2031-05-02 10:00,catch,acid,26 mL,10 s,",
        "with is `10 s`; it has to be 30 s to 3600 s",
    ),
    (
        "2031-05-02 10:00,proved,flow switch,ok,,",
        "it has to be passed or failed",
    ),
    (
        "2031-05-02 10:00,new_part,tube of cell,,,",
        "tube of acid, injection valve of acid",
    ),
    (
        "2031-05-02 10:00,bathers,,a lot,,",
        "it has to be a plain number such as 12",
    ),
    (
        "2.5.2031,test,ph,pH 7.5,,",
        "time is `2.5.2031`; write it as 2031-05-02 10:10",
    ),
    (
        "2031-05-01 10:00,test,ph,pH 7.5,,",
        "rows have to be in their order",
    ),
    (
        "2031-05-02 10:00,test,ph,pH 7.5,",
        "5 fields; the header has 6",
    ),
];

#[test]
fn a_row_that_is_wrong_is_told_by_its_line_and_what_would_be_right() {
    let good = "2031-05-02 10:00,test,ph,pH 7.5,,\n";
    for (bad, reason) in WRONG {
        let told = log(&format!("# a remark\n{good}{bad}\n{good}")).expect_err(bad);
        assert!(told.starts_with("log.csv:4:1: "), "{bad}: {told}");
        assert!(told.contains(reason), "{bad}: {told}");
    }
    assert!(
        log("")
            .expect_err("empty")
            .contains("no row under the header")
    );
    let only = "2031-05-02 10:00,remark,,,,\n";
    assert!(log(only).expect_err("a remark alone").contains("no row"));
}

#[test]
fn rows_within_six_hours_are_one_visit() {
    let read = log("2031-05-02 10:00,test,ph,pH 7.5,,\n2031-05-02 15:59,test,ph,pH 7.6,,\n2031-05-02 16:00,test,ph,pH 7.7,,\n").expect("sound");
    let sizes: Vec<usize> = read
        .visits
        .iter()
        .map(|visit| visit.entries.len())
        .collect();
    assert_eq!(sizes, [2, 1]);
    assert_eq!(read.day_in(30.0), "2031-06-01");
}

//! What is refused says the figure and what would be right; what has a name has one of its own.

#![allow(
    clippy::expect_used,
    clippy::unwrap_used,
    clippy::arithmetic_side_effects,
    reason = "a test that panics has failed, as it should"
)]

mod events;
mod probes;
#[cfg(feature = "store")]
mod store;

use std::collections::BTreeSet;
use std::fmt::Display;

use dosewarden::LimitsRefused;
use dosewarden::commission::CommissionError;
use dosewarden::guard::Authority;
use dosewarden::guard::units::{Dose, MilliPh};
use dosewarden::probe::{
    AnchorRefused, CalibrationRefused, CentiCelsius, CheckRefused, ConditionError, Conditioner,
    Finding, MicrogramsPerL, ProbeKind, ProbeRefused, Trim, TrimRefused,
};
use dosewarden::proof::{Interlock, ProofDays, ProofRefused, ProofStep};
use dosewarden::regulate::RegulatorError;
use dosewarden::response::{Check, Estimate, Verdict};
use dosewarden::season::{OpeningNeeds, Owed};
use dosewarden::settings::DrumSettings;
use dosewarden::stages::StageNeeds;
use dosewarden::upkeep::UpkeepRefused;
use dosewarden::visit::{Doubt, DrumBook, Part};
use dosewarden::water_tests::{TestedValue, WaterTests};

#[track_caller]
fn says(what: &dyn Display, parts: &[&str]) {
    let text = what.to_string();
    for part in parts {
        assert!(text.contains(part), "`{text}` does not say `{part}`");
    }
}

/// Words on one line, none twice.
#[track_caller]
fn distinct<'a>(words: impl IntoIterator<Item = &'a str>) {
    let mut seen = BTreeSet::new();
    for word in words {
        assert!(!word.is_empty() && !word.contains('\n'), "`{word}`");
        assert!(seen.insert(word), "`{word}` stands twice");
    }
}

#[test]
fn what_a_person_may_not_do_says_who_may_or_what_comes_first() {
    let by = Authority::Technician;
    let who = "needs the authority of Technician";
    says(&ProofRefused::NeedsAuthority(by), &[who]);
    says(&UpkeepRefused::NeedsAuthority(by), &[who]);
    says(&LimitsRefused::NeedsAuthority(by), &[who]);
    says(&ProbeRefused::<TrimRefused>::NeedsAuthority(by), &[who]);
    says(
        &ProbeRefused::Because(TrimRefused::ProbeNotTrusted),
        &["be calibrated"],
    );
    says(
        &LimitsRefused::Confirm(0xC0DE),
        &["confirm it with 0000c0de"],
    );
    says(
        &LimitsRefused::ClosingFirst,
        &["a cycle is being closed first"],
    );
    says(
        &ProofRefused::NotFitted(Interlock::FlowMeter),
        &["has no flow meter"],
    );
    says(
        &ProofRefused::UnderWay(Interlock::FlowSwitch),
        &["flow switch is being tested"],
    );
    says(&ProofRefused::NoTest, &["no proof test"]);
    says(
        &ProofRefused::WaitsFor(ProofStep::Trip),
        &["waits for something else: Trip"],
    );
    says(&ProofDays(367), &["every_days is 367", "1 to 366"]);
    says(
        &UpkeepRefused::NotOut(ProbeKind::Ph),
        &["pH probe is taken out of the water"],
    );
    says(
        &UpkeepRefused::OtherIsOut(ProbeKind::Orp),
        &["put the ORP probe back"],
    );
}

#[test]
fn upkeep_passes_on_the_reason_of_what_refused() {
    let slope = CalibrationRefused::Slope { ppm: 840_000 };
    let check = CheckRefused::Temperature(CentiCelsius::from_whole(41));
    let anchor = AnchorRefused::Ph(MilliPh(7100));
    let mut tests = WaterTests::NONE;
    let most = TestedValue::Borate.most();
    let range = tests.enter(TestedValue::Borate, MicrogramsPerL(most.0 + 1));
    let range = range.expect_err("one over the most");
    for (refused, reason) in [
        (UpkeepRefused::Calibration(slope), slope.to_string()),
        (UpkeepRefused::Check(check), check.to_string()),
        (
            UpkeepRefused::Trim(TrimRefused::ChlorineUnknown),
            TrimRefused::ChlorineUnknown.to_string(),
        ),
        (UpkeepRefused::Anchor(anchor), anchor.to_string()),
        (UpkeepRefused::TestRange(range), range.to_string()),
    ] {
        assert_eq!(refused.to_string(), reason);
    }
    says(&range, &[&format!("right is up to {most}")]);
}

#[test]
fn a_figure_that_makes_no_sense_is_named_with_its_range() {
    let range = RegulatorError::Range {
        field: "period",
        value: -3,
        min: 1,
        max: 60,
    };
    says(&range, &["period is -3", "1 to 60"]);
    let (start, stop) = (7400, 7500);
    says(
        &RegulatorError::BandReversed { start, stop },
        &["7400", "7500", "wrong side"],
    );
    let short = RegulatorError::PeriodTooShort {
        period_ms: 999,
        at_least_ms: 1000,
    };
    says(&short, &["period is 999 ms", "at least 1000 ms"]);
    let condition = ConditionError {
        field: "jump",
        value: 0,
        min: 1,
        max: 500,
    };
    says(&condition, &["jump is 0", "1 to 500"]);
    for (error, part) in [
        (CommissionError::Nothing, "is 0"),
        (CommissionError::Shape, "not smaller than its basin"),
        (CommissionError::TooLarge, "10,000 m3"),
        (CommissionError::TooShort, "30 s"),
        (CommissionError::TooFast, "1,000 L/h"),
        (CommissionError::NoRoom, "no acid fits"),
    ] {
        says(&error, &[part]);
    }
}

#[cfg(feature = "water")]
#[test]
fn a_water_that_cannot_be_is_named_by_what_is_wrong_with_it() {
    use dosewarden::commission::AcidPlanError;
    use dosewarden::water::WaterError;
    for (error, part) in [
        (WaterError::Temperature, "0 to 45 C"),
        (WaterError::Alkalinity, "alkalinity is over 500 mg/L"),
        (WaterError::Calcium, "calcium is over 2000 mg/L"),
        (WaterError::Solids, "over 10,000 mg/L"),
        (WaterError::Ph, "6.0 to 9.0"),
        (WaterError::CyanuricAcid, "cyanuric acid is over 300 mg/L"),
        (WaterError::Borate, "borate is over 100 mg/L"),
        (WaterError::Chlorine, "free chlorine is over 20 mg/L"),
        (WaterError::NoCarbonate, "more alkalinity than was measured"),
    ] {
        says(&error, &[part]);
        assert_eq!(AcidPlanError::Water(error).to_string(), error.to_string());
    }
    let room = AcidPlanError::Commission(CommissionError::NoRoom);
    says(&room, &["no acid fits"]);
}

#[test]
fn what_is_missing_is_named_all_at_once() {
    says(&StageNeeds::NOTHING, &["missing for this stage: nothing"]);
    let mut needs = StageNeeds {
        reduced_first: true,
        hours: 7,
        catch_tests: 0b10,
        proofs_unknown: true,
        kit_test: true,
        response: 0b1,
        ..StageNeeds::NOTHING
    };
    needs.proofs = needs
        .proofs
        .with(Interlock::FlowSwitch)
        .with(Interlock::Feedback(1));
    says(
        &needs,
        &[
            "missing for this stage: the reduced stage, 7 more hours",
            ", a catch test of feeder 1,",
            ", proof tests, of which nothing is known,",
            ", a proof test of the flow switch,",
            ", a proof test of the drive feedback of feeder 1,",
            ", a kit's test of pH that agrees, a sound answer to feeder 0",
        ],
    );
    let mut owed = Owed {
        slope: true,
        drums: 0b1,
        ..Owed::NOTHING
    };
    for value in TestedValue::ALL {
        owed.tests = owed.tests.with(value);
    }
    let opening = OpeningNeeds {
        owed,
        proofs_unknown: true,
        proofs: needs.proofs,
    };
    says(
        &opening,
        &[
            " a test of alkalinity,",
            " a test of cyanuric acid,",
            " a test of salt,",
            " a test of borate,",
            " the slope of the pH probe",
            " in the drum of feeder 0,",
            " proof tests, of which nothing is known,",
            " a proof test of the flow switch,",
            " a proof test of the drive feedback of feeder 1,",
        ],
    );
}

#[test]
fn words_and_names_are_told_apart() {
    distinct(Finding::ALL.map(Finding::words));
    says(&Finding::Flat, &[Finding::Flat.words()]);
    let interlocks = [
        Interlock::FlowSwitch,
        Interlock::FlowMeter,
        Interlock::PumpContact,
        Interlock::EmergencyStop,
        Interlock::MasterContact,
        Interlock::LevelSwitch(0),
        Interlock::Feedback(0),
        Interlock::CellFlow(0),
    ];
    distinct(interlocks.map(Interlock::name));
    distinct(interlocks.map(Interlock::step));
    for one in interlocks {
        assert_ne!(one.prepare(), one.step());
    }
    let checks = [
        Check::CatchTest,
        Check::Drum,
        Check::Tube,
        Check::AlkalinityTest,
        Check::Probe,
    ];
    distinct(checks.map(Check::words));
    // What feeds too little is looked for at the pump first, what feeds too much by its rate.
    for (verdict, first) in [
        (Verdict::Low, Check::CatchTest),
        (Verdict::High, Check::CatchTest),
        (Verdict::FarTooMuch, Check::CatchTest),
        (Verdict::NoAnswer, Check::Drum),
        (Verdict::WrongWay, Check::Drum),
    ] {
        assert_eq!(verdict.checks().first(), Some(&first), "{verdict:?}");
        distinct(verdict.checks().iter().map(|check| check.words()));
    }
    for verdict in [Verdict::Learning, Verdict::AsConfigured, Verdict::Unproven] {
        assert!(verdict.checks().is_empty() && !verdict.is_wrong());
    }
    distinct(
        [
            Part::Tube,
            Part::InjectionValve,
            Part::PhProbe,
            Part::OrpProbe,
            Part::Cell,
        ]
        .map(Part::name),
    );
    let doubts = [
        Doubt::ChlorineBleached,
        Doubt::ChlorineOverScale,
        Doubt::PhDyeMisreads,
        Doubt::PhOffKitScale,
        Doubt::TotalUnderFree,
        Doubt::OrpTooLow,
        Doubt::DrumRose,
        Doubt::DrumOverSize,
        Doubt::DrumFellUnfed,
        Doubt::DrumStoodFed,
        Doubt::AlkalinityRose,
        Doubt::LedgerFell,
    ];
    distinct(doubts.map(Doubt::name));
    distinct(doubts.map(Doubt::ask));
}

#[test]
fn what_a_part_lasts_is_by_its_hours_only_where_hours_wear_it() {
    assert_eq!(Part::InjectionValve.usual().hours, None);
    assert_eq!(Part::Cell.usual().hours, Some(10_000));
    let days = |part: Part| part.usual().days;
    assert!(days(Part::Cell) > days(Part::PhProbe) && days(Part::PhProbe) > days(Part::Tube));
}

#[test]
fn a_drum_of_a_visit_is_low_by_amount_or_by_days() {
    let drum = DrumSettings {
        size: Dose::from_ml(20_000),
        low: Dose::from_ml(2000),
        low_days: 3,
    };
    let mut book = DrumBook::NEW;
    book.filled(Dose::from_ml(6000));
    assert!(!book.is_low(&drum, Dose::from_ml(1000)));
    assert!(book.is_low(&drum, Dose::from_ml(3000)), "two days are left");
    book.feed(Dose::from_ml(4001));
    assert!(book.is_low(&drum, Dose(0)));
}

#[test]
fn what_stands_for_nothing_yet_is_what_a_new_unit_begins_with() {
    assert_eq!(Conditioner::default(), Conditioner::NEW);
    assert_eq!(Trim::default(), Trim::NONE);
    assert_eq!(Estimate::default(), Estimate::UNKNOWN);
    assert_eq!(WaterTests::default(), WaterTests::NONE);
    // What is overdue is told one by one: nothing that nobody ever tested.
    let mut tests = WaterTests::NONE;
    assert!(
        TestedValue::ALL
            .iter()
            .all(|value| !tests.all_overdue(TestedValue::usual).has(*value))
    );
    for value in [TestedValue::Alkalinity, TestedValue::Salt] {
        tests.enter(value, MicrogramsPerL::from_mg_l(80)).unwrap();
    }
    tests.pass_off(Some(31 * 24));
    let overdue = tests.all_overdue(TestedValue::usual);
    assert!(overdue.has(TestedValue::Alkalinity) && overdue.has(TestedValue::Salt));
    assert!(!overdue.has(TestedValue::Cyanurate) && !overdue.has(TestedValue::Borate));
}

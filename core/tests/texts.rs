//! What is refused says the figure and what would be right; what has a name has one of its own.

#![allow(
    clippy::expect_used,
    clippy::unwrap_used,
    reason = "a test that panics has failed, as it should"
)]

use std::collections::BTreeSet;
use std::fmt::Display;

use dosewarden::LimitsRefused;
use dosewarden::commission::CommissionError;
use dosewarden::guard::Authority;
use dosewarden::guard::units::{MilliPh, Millivolts};
use dosewarden::probe::{
    AnchorRefused, Buffer, CalibrationRefused, CentiCelsius, CheckRefused, ConditionError, Finding,
    MicrogramsPerL, Microvolts, ProbeKind, ProbeRefused, Settling, TrimRefused,
};
use dosewarden::proof::{Interlock, ProofDays, ProofRefused, ProofStep};
use dosewarden::regulate::RegulatorError;
use dosewarden::response::{Check, Verdict};
use dosewarden::season::{OpeningNeeds, Owed};
use dosewarden::stages::StageNeeds;
use dosewarden::upkeep::UpkeepRefused;
use dosewarden::visit::{Doubt, Part};
use dosewarden::water_tests::TestedValue;

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

fn buffers() -> [Buffer; 7] {
    [
        Buffer::Phthalate401,
        Buffer::Phosphate686,
        Buffer::Tetraborate918,
        Buffer::Carbonate1002,
        Buffer::Technical400,
        Buffer::Technical700,
        Buffer::Technical1001,
    ]
}

#[test]
fn a_buffer_is_named_by_the_ph_that_it_has_at_25_degrees() {
    for buffer in buffers() {
        let ph = buffer
            .ph(CentiCelsius::from_whole(25))
            .expect("in its table");
        let hundredths = (ph.0 + 5) / 10;
        let named = format!("buffer {}.{:02} (", hundredths / 100, hundredths % 100);
        says(&buffer, &[&named]);
    }
}

#[test]
fn a_refused_calibration_says_what_the_probe_reads() {
    let not_still = Settling::NEW.stable().expect_err("nothing was read");
    says(&not_still, &["60 s more", "500 uV"]);
    says(&CalibrationRefused::NotStill(not_still), &["60 s more"]);
    let temperature = CentiCelsius::from_whole(44);
    let buffer = Buffer::Technical400;
    let warm = CalibrationRefused::Temperature {
        buffer,
        temperature,
    };
    says(&warm, &["buffer 4.00", "5 to 40 C", "at 44 C"]);
    let other = |looks_like| CalibrationRefused::NotThisBuffer {
        named: Buffer::Technical700,
        reads: Microvolts(171_000),
        looks_like,
    };
    says(
        &other(Some(buffer)),
        &["171 mV", "buffer 7.00", "like buffer 4.00", "swapped"],
    );
    says(
        &other(None),
        &["171 mV", "buffer 7.00", "is the probe in it"],
    );
    let apart = MilliPh(20);
    says(
        &CalibrationRefused::TooClose { apart },
        &["20 thousandths", "2000 and more"],
    );
    says(
        &CalibrationRefused::Slope { ppm: 840_000 },
        &["84 %", "85 to 105"],
    );
    let at_seven = Microvolts(-31_000);
    says(
        &CalibrationRefused::Offset { at_seven },
        &["-31 mV", "-30 to 30"],
    );
}

#[test]
fn a_refused_check_trim_or_anchor_says_what_was_found() {
    says(
        &CheckRefused::Temperature(CentiCelsius::from_whole(41)),
        &["not known at 41 C"],
    );
    let (reads, expected) = (Millivolts(301), Millivolts(229));
    let other = CheckRefused::NotThisSolution { reads, expected };
    says(&other, &["301 mV is no reading", "gives 229 mV"]);
    let not_still = Settling::NEW_ORP.stable().expect_err("nothing was read");
    says(&CheckRefused::NotStill(not_still), &["3000 uV"]);

    says(&TrimRefused::ProbeNotTrusted, &["work and be calibrated"]);
    says(
        &TrimRefused::ChlorineUnknown,
        &["test free chlorine", "5 mg/L"],
    );
    let chlorine = MicrogramsPerL(6_250);
    says(
        &TrimRefused::ChlorineTooHigh(chlorine),
        &["6.3 mg/L", "over 5.0 mg/L"],
    );
    says(
        &TrimRefused::OffKitScale(MilliPh(8200)),
        &["end of its scale"],
    );
    let total = MilliPh(210);
    says(
        &TrimRefused::TooFar { total },
        &["210 thousandths", "at most 200"],
    );

    let orp = Millivolts(755);
    says(
        &AnchorRefused::ProbeNotTrusted,
        &["ORP probe", "in order first"],
    );
    let bleached = AnchorRefused::MayBeBleached {
        chlorine: MicrogramsPerL(200),
        orp,
    };
    says(&bleached, &["0.2 mg/L", "755 mV", "diluted"]);
    says(
        &AnchorRefused::OverScale(MicrogramsPerL(5000)),
        &["5.0 mg/L", "diluted"],
    );
    let (found, wanted) = (MicrogramsPerL(3400), MicrogramsPerL(2000));
    says(
        &AnchorRefused::NotWanted { found, wanted },
        &["is 3.4 mg/L", "2.0 mg/L is wanted"],
    );
    says(
        &AnchorRefused::Ph(MilliPh(7100)),
        &["7100 thousandths", "7200 to 7800"],
    );
    says(
        &AnchorRefused::ProbeReadsLow(Millivolts(480)),
        &["480 mV", "clean it"],
    );
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
    let mut tests = dosewarden::water_tests::WaterTests::NONE;
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
    assert!(Verdict::Learning.checks().is_empty() && Verdict::AsConfigured.checks().is_empty());
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

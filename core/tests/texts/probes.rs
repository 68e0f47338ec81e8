//! What is said of probes.

use dosewarden::guard::units::{MilliPh, Millivolts};
use dosewarden::probe::{
    AnchorRefused, Buffer, CalibrationRefused, CentiCelsius, CheckRefused, MicrogramsPerL,
    Microvolts, ReferenceElectrode, Settling, Solution, TrimRefused,
};

use super::says;

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
fn a_solution_has_the_potential_of_its_bottle_or_of_its_electrode() {
    let at = CentiCelsius::from_whole(25);
    let bottle = Solution::Bottle(Millivolts(468));
    for electrode in [
        ReferenceElectrode::SilverSaturated,
        ReferenceElectrode::Silver3M5,
    ] {
        assert_eq!(bottle.expected(electrode, at), Some(Millivolts(468)));
    }
    // By the difference of the two electrodes in ZoBell's solution at 25 C.
    let differ = |solution: Solution| {
        let one = solution
            .expected(ReferenceElectrode::SilverSaturated, at)
            .unwrap();
        one.0
            - solution
                .expected(ReferenceElectrode::Silver3M5, at)
                .unwrap()
                .0
    };
    assert_eq!(differ(Solution::Light), differ(Solution::Zobell));
}

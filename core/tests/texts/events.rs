//! Numbers of events stay.

use dosewarden::event::EventKind;
use dosewarden::guard::Authority;
use dosewarden::guard::units::Dose;
use dosewarden::proof::{Interlock, ProofEnd};
use dosewarden::response::Verdict;
use dosewarden::stock::DrumVerdict;
use dosewarden::upkeep::UpkeepKind;

#[test]
fn events_that_seldom_come_keep_their_numbers() {
    let (by, feeder, done, now) = (Authority::Technician, 0, true, true);
    let (dose, real, booked) = (Dose(30), Dose(20), Dose(10));
    let kinds = [
        EventKind::Reconciled {
            feeder,
            real,
            booked,
        },
        EventKind::SaveBegunAnew,
        EventKind::LimitsSet,
        EventKind::Upkeep {
            by,
            act: UpkeepKind::Trim,
            done,
            figure: 120,
        },
        EventKind::HandDose { feeder, dose },
        EventKind::PauseEnded,
        EventKind::Answers {
            feeder,
            verdict: Verdict::Low,
            ratio_milli: 480,
        },
        EventKind::Observing { now },
        EventKind::WouldFeed { feeder, dose },
        EventKind::Proof {
            by,
            interlock: None,
            done,
        },
        EventKind::ProofEnded {
            interlock: Interlock::FlowSwitch,
            end: ProofEnd::NoSign,
        },
        EventKind::LimitsChange {
            by,
            loosens: true,
            done,
        },
        EventKind::TooCold { now },
        EventKind::KeptLost,
        EventKind::DrumSays {
            feeder,
            verdict: DrumVerdict::Low,
        },
        EventKind::TemperatureLost { now },
        EventKind::BoardImport {
            by,
            number: 1,
            day_used: true,
            done,
        },
    ];
    for (number, kind) in (9..).zip(kinds) {
        assert_eq!(kind.number(), number, "{kind:?}");
    }
}

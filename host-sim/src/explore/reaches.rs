//! What a closed part has to reach.

use dosewarden::guard::{Lockout, Rule};

/// Rules that refuse alone in a part, and lockouts that are entered and released in it.
///
/// Five rules never refuse alone anywhere, each for what the guard does beside it in the same tick:
/// `clock_sane` and `witnesses_agree` (flow is not proven then), `state_sealed` and `ledger_trusted` (a
/// lockout stands), `probe_trusted` (`inside_cutoff` needs the same reading).
pub(super) fn reaches(part: &str) -> (&'static [Rule], &'static [Lockout]) {
    use Lockout as L;
    use Rule as R;
    match part {
        "x1-automatic" => (
            &[R::PowerOnDelay, R::HourCap, R::DayCap, R::ChargeDurable],
            &[L::RecordLost, L::Line],
        ),
        "x1-person" => (
            &[
                R::PowerOnDelay,
                R::SpreadHold,
                R::HourCap,
                R::DayCap,
                R::NoLockout,
            ],
            &[L::RecordLost, L::PowerLoss],
        ),
        "x2" => (
            &[R::OneAtATime, R::LineClear, R::SpreadHold, R::DriveObeys],
            &[L::Line, L::Drive, L::RunTime],
        ),
        "x3-persons" => (
            &[
                R::LimitsSealed,
                R::FlowProven,
                R::ProbeSettled,
                R::InsideCutoff,
                R::SpreadHold,
                R::StockPresent,
                R::NoLockout,
                R::InhibitsClear,
                R::WindowOpen,
                R::ManualBounded,
                R::FallbackBounded,
            ],
            &[L::LimitsSeal, L::Witnesses, L::EmergencyStop, L::Probe],
        ),
        "x3-bodies" => (
            &[R::BodyKnown, R::RunTimeCap, R::DriveObeys],
            &[L::StateSeal, L::Line, L::Drive, L::RunTime],
        ),
        _ => (
            &[R::InsideCutoff, R::CycleCap, R::ResponseSane, R::SpreadHold],
            &[L::Probe, L::Response],
        ),
    }
}

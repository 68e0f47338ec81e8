//! Every entry point of what persons do and find out: stages, proof tests, upkeep, the water's answers,
//! changed limits; and what is kept of it and of the settings, with its codecs.
#![no_std]
#![no_main]

use dosewarden::day_log::{Limit, TestsDue, Watch};
use dosewarden::guard::units::ClockSeconds;
use dosewarden::guard::{Authority, Limits};
use dosewarden::proof::{Interlock, InterlockSet, Proof, ProofSettings, ProofTests, Proofs};
use dosewarden::regulate::Standard;
use dosewarden::response::Estimate;
use dosewarden::season::Owed;
use dosewarden::store::{
    Arrival, BoardError, BoardImage, Ceilings, Holding, ImageError, KeptError, KeptRecord, Loaded,
    RegulatorSpec, SettingsImage,
};
use dosewarden::upkeep::{Upkeep, UpkeepAct};
use dosewarden::water_tests::{TestRule, TestedValue, WaterTest, WaterTests};
use dosewarden::{CareSettings, Controller};
use no_panic::{keep, keep_what_panics};

type Pool = Controller<2, 2, 7, 25, Standard>;
type Kept = KeptRecord<2>;
type Image = SettingsImage<2, 2>;
type Board = BoardImage<2, 2, 7, 25>;
type Brought = Arrival<2, 2, 7, 25>;

// Iterators do their work only when they are walked.
fn interlocks(set: InterlockSet, seen: &mut dyn FnMut(Interlock)) {
    set.iter().for_each(seen);
}

fn to_start(read: Result<Kept, KeptError>, is_new: bool) -> Kept {
    Kept::to_start(read, is_new)
}

// With names of their own: a method that borrows for any lifetime has no address.
fn decode_kept(bytes: &[u8]) -> Result<Kept, KeptError> {
    Kept::decode(bytes)
}

fn decode_image(bytes: &[u8]) -> Result<(Image, u16), ImageError> {
    Image::decode(bytes)
}

fn decode_board(bytes: &[u8]) -> Result<Board, BoardError> {
    Board::decode(bytes)
}

fn take_up(
    board: Board,
    by: Authority,
    ceilings: &Ceilings<2>,
    now: Option<ClockSeconds>,
    holds: Holding<'_, 2, 2, 7, 25>,
) -> Result<Brought, BoardError> {
    board.take_up(by, ceilings, now, holds)
}

fn is_written(loaded: &Loaded<2, 2, 7, 25>) -> bool {
    !matches!(loaded.later(), Ok(None))
}

fn acts() {
    keep!(
        Pool::set_care,
        Pool::rung,
        Pool::evidence,
        Pool::prove,
        Pool::watch_proof,
        Pool::change_limits,
        Pool::upkeep,
        Pool::response,
        Pool::set_response,
        Pool::forget_response,
        Pool::drum_verdict,
        Pool::set_drum_verdict,
        Pool::found_under,
        Pool::is_too_cold,
        Pool::set_too_cold,
        Pool::is_kept_lost,
        Pool::tell_kept_lost,
        Pool::handover,
        Pool::set_handover,
        Pool::opening,
        Pool::set_opening,
        Owed::of::<2, 2>,
        Pool::regulators,
        Pool::restraints,
        Pool::set_restraints,
        Limits::<2, 2>::try_new,
        CareSettings::try_new,
        UpkeepAct::kind,
        UpkeepAct::authority,
    );
}

fn proofs() {
    keep!(
        ProofTests::<2>::restore,
        ProofTests::<2>::proofs,
        ProofTests::<2>::run,
        ProofTests::<2>::tell::<2>,
        ProofSettings::try_new,
        ProofSettings::of_site::<2, 2>,
        Proofs::<2>::of,
        Proofs::<2>::pass,
        Proofs::<2>::pass_off,
        Proofs::<2>::due::<2>,
        Proofs::<2>::failed::<2>,
        Proof::age_hours,
        Proof::took_ms,
        Proof::is_due,
        Interlock::number,
        Interlock::name,
        Interlock::prepare,
        Interlock::step,
        InterlockSet::with,
        InterlockSet::has,
        InterlockSet::without_feed,
        interlocks,
    );
}

fn upkeep() {
    keep!(
        Upkeep::restore,
        Upkeep::kept,
        Upkeep::pass_off,
        Upkeep::tick,
        Upkeep::anchor_due,
        Upkeep::ph,
        Upkeep::orp,
        WaterTests::enter,
        WaterTests::of,
        WaterTests::pass,
        WaterTests::pass_off,
        WaterTest::expected_now,
        WaterTest::lowest_before_next,
        WaterTest::due_in_days,
        TestRule::try_new,
        Limit::judge,
        TestsDue::opening,
        TestsDue::counts,
        TestsDue::step,
        Watch::step,
        TestedValue::usual,
        Estimate::ratio_milli,
        Estimate::deviation_milli,
        Estimate::learned_milli,
        Estimate::verdict,
    );
}

fn kept() {
    keep!(
        Kept::of::<2, 7, 25, Standard>,
        Kept::put_back::<2, 7, 25, Standard>,
        Kept::is_due,
        to_start,
        Kept::encode,
        decode_kept,
        Image::encode,
        decode_image,
        RegulatorSpec::build,
    );
}

fn board() {
    keep!(
        Board::export::<Standard>,
        Board::encode,
        decode_board,
        take_up,
        is_written,
        Ceilings::<2>::of::<2>,
        Ceilings::<2>::hold::<2>,
        Brought::between,
        Brought::note::<Standard>,
        Pool::note_board_refused,
    );
}

/// Where the program begins; it is linked and never run.
// SAFETY: no other object of the program holds this name.
#[unsafe(no_mangle)]
pub extern "C" fn start() {
    keep_what_panics();
    acts();
    proofs();
    upkeep();
    kept();
    board();
}

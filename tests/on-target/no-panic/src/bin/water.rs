//! Every entry point of the water's chemistry.
#![no_std]
#![no_main]

use dosewarden::water::{Balance, WaterTest, hypochlorite_ul_per_m3_floor};
use no_panic::{keep, keep_what_panics};

/// Where the program begins; it is linked and never run.
// SAFETY: no other object of the program holds this name.
#[unsafe(no_mangle)]
pub extern "C" fn start() {
    keep_what_panics();
    keep!(
        WaterTest::of,
        Balance::try_new,
        Balance::acid_nmol_per_l,
        Balance::acid_ul_per_m3_floor,
        Balance::ph_after_acid,
        Balance::hypochlorous_ng_l,
        Balance::hypochlorous_permille,
        hypochlorite_ul_per_m3_floor,
    );
}

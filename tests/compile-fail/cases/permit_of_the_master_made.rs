//! The permit of the series contact cannot be made either.

use dosewarden_guard::MasterPermit;

fn main() {
    let _permit = MasterPermit {
        run: dosewarden_guard::units::Millis(1000),
        guard: core::marker::PhantomData,
    };
}

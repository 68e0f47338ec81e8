//! A dose is not a time.

use dosewarden_guard::units::{Dose, Millis, Rate};

fn main() {
    let rate = Rate::from_ml_per_min(30);
    let _dose: Dose = rate.dose_ceil(Dose(1000));
    let _run: Millis = Dose(1000);
}

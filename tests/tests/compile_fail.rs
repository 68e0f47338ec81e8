//! What must not compile: a permit is made by the guard only, once, for one feeder, until the next
//! judgement; units do not mix; time is not made by hand.

#[test]
fn permits_units_and_time_cannot_be_forged() {
    let tests = trybuild::TestCases::new();
    tests.pass("compile-fail/good.rs");
    tests.compile_fail("compile-fail/permit_*.rs");
    tests.compile_fail("compile-fail/guard_*.rs");
    tests.compile_fail("compile-fail/units_*.rs");
    tests.compile_fail("compile-fail/elapsed_*.rs");
}

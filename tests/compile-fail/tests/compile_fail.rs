//! What must not compile: a permit is made by the guard only, once, for one feeder, until the next
//! judgement; units do not mix; time is not made by hand.

#[test]
fn permits_units_and_time_cannot_be_forged() {
    let tests = trybuild::TestCases::new();
    tests.pass("cases/good.rs");
    tests.compile_fail("cases/permit_*.rs");
    tests.compile_fail("cases/guard_*.rs");
    tests.compile_fail("cases/units_*.rs");
    tests.compile_fail("cases/elapsed_*.rs");
}

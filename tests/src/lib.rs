//! Tests that span the crates live in this package's own `tests/` targets. What several of them
//! need to read the project's own sources is here.

pub mod sources;

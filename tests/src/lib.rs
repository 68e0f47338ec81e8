//! Tests that span the crates live in this package's own `tests/` targets.

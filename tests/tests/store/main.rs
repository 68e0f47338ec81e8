//! The simulated unit keeps a record, and what persons did, in two copies: how often, and through what. The stores' own tests
//! stand in `core/tests/store`.

mod kept_unit;
mod saves;

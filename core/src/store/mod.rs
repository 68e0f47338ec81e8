//! Records and settings on NOR flash (feature `store`).

mod error;
mod flash;
mod log;
mod records;
mod survey;

pub use error::{Damage, Found, StoreError};
pub use records::{Loaded, Progress, RecordStore};

//! Guard.
#![no_std]
#![forbid(unsafe_code)]

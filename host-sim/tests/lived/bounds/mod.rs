//! Bounds of campaigns: every entry is needed by a campaign of `campaign-tables`, by a day that one drew once, or by a
//! trial that is named here; and some pairs of faults are tried by name, whatever the seed of a campaign draws.

mod days;
mod named;
mod needed;
mod told;
mod trials;

//! Chemistry of the water against PHREEQC and published values: `dosewarden_sim::water` and what a device has of
//! it, `dosewarden::water`.

mod data;
mod device;
mod errors;
mod products;
mod published;
mod table;
mod trade;

//! The stores against flash that tears, rots and wears: every cut of every write and erase, rot at
//! every byte, worn pages, any bytes at all.

mod board;
mod cuts;
mod flash;
mod image_site;
mod kept;
mod kept_loop;
mod kept_record;
mod kept_unit;
mod life;
mod refused;
mod rig;
mod rot;
mod script;
mod sealed;
mod settings;
mod small_site;
mod stall;
mod wear;

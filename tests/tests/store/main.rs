//! The stores against flash that tears, rots and wears: every cut of every write and erase, rot at
//! every byte, worn pages, any bytes at all.

mod cuts;
mod flash;
mod life;
mod rig;
mod rot;
mod script;
mod small_site;

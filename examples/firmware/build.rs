//! Puts the board's linker scripts where the linker looks for them, and names them to it. Shared as a
//! file.

use std::path::{Path, PathBuf};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let out = PathBuf::from(std::env::var("OUT_DIR")?);
    for script in ["memory.x", "device.x"] {
        if Path::new(script).exists() {
            std::fs::copy(script, out.join(script))?;
            println!("cargo:rerun-if-changed={script}");
        }
    }
    println!("cargo:rustc-link-search={}", out.display());
    if std::env::var("CARGO_CFG_TARGET_ARCH")?.starts_with("riscv") {
        // The script of `riscv-rt` does not take it in by itself.
        println!("cargo:rustc-link-arg-bins=-Tmemory.x");
    }
    for script in ["link.x", "defmt.x"] {
        println!("cargo:rustc-link-arg-bins=-T{script}");
    }
    println!("cargo:rerun-if-changed=../build.rs");
    Ok(())
}

//! Puts the board's linker scripts where the linker looks for them. Shared as a file.

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
    Ok(())
}

//! Where flash and RAM of each emulated board lie, by the target that is built for.

use std::path::PathBuf;
use std::{env, fs};

/// As QEMU's machines have them. `virt` has no flash: the program lies in RAM.
fn memory(target: &str) -> Option<&'static str> {
    Some(match target {
        // microbit, with the 32 KiB of RAM that the larger of its chips has (the script says so)
        "thumbv6m-none-eabi" => {
            "FLASH : ORIGIN = 0x00000000, LENGTH = 256K\nRAM : ORIGIN = 0x20000000, LENGTH = 32K\n"
        }
        // lm3s6965evb
        "thumbv7m-none-eabi" => {
            "FLASH : ORIGIN = 0x00000000, LENGTH = 256K\nRAM : ORIGIN = 0x20000000, LENGTH = 64K\n"
        }
        // mps2-an386
        "thumbv7em-none-eabihf" => {
            "FLASH : ORIGIN = 0x00000000, LENGTH = 4M\nRAM : ORIGIN = 0x20000000, LENGTH = 4M\n"
        }
        // virt
        "riscv32imac-unknown-none-elf" => {
            "FLASH : ORIGIN = 0x80000000, LENGTH = 4M\nRAM : ORIGIN = 0x80400000, LENGTH = 4M\n"
        }
        _ => return None,
    })
}

const ALIASES: &str = r#"
REGION_ALIAS("REGION_TEXT", FLASH);
REGION_ALIAS("REGION_RODATA", FLASH);
REGION_ALIAS("REGION_DATA", RAM);
REGION_ALIAS("REGION_BSS", RAM);
REGION_ALIAS("REGION_HEAP", RAM);
REGION_ALIAS("REGION_STACK", RAM);
"#;

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    let target = env::var("TARGET").unwrap_or_default();
    let Some(memory) = memory(&target) else {
        // A host, as for lints: nothing is linked.
        return;
    };
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets OUT_DIR"));
    let risc_v = target.starts_with("riscv");
    let aliases = if risc_v { ALIASES } else { "" };
    let text = format!("MEMORY\n{{\n{memory}}}\n{aliases}");
    fs::write(out.join("memory.x"), text).expect("OUT_DIR can be written to");
    println!("cargo:rustc-link-search={}", out.display());
    if risc_v {
        println!("cargo:rustc-link-arg-bins=-Tmemory.x");
    }
    println!("cargo:rustc-link-arg-bins=-Tlink.x");
}

//! Links the programs bare: no start-up code, so that what is left is the core crates' own.

fn main() {
    println!("cargo:rerun-if-changed=build.rs");
    println!("cargo:rustc-link-arg-bins=--entry=start");
    println!("cargo:rustc-link-arg-bins=--gc-sections");
}

//! Tells the linker where `board.ld` is.

fn main() {
    let here = std::env::var("CARGO_MANIFEST_DIR").unwrap_or_default();
    println!("cargo::rustc-link-search={here}");
    println!("cargo::rerun-if-changed=board.ld");
}

//! Links the firmware by `board.ld`.

fn main() {
    let here = std::env::var("CARGO_MANIFEST_DIR").unwrap_or_default();
    println!("cargo::rustc-link-arg=-T{here}/board.ld");
    println!("cargo::rerun-if-changed=board.ld");
}

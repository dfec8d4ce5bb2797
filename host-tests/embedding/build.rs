//! The log's level, and its texts where a decoder finds them: `defmt.x` is for controllers, which have a layout of their own.

fn main() {
    println!("cargo:rerun-if-changed=texts.x");
    // What is logged is chosen while compiling; without this only errors are.
    println!("cargo:rustc-env=DEFMT_LOG=info");
    for argument in ["-no-pie", "-Wl,-Ttexts.x"] {
        println!("cargo:rustc-link-arg-tests={argument}");
    }
    println!(
        "cargo:rustc-link-arg-tests=-Wl,-L{}",
        std::env::var("CARGO_MANIFEST_DIR").expect("cargo sets it")
    );
}

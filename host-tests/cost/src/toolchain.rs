//! Which compilers are on this machine, in the order in which they are tried.
//!
//! 1. the target of the installed toolchain;
//! 2. a nightly toolchain with `rust-src`;
//! 3. Debian's `rustc-web cargo-web rust-web-src`, the standard library built from source.

use std::path::{Path, PathBuf};
use std::process::Command;

use clap::ValueEnum;

use super::chip::Chip;
use super::error::CostError;

/// A Rust toolchain that can build for a core.
#[derive(Debug, Clone)]
pub struct Toolchain {
    /// Program and leading arguments, as `rustup run nightly cargo` needs them.
    cargo: Vec<String>,
    rustc: PathBuf,
    /// `rustc --version`, the figure's condition.
    pub version: String,
    /// Whether the standard library is built from source.
    pub build_std: bool,
}

/// Which of the three may be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Choice {
    /// The first that can.
    Any,
    /// The installed toolchain's target.
    Installed,
    /// Nightly with `rust-src`.
    Nightly,
    /// Debian's packages.
    Debian,
}

/// The first line that a program prints; none when it is missing or fails.
#[must_use]
pub fn first_line(program: &str, arguments: &[&str]) -> Option<String> {
    let output = Command::new(program).args(arguments).output().ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    (output.status.success()).then(|| text.lines().next().unwrap_or("").trim().to_owned())
}

impl Toolchain {
    /// The first toolchain that builds for a core.
    ///
    /// # Errors
    /// [`CostError::Missing`] with the packages to install.
    pub fn find(chip: Chip, choice: Choice) -> Result<Self, CostError> {
        let allowed = |one| choice == Choice::Any || choice == one;
        let installed = || {
            allowed(Choice::Installed)
                .then(|| Self::installed(chip))
                .flatten()
        };
        let nightly = || allowed(Choice::Nightly).then(Self::nightly).flatten();
        let debian = || allowed(Choice::Debian).then(Self::debian).flatten();
        installed().or_else(nightly).or_else(debian).ok_or_else(|| {
            CostError::Missing(vec![format!(
                "a Rust compiler for {}: install Debian's rustc-web cargo-web rust-web-src, or a nightly toolchain with \
                 rust-src",
                chip.target()
            )])
        })
    }

    fn installed(chip: Chip) -> Option<Self> {
        let sysroot = first_line("rustc", &["--print", "sysroot"])?;
        let target = Path::new(&sysroot).join("lib/rustlib").join(chip.target());
        target.is_dir().then_some(())?;
        Some(Self {
            cargo: vec!["cargo".to_owned()],
            rustc: Path::new(&sysroot).join("bin/rustc"),
            version: first_line("rustc", &["--version"])?,
            build_std: false,
        })
    }

    fn nightly() -> Option<Self> {
        let sysroot = first_line("rustup", &["run", "nightly", "rustc", "--print", "sysroot"])?;
        has_library_source(&sysroot).then_some(())?;
        let rustc = Path::new(&sysroot).join("bin/rustc");
        Some(Self {
            cargo: ["rustup", "run", "nightly", "cargo"]
                .map(str::to_owned)
                .to_vec(),
            version: first_line(&rustc.display().to_string(), &["--version"])?,
            rustc,
            build_std: true,
        })
    }

    fn debian() -> Option<Self> {
        let sysroot = first_line("/usr/bin/rustc", &["--print", "sysroot"])?;
        has_library_source(&sysroot).then_some(())?;
        Path::new("/usr/bin/cargo").is_file().then_some(())?;
        Some(Self {
            cargo: vec!["/usr/bin/cargo".to_owned()],
            rustc: PathBuf::from("/usr/bin/rustc"),
            version: first_line("/usr/bin/rustc", &["--version"])?,
            build_std: true,
        })
    }

    /// A `cargo build` for a core, without network.
    #[must_use]
    pub fn cargo_build(&self, chip: Chip) -> Command {
        let mut command = Command::new(self.cargo.first().map_or("cargo", String::as_str));
        command
            .args(self.cargo.get(1..).unwrap_or_default())
            .args(["build", "--release", "--offline", "--target", chip.target()])
            .env("RUSTC", &self.rustc)
            // The kernels for AVR are assembly that no stable compiler accepts yet, and -Zbuild-std is unstable too.
            .env("RUSTC_BOOTSTRAP", "1")
            .env(
                "CARGO_TARGET_AVR_NONE_RUSTFLAGS",
                match chip {
                    Chip::Avr25 => "-C target-cpu=attiny84",
                    _ => "-C target-cpu=atmega328p",
                },
            )
            // Incremental code is compiled in other pieces, and costs more.
            .env_remove("CARGO_INCREMENTAL")
            .env_remove("RUSTFLAGS")
            .env_remove("CARGO_BUILD_RUSTFLAGS")
            .env_remove("CARGO_ENCODED_RUSTFLAGS")
            // Set by the rustup proxy for its own children; Debian's cargo must not inherit them.
            .env_remove("RUSTUP_TOOLCHAIN")
            .env_remove("CARGO");
        if self.build_std {
            // Debian's compiler brings no linker of its own; the images need none, a whole firmware does. The same for all, or
            // cargo would build the standard library for each.
            command
                .arg("-Zbuild-std=core")
                .env("CARGO_TARGET_THUMBV6M_NONE_EABI_LINKER", "ld.lld");
        }
        command
    }
}

fn has_library_source(sysroot: &str) -> bool {
    Path::new(sysroot)
        .join("lib/rustlib/src/rust/library/Cargo.toml")
        .is_file()
}

/// Programs that building and running for a core needs besides Rust, each with its package.
fn programs(chip: Chip) -> Vec<(&'static str, &'static str)> {
    let linkers = [true, false].map(|of_c| chip.linker(of_c).0);
    let mut programs = vec!["cc"];
    programs.extend(linkers);
    programs.dedup();
    let package = |program| match program {
        "cc" => "gcc",
        "avr-gcc" => "gcc-avr avr-libc",
        "ld.lld" => "lld",
        "arm-none-eabi-gcc" => "gcc-arm-none-eabi",
        _ => "gcc-riscv64-unknown-elf",
    };
    programs
        .into_iter()
        .map(|program| (program, package(program)))
        .collect()
}

/// Checks for every tool of a core at once.
///
/// # Errors
/// [`CostError::Missing`] with the packages to install.
pub fn require(chip: Chip, choice: Choice) -> Result<Toolchain, CostError> {
    let mut missing: Vec<String> = programs(chip)
        .into_iter()
        .filter(|(program, _)| first_line(program, &["--version"]).is_none())
        .map(|(program, packages)| format!("{program}: install {packages}"))
        .collect();
    match Toolchain::find(chip, choice) {
        Ok(toolchain) if missing.is_empty() => Ok(toolchain),
        Ok(_) => Err(CostError::Missing(missing)),
        Err(CostError::Missing(more)) => {
            missing.extend(more);
            Err(CostError::Missing(missing))
        }
        Err(other) => Err(other),
    }
}

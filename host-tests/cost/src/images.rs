//! Generated source to linked images.

use std::path::{Path, PathBuf};
use std::process::Command;

use super::chip::Chip;
use super::cores::cores_folder;
use super::error::CostError;
use super::toolchain::Toolchain;

/// Runs one step of a build.
///
/// # Errors
/// [`CostError::Step`] with what it said.
pub fn run_step(step: &str, command: &mut Command) -> Result<(), CostError> {
    let failed = |output: String| CostError::Step {
        step: step.to_owned(),
        output,
    };
    let output = command
        .output()
        .map_err(|error| failed(format!("{}: {error}", command.get_program().display())))?;
    if output.status.success() {
        Ok(())
    } else {
        Err(failed(String::from_utf8_lossy(&output.stderr).into_owned()))
    }
}

/// What the compiler of Rust is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// opt-level 3, of what runs at every reading.
    Speed,
    /// The same with the library's kernels.
    Kernels,
    /// opt-level 3, of what is only compared.
    Bounds,
    /// The same with the library's kernels.
    KernelBounds,
    /// opt-level s, of what runs once.
    Size,
    /// The same with the library's kernels.
    SmallKernels,
    /// opt-level s with the library's kernels, of a whole firmware; of a cell that is supply and reference, or behind a divider.
    Whole {
        /// Which of the two.
        supply: bool,
    },
}

impl Wanted {
    const fn features(self) -> &'static str {
        match self {
            Self::Speed | Self::Size => "",
            Self::Bounds => "bounds",
            Self::KernelBounds => "arch,bounds",
            Self::Kernels | Self::SmallKernels | Self::Whole { supply: false } => "arch",
            Self::Whole { supply: true } => "arch,supply",
        }
    }

    const fn word(self) -> &'static str {
        match self {
            Self::Speed => "speed",
            Self::Kernels => "kernels",
            Self::Bounds => "bounds",
            Self::KernelBounds => "kernel-bounds",
            Self::Size => "size",
            Self::SmallKernels => "small-kernels",
            Self::Whole { supply: false } => "divided",
            Self::Whole { supply: true } => "supply",
        }
    }

    const fn is_small(self) -> bool {
        matches!(self, Self::Size | Self::SmallKernels | Self::Whole { .. })
    }
}

/// Where cargo builds for a core. One for all whose flags are alike: the standard library is then built once for each.
fn target(folder: &Path, chip: Chip) -> PathBuf {
    folder.join(match chip {
        Chip::Avr25 => "target-avr25",
        _ => "target",
    })
}

/// Builds an archive of the images' workspace from generated source.
fn archive(
    package: &str,
    chip: Chip,
    toolchain: &Toolchain,
    wanted: Wanted,
    source: &str,
    folder: &Path,
) -> Result<PathBuf, CostError> {
    let target = target(folder, chip);
    let file = folder
        .join(chip.word())
        .join(format!("{package}_front_ends.rs"));
    write(&file, source)?;
    let mut build = toolchain.cargo_build(chip);
    build
        .args(["-p", package])
        .current_dir(cores_folder())
        .env("CARGO_TARGET_DIR", &target)
        .env("TALLYVOLT_FRONT_ENDS", &file);
    if wanted.is_small() {
        for library in ["tallyvolt", package] {
            let option = format!("profile.release.package.{library}.opt-level=\"s\"");
            build.args(["--config", &option]);
        }
    }
    build.args(["--features", wanted.features()]);
    run_step(
        "building the images (a first build needs its crates: run `cargo fetch` in host-tests/cores, and for Debian's toolchain \
         as docs/small-cores.md tells)",
        &mut build,
    )?;
    // Another build would overwrite it.
    let built = target
        .join(chip.target())
        .join(format!("release/lib{package}.a"));
    let archive = folder
        .join(chip.word())
        .join(format!("{package}-{}.a", wanted.word()));
    std::fs::copy(&built, &archive).map_err(|error| CostError::file(&built, error))?;
    Ok(archive)
}

/// Writes a file, with its folder where there is none.
///
/// # Errors
/// [`CostError::File`].
pub fn write(path: &Path, text: &str) -> Result<(), CostError> {
    path.parent()
        .map_or(Ok(()), std::fs::create_dir_all)
        .and_then(|()| std::fs::write(path, text))
        .map_err(|error| CostError::file(path, error))
}

/// The compiled but unlinked functions of one core.
#[derive(Debug, Clone)]
pub struct Objects {
    chip: Chip,
    archive: PathBuf,
    c_object: Option<PathBuf>,
    folder: PathBuf,
}

impl Objects {
    /// Compiles everything for a core.
    ///
    /// # Errors
    /// [`CostError::Step`] with the compiler's words.
    pub fn compile(
        chip: Chip,
        toolchain: &Toolchain,
        wanted: Wanted,
        source: &str,
        folder: &Path,
    ) -> Result<Self, CostError> {
        let archive = archive("images", chip, toolchain, wanted, source, folder)?;
        let folder = folder.join(chip.word());
        let usual = cores_folder().join("c/usual.c");
        Ok(Self {
            chip,
            archive,
            c_object: compile_c(chip, &usual, &folder.join("usual.o"), &[])?,
            folder,
        })
    }

    /// Links the named functions, and only what they need, into an image of its own.
    ///
    /// # Errors
    /// [`CostError::Step`] with the linker's words.
    pub fn link(&self, name: &str, symbols: &[String], from_c: bool) -> Result<PathBuf, CostError> {
        let code = match (&self.c_object, from_c) {
            (Some(object), true) => Code::C(object),
            _ => Code::Rust(&self.archive),
        };
        link(self.chip, &self.folder, name, symbols, code)
    }
}

/// Compiles one file of C for a core, each function and datum in a section of its own; none where the core has no C compiler.
///
/// # Errors
/// [`CostError::Step`] with the compiler's words.
pub fn compile_c(
    chip: Chip,
    source: &Path,
    object: &Path,
    flags: &[&str],
) -> Result<Option<PathBuf>, CostError> {
    let Some((compiler, usual)) = chip.c_compiler() else {
        return Ok(None);
    };
    let mut compile = Command::new(compiler);
    compile
        .args(usual)
        .args(flags)
        .args([
            "-ffunction-sections",
            "-fdata-sections",
            "-fno-common",
            "-c",
            "-o",
        ])
        .arg(object)
        .arg(source);
    run_step(&format!("compiling {}", source.display()), &mut compile)?;
    Ok(Some(object.to_owned()))
}

/// What an image is linked from. C and Rust are linked apart: each then gets its own compiler's arithmetic routines.
#[derive(Debug, Clone, Copy)]
pub enum Code<'a> {
    /// An archive.
    Rust(&'a Path),
    /// An object.
    C(&'a Path),
}

/// Links the named functions, and only what they need, into an image of its own.
///
/// # Errors
/// [`CostError::Step`] with the linker's words.
pub fn link(
    chip: Chip,
    folder: &Path,
    name: &str,
    symbols: &[String],
    code: Code<'_>,
) -> Result<PathBuf, CostError> {
    let image = folder.join(format!("{name}.elf"));
    let (linker, flags, gcc) = chip.linker(matches!(code, Code::C(_)));
    let mut link = Command::new(linker);
    link.args(flags);
    link.arg(if gcc {
        "-Wl,--gc-sections"
    } else {
        "--gc-sections"
    });
    let script = if chip.is_avr() {
        "runners/avr_table.ld"
    } else {
        "runners/self-test/unicorn.ld"
    };
    link.arg("-T").arg(cores_folder().join(script));
    for symbol in symbols {
        if gcc {
            link.arg(format!("-Wl,-u,{symbol}"));
        } else {
            link.args(["-u", symbol]);
        }
    }
    link.arg("-o").arg(&image);
    match code {
        Code::C(object) => link.arg(object).arg("-lgcc"),
        Code::Rust(archive) => link.arg(archive),
    };
    run_step(&format!("linking {name}"), &mut link)?;
    Ok(image)
}

/// Builds and links the complete firmware of an ATmega328P, start-up code included.
///
/// # Errors
/// [`CostError::Step`] with the compiler's or the linker's words.
pub fn firmware(
    toolchain: &Toolchain,
    constants: &str,
    folder: &Path,
) -> Result<PathBuf, CostError> {
    let chip = Chip::Avr;
    let archive = archive(
        "firmware",
        chip,
        toolchain,
        Wanted::Kernels,
        constants,
        folder,
    )?;
    let image = folder.join("firmware").join("firmware.elf");
    write(&image, "")?;
    let mut link = Command::new("avr-gcc");
    link.args(["-mmcu=atmega328p", "-Wl,--gc-sections,-u,main", "-o"])
        .arg(&image)
        .arg(archive);
    run_step("linking the firmware", &mut link)?;
    Ok(image)
}

/// Builds and links the complete firmware of an `ATtiny84`, start-up code included, of one emitted front end.
///
/// # Errors
/// As [`firmware`].
pub fn small_firmware(
    toolchain: &Toolchain,
    front_end: &str,
    supply: bool,
    folder: &Path,
) -> Result<PathBuf, CostError> {
    let chip = Chip::Avr25;
    let wanted = Wanted::Whole { supply };
    let archive = archive("small", chip, toolchain, wanted, front_end, folder)?;
    let image = folder.join(chip.word()).join(if supply {
        "small-supply.elf"
    } else {
        "small-divided.elf"
    });
    let mut link = Command::new("avr-gcc");
    // The C library copies and clears memory in fewer bytes than the compiler's routines do.
    link.args([
        "-mmcu=attiny84",
        "-Wl,--gc-sections,-u,main,-u,memcpy,-u,memset",
        "-lc",
        "-o",
    ])
    .arg(&image)
    .arg(archive);
    run_step("linking the small firmware", &mut link)?;
    Ok(image)
}

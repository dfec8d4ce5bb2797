//! Front ends to Rust constants, and constants to linked images.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

use super::chip::Chip;
use super::toolchain::Toolchain;
use super::{CostError, cores_folder};
use crate::firmware::{DescribeError, whole_resistances};
use crate::front_end::{CodeCentre, FrontEnd, FullScale, ShiftRounding, Topology};

/// A module's calibration as awkward as a fit gives it: gain in 2^-24, offset in 1/256 counts.
pub const AWKWARD: (u32, i32) = (16_843_213, 317);

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

/// A front end's name as an identifier.
#[must_use]
pub fn identifier(front_end: &FrontEnd) -> String {
    front_end.name.replace('-', "_")
}

/// The Rust source of front ends' constants and of the functions that have them built in.
///
/// # Errors
/// [`DescribeError`] when the crate cannot describe a front end.
pub fn constants(front_ends: &[FrontEnd]) -> Result<String, DescribeError> {
    let mut source = String::from(
        "use crate::readings::reading;\
         use tallyvolt::fixed::types::{I24F8, U8F24};\
         #[allow(unused_imports)]\nuse tallyvolt::*;\n",
    );
    for front_end in front_ends {
        write_constants(&mut source, front_end)?;
    }
    Ok(source)
}

fn write_constants(source: &mut String, front_end: &FrontEnd) -> Result<(), DescribeError> {
    let converter = &front_end.converter;
    let acquisition = format!(
        "Acquisition {{ bits: {}, full_scale: FullScale::{}, code_centre: CodeCentre::{}, samples: {}, right_shift: {}, \
         shift_rounding: ShiftRounding::{} }}",
        converter.bits,
        match converter.full_scale {
            FullScale::PowerOfTwo => "PowerOfTwo",
            FullScale::TopCode => "TopCode",
        },
        match converter.code_centre {
            CodeCentre::Edge => "Edge",
            CodeCentre::Half => "Half",
        },
        converter.samples,
        converter.right_shift,
        match converter.shift_rounding {
            ShiftRounding::Truncate => "Truncate",
            ShiftRounding::Nearest => "Nearest",
        },
    );
    let (stage, description, conversion, divider) = match &front_end.topology {
        Topology::DividedInput(divider) => {
            let (top, bottom) = whole_resistances(divider)?;
            let ohms = format!("top_ohms: {top}, bottom_ohms: {bottom}, ");
            (
                "DividedInput",
                "DividedDescription",
                "DividedConversion",
                ohms,
            )
        }
        Topology::SupplyReference => (
            "SupplyReference",
            "SupplyDescription",
            "SupplyConversion",
            String::new(),
        ),
    };
    let name = identifier(front_end);
    let upper = name.to_uppercase();
    let unit = if front_end.unit_uv == 100 {
        "TenthMillivolt"
    } else {
        "Millivolt"
    };
    let (gain, offset) = AWKWARD;
    // Writing to a String cannot fail.
    let _ = write!(
        source,
        "\npub const {upper}_STAGE: {stage} = proven!({stage}::new({description} {{\n    acquisition: {acquisition},\n    \
         reference_uv: {}, {divider}cell: CellRange {{ min_uv: {}, max_uv: {} }}, unit: OutputUnit::{unit},\n}}));\
         pub const {upper}_CONSTANT: {conversion} = proven!({upper}_STAGE.conversion(Calibration::IDENTITY));\
         #[unsafe(no_mangle)]\npub static {upper}_DRAWN: {conversion} = {upper}_CONSTANT;\
         #[unsafe(no_mangle)]\npub static {upper}_CALIBRATED: {conversion} = proven!({upper}_STAGE.conversion(\n    \
         proven!(Calibration::new(U8F24::from_bits({gain}), I24F8::from_bits({offset})))));\
         #[unsafe(no_mangle)]\npub extern \"C\" fn {name}_constant(count: u32) -> u16 {{\n    \
         reading({upper}_CONSTANT.voltage(Count(count)))\n}}\
         #[unsafe(no_mangle)]\npub extern \"C\" fn {name}_constant_16(count: u16) -> u16 {{\n    \
         reading({upper}_CONSTANT.voltage(Count::from(count)))\n}}\n",
        front_end.reference.microvolts, front_end.cell.min_uv, front_end.cell.max_uv,
    );
    Ok(())
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
        constants: &str,
        folder: &Path,
    ) -> Result<Self, CostError> {
        // One for all cores and images: the standard library is then built once for each core.
        let target = folder.join("target");
        let folder = folder.join(chip.word());
        std::fs::create_dir_all(&folder).map_err(|error| CostError::file(&folder, error))?;
        let source = folder.join("front_ends.rs");
        std::fs::write(&source, constants).map_err(|error| CostError::file(&source, error))?;
        run_step(
            "building the images (a first build needs its crates: run `cargo fetch` in host-tests/cores, and for \
             Debian's toolchain as docs/small-cores.md tells)",
            toolchain
                .cargo_build(chip)
                .args(["-p", "images"])
                .current_dir(cores_folder())
                .env("CARGO_TARGET_DIR", &target)
                .env("TALLYVOLT_FRONT_ENDS", &source),
        )?;
        let usual = folder.join("usual.o");
        let c_object = compile_c(chip, &cores_folder().join("c/usual.c"), &usual, &[])?;
        Ok(Self {
            chip,
            archive: target.join(chip.target()).join("release/libimages.a"),
            c_object,
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
pub(super) fn compile_c(
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
        .args(["-ffunction-sections", "-fdata-sections", "-c", "-o"])
        .arg(object)
        .arg(source);
    run_step(&format!("compiling {}", source.display()), &mut compile)?;
    Ok(Some(object.to_owned()))
}

/// What an image is linked from. C and Rust are linked apart: each then gets its own compiler's arithmetic routines.
#[derive(Debug, Clone, Copy)]
pub(super) enum Code<'a> {
    /// An archive.
    Rust(&'a Path),
    /// An object.
    C(&'a Path),
}

/// Links the named functions, and only what they need, into an image of its own.
///
/// # Errors
/// [`CostError::Step`] with the linker's words.
pub(super) fn link(
    chip: Chip,
    folder: &Path,
    name: &str,
    symbols: &[String],
    code: Code<'_>,
) -> Result<PathBuf, CostError> {
    let image = folder.join(format!("{name}.elf"));
    let script = cores_folder().join("runners/self-test/unicorn.ld");
    let mut link = match chip {
        Chip::Avr => {
            let mut link = Command::new("avr-gcc");
            link.args(["-mmcu=atmega328p", "-nostartfiles", "-Wl,--gc-sections"]);
            link
        }
        Chip::CortexM0plus => {
            let mut link = Command::new("arm-none-eabi-gcc");
            link.args([
                "-mcpu=cortex-m0plus",
                "-mthumb",
                "-nostdlib",
                "-Wl,--gc-sections",
            ]);
            link.arg("-T").arg(script);
            link
        }
        Chip::Rv32imc => {
            let mut link = Command::new("ld.lld");
            link.args(["-m", "elf32lriscv", "-e", "0", "--gc-sections", "-T"])
                .arg(script);
            link
        }
    };
    for symbol in symbols {
        match chip {
            Chip::Avr | Chip::CortexM0plus => link.arg(format!("-Wl,-u,{symbol}")),
            Chip::Rv32imc => link.args(["-u", symbol]),
        };
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
    let target = folder.join("target");
    let folder = folder.join("firmware");
    std::fs::create_dir_all(&folder).map_err(|error| CostError::file(&folder, error))?;
    let source = folder.join("front_ends.rs");
    std::fs::write(&source, constants).map_err(|error| CostError::file(&source, error))?;
    let mut build = toolchain.cargo_build(Chip::Avr);
    run_step(
        "building the firmware",
        build
            .args(["-p", "firmware"])
            .current_dir(cores_folder())
            .env("CARGO_TARGET_DIR", &target)
            .env("TALLYVOLT_FRONT_ENDS", &source),
    )?;
    let image = folder.join("firmware.elf");
    let archive = target
        .join(Chip::Avr.target())
        .join("release/libfirmware.a");
    let mut link = Command::new("avr-gcc");
    link.args(["-mmcu=atmega328p", "-Wl,--gc-sections,-u,main", "-o"])
        .arg(&image)
        .arg(archive);
    run_step("linking the firmware", &mut link)?;
    Ok(image)
}

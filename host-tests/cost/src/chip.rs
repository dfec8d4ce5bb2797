//! The cores that are measured, and how each is compiled for, linked and simulated.

use clap::ValueEnum;
use serde::Serialize;

/// A small core.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Chip {
    /// 8 bits, no multiplier: `ATtiny84`, with 8 kB of flash and 512 bytes of RAM.
    Avr25,
    /// 8 bits, hardware multiplier, no divider: `ATmega328P`.
    Avr,
    /// `ARMv6-M`: 32-bit multiplier, no divider.
    CortexM0plus,
    /// Sixteen registers, neither multiplier nor divider.
    Rv32e,
    /// Multiplier and divider.
    Rv32imc,
    /// `ARMv7E-M`: only linked, for the symbols of its images.
    #[value(skip)]
    CortexM4,
}

/// What a chip's code is: words of its tools.
struct Traits {
    word: &'static str,
    basis: &'static str,
    cycles: bool,
    target: &'static str,
    runner: &'static str,
    /// `avr-gcc`'s or Arm gcc's name of it.
    gcc: Option<(&'static str, &'static [&'static str])>,
    optimise: &'static str,
}

const AVR_GCC: &str = "avr-gcc";
const ARM_GCC: &str = "arm-none-eabi-gcc";

impl Chip {
    /// All that are measured, in the order of tables.
    pub const ALL: [Self; 5] = [
        Self::Avr25,
        Self::Avr,
        Self::CortexM0plus,
        Self::Rv32e,
        Self::Rv32imc,
    ];

    fn traits(self) -> Traits {
        let unicorn = |word, target| Traits {
            word,
            basis: "executed instructions (no one timing stands for all cores), by Unicorn",
            cycles: false,
            target,
            runner: "unicorn_run",
            gcc: None,
            optimise: "",
        };
        match self {
            Self::Avr25 => Traits {
                word: "avr25",
                basis: "cycles of an ATtiny84, as libsimavr counts them",
                cycles: true,
                target: "avr-none",
                runner: "avr_run",
                gcc: Some((AVR_GCC, &["-mmcu=attiny84"])),
                optimise: "-Os",
            },
            Self::Avr => Traits {
                word: "avr",
                basis: "cycles of an ATmega328P, as libsimavr counts them",
                gcc: Some((AVR_GCC, &["-mmcu=atmega328p"])),
                ..Self::Avr25.traits()
            },
            Self::CortexM0plus => Traits {
                basis: "cycles by Arm DDI 0484C table 3.1: zero wait states, single-cycle multiplier; executed by Unicorn",
                cycles: true,
                gcc: Some((ARM_GCC, &["-mcpu=cortex-m0plus", "-mthumb"])),
                optimise: "-O2",
                ..unicorn("cortex-m0plus", "thumbv6m-none-eabi")
            },
            Self::Rv32e => unicorn("rv32e", "riscv32e-unknown-none-elf"),
            Self::Rv32imc => unicorn("rv32imc", "riscv32imc-unknown-none-elf"),
            Self::CortexM4 => Traits {
                gcc: Some((ARM_GCC, &["-mcpu=cortex-m4", "-mthumb"])),
                ..unicorn("cortex-m4", "thumbv7em-none-eabi")
            },
        }
    }

    /// The word in tables and files.
    #[must_use]
    pub fn word(self) -> &'static str {
        self.traits().word
    }

    /// What is counted, and by whose figures.
    #[must_use]
    pub fn basis(self) -> &'static str {
        self.traits().basis
    }

    /// `cycles` or `instructions`.
    #[must_use]
    pub fn amount(self) -> &'static str {
        if self.traits().cycles {
            "cycles"
        } else {
            "instructions"
        }
    }

    /// Rust's name of the target.
    #[must_use]
    pub fn target(self) -> &'static str {
        self.traits().target
    }

    /// The simulator program.
    #[must_use]
    pub fn runner(self) -> &'static str {
        self.traits().runner
    }

    /// Whether it is an AVR.
    #[must_use]
    pub fn is_avr(self) -> bool {
        matches!(self, Self::Avr25 | Self::Avr)
    }

    /// Whether `tallyvolt::arch` has kernels for it; elsewhere they are the portable code.
    #[must_use]
    pub fn has_kernels(self) -> bool {
        matches!(self, Self::Avr | Self::CortexM0plus)
    }

    /// Type of a pointer argument in the runner's protocol.
    #[must_use]
    pub fn pointer(self) -> &'static str {
        if self.is_avr() { "u16" } else { "u32" }
    }

    /// The C compiler with its flags for the core, optimisation last; none where gcc for the core brings no library in Debian.
    #[must_use]
    pub fn c_compiler(self) -> Option<(&'static str, Vec<&'static str>)> {
        let Traits { gcc, optimise, .. } = self.traits();
        let (compiler, core) = gcc.filter(|_| !optimise.is_empty())?;
        Some((compiler, [core, &[optimise]].concat()))
    }

    /// The linker with its flags for the core, and what stands before an argument that is not gcc's own.
    #[must_use]
    pub fn linker(self) -> (&'static str, Vec<&'static str>) {
        match self.traits().gcc {
            Some((compiler, core)) if self.is_avr() => {
                (compiler, [core, &["-nostartfiles"]].concat())
            }
            Some((compiler, core)) => (compiler, [core, &["-nostdlib"]].concat()),
            None => ("ld.lld", vec!["-m", "elf32lriscv", "-e", "0"]),
        }
    }
}

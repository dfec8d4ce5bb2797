//! The three cores that are measured.

use clap::ValueEnum;
use serde::Serialize;

/// A small core and how it is simulated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Chip {
    /// 8 bits, hardware multiplier, no divider: ATmega328P.
    Avr,
    /// `ARMv6-M`: 32-bit multiplier, no divider.
    CortexM0plus,
    /// Multiplier and divider.
    Rv32imc,
}

impl Chip {
    /// All of them, in the order of tables.
    pub const ALL: [Self; 3] = [Self::Avr, Self::CortexM0plus, Self::Rv32imc];

    /// The word in tables and files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Avr => "avr",
            Self::CortexM0plus => "cortex-m0plus",
            Self::Rv32imc => "rv32imc",
        }
    }

    /// What is counted, and by whose figures.
    #[must_use]
    pub fn basis(self) -> &'static str {
        match self {
            Self::Avr => "cycles of an ATmega328P, as libsimavr counts them",
            Self::CortexM0plus => {
                "cycles by Arm DDI 0484C table 3.1: zero wait states, single-cycle multiplier; executed by Unicorn"
            }
            Self::Rv32imc => {
                "executed instructions (no one timing stands for all cores), by Unicorn"
            }
        }
    }

    /// `cycles` or `instructions`.
    #[must_use]
    pub fn amount(self) -> &'static str {
        match self {
            Self::Avr | Self::CortexM0plus => "cycles",
            Self::Rv32imc => "instructions",
        }
    }

    /// Rust's name of the target.
    #[must_use]
    pub fn target(self) -> &'static str {
        match self {
            Self::Avr => "avr-none",
            Self::CortexM0plus => "thumbv6m-none-eabi",
            Self::Rv32imc => "riscv32imc-unknown-none-elf",
        }
    }

    /// The simulator program.
    #[must_use]
    pub fn runner(self) -> &'static str {
        match self {
            Self::Avr => "avr_run",
            Self::CortexM0plus | Self::Rv32imc => "unicorn_run",
        }
    }

    /// Type of a pointer argument in the runner's protocol.
    #[must_use]
    pub fn pointer(self) -> &'static str {
        match self {
            Self::Avr => "u16",
            Self::CortexM0plus | Self::Rv32imc => "u32",
        }
    }

    /// The C compiler that ratios are taken against; none where gcc for the core brings no library in Debian.
    #[must_use]
    pub fn c_compiler(self) -> Option<(&'static str, &'static [&'static str])> {
        match self {
            Self::Avr => Some(("avr-gcc", &["-mmcu=atmega328p", "-Os"])),
            Self::CortexM0plus => Some((
                "arm-none-eabi-gcc",
                &["-mcpu=cortex-m0plus", "-mthumb", "-O2"],
            )),
            Self::Rv32imc => None,
        }
    }
}

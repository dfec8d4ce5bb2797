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
    /// The present 8-bit generation: the instructions of the above in other cycles.
    Avrxt,
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
    /// What the simulator program is told beside the image.
    runner_option: Option<&'static str>,
    /// The C compiler, and its name of the core.
    gcc: Option<(&'static str, &'static [&'static str])>,
    optimise: &'static str,
}

const AVR_GCC: &str = "avr-gcc";
const ARM_GCC: &str = "arm-none-eabi-gcc";
/// Debian's has no C library, and emitted C needs none.
const RISCV_GCC: &str = "riscv64-unknown-elf-gcc";

/// Where the data of an image begins: so that a table in RAM lies across a multiple of 256, where the lower byte of its addresses carries.
const ACROSS_A_PAGE: &str = "-Wl,-Tdata=0x8001d0";

impl Chip {
    /// All that are measured, in the order of tables.
    pub const ALL: [Self; 6] = [
        Self::Avr25,
        Self::Avr,
        Self::Avrxt,
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
            runner_option: None,
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
                runner_option: None,
                gcc: Some((AVR_GCC, &["-mmcu=attiny84"])),
                optimise: "-Os",
            },
            Self::Avr => Traits {
                word: "avr",
                basis: "cycles of an ATmega328P, as libsimavr counts them",
                gcc: Some((AVR_GCC, &["-mmcu=atmega328p"])),
                ..Self::Avr25.traits()
            },
            Self::Avrxt => Traits {
                word: "avrxt",
                basis: "cycles by Microchip DS40002198, column AVRxt, of what libsimavr executes as an ATmega328P",
                runner_option: Some("avrxt"),
                ..Self::Avr.traits()
            },
            Self::CortexM0plus => Traits {
                basis: "cycles by Arm DDI 0484C table 3.1: zero wait states, single-cycle multiplier; executed by Unicorn",
                cycles: true,
                gcc: Some((ARM_GCC, &["-mcpu=cortex-m0plus", "-mthumb"])),
                optimise: "-O2",
                ..unicorn("cortex-m0plus", "thumbv6m-none-eabi")
            },
            Self::Rv32e => Traits {
                gcc: Some((
                    RISCV_GCC,
                    &["-march=rv32e", "-mabi=ilp32e", "-ffreestanding"],
                )),
                optimise: "-Os",
                ..unicorn("rv32e", "riscv32e-unknown-none-elf")
            },
            Self::Rv32imc => Traits {
                gcc: Some((
                    RISCV_GCC,
                    &["-march=rv32imc", "-mabi=ilp32", "-ffreestanding"],
                )),
                optimise: "-O2",
                ..unicorn("rv32imc", "riscv32imc-unknown-none-elf")
            },
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

    /// What the simulator program is told beside the image.
    #[must_use]
    pub fn runner_option(self) -> Option<&'static str> {
        self.traits().runner_option
    }

    /// Whether it is an AVR.
    #[must_use]
    pub fn is_avr(self) -> bool {
        self.runner() == "avr_run"
    }

    /// Whether `tallyvolt::arch` has kernels for it; elsewhere they are the portable code.
    #[must_use]
    pub fn has_kernels(self) -> bool {
        matches!(self, Self::Avr | Self::Avrxt | Self::CortexM0plus)
    }

    /// Type of a pointer argument in the runner's protocol.
    #[must_use]
    pub fn pointer(self) -> &'static str {
        if self.is_avr() { "u16" } else { "u32" }
    }

    /// The C compiler with its flags for the core, optimisation last; none where C is not measured.
    #[must_use]
    pub fn c_compiler(self) -> Option<(&'static str, Vec<&'static str>)> {
        let Traits { gcc, optimise, .. } = self.traits();
        let (compiler, core) = gcc.filter(|_| !optimise.is_empty())?;
        Some((compiler, [core, &[optimise]].concat()))
    }

    /// The linker of C or of Rust with its flags for the core, and whether it is a gcc.
    #[must_use]
    pub fn linker(self, of_c: bool) -> (&'static str, Vec<&'static str>, bool) {
        match self.traits().gcc {
            Some((compiler, core)) if self.is_avr() => {
                let mut flags = [core, &["-nostartfiles"]].concat();
                if self != Self::Avr25 {
                    flags.push(ACROSS_A_PAGE);
                }
                (compiler, flags, true)
            }
            Some((compiler, core)) if of_c || compiler != RISCV_GCC => {
                (compiler, [core, &["-nostdlib"]].concat(), true)
            }
            // Rust's archives for RISC-V are linked without that compiler's libraries.
            _ => ("ld.lld", vec!["-m", "elf32lriscv", "-e", "0"], false),
        }
    }
}

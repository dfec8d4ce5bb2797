//! The arithmetic of the hot paths, by hand-written kernels where the core has some and the feature `arch` is on.
//!
//! `portable` has every function in Rust. `avr` and `cortex_m0plus` have some of the same names, with the same answer at every
//! argument. One place, `kernels`, chooses; whoever converts asks that and does not see which it got. Kernels are the only `unsafe` code of the
//! crate: they read operands from registers or through one pointer, call nothing, and on AVR need its multiplier
//! (`target_feature = "mul"`), without which the portable functions are taken.

#[cfg_attr(
    any(
        all(feature = "arch", target_arch = "avr", target_feature = "mul"),
        all(feature = "arch", target_arch = "arm", not(target_has_atomic = "32"))
    ),
    expect(dead_code, reason = "a core with kernels calls its own")
)]
pub(crate) mod portable;
#[cfg(any(
    all(feature = "arch", target_arch = "avr", target_feature = "mul"),
    all(feature = "arch", target_arch = "arm", not(target_has_atomic = "32")),
    test
))]
pub(crate) mod samples;
#[cfg(any(
    all(feature = "arch", target_arch = "avr", target_feature = "mul"),
    all(feature = "arch", target_arch = "arm", not(target_has_atomic = "32"))
))]
pub(crate) mod summed;

// What reads a table in flash reaches its first 64 kB: a chip that has more has an instruction for the rest.
#[cfg(any(
    all(
        feature = "arch",
        target_arch = "avr",
        target_feature = "mul",
        not(target_feature = "elpm")
    ),
    test
))]
pub(crate) mod reciprocal;

#[cfg(all(feature = "arch", target_arch = "avr", target_feature = "mul"))]
pub(crate) mod avr;
#[cfg(all(feature = "arch", target_arch = "arm", not(target_has_atomic = "32")))]
pub(crate) mod cortex_m0plus;

#[cfg(all(feature = "arch", target_arch = "avr", target_feature = "mul"))]
pub(crate) use avr as kernels;
#[cfg(all(feature = "arch", target_arch = "arm", not(target_has_atomic = "32")))]
pub(crate) use cortex_m0plus as kernels;
#[cfg(not(any(
    all(feature = "arch", target_arch = "avr", target_feature = "mul"),
    all(feature = "arch", target_arch = "arm", not(target_has_atomic = "32"))
)))]
pub(crate) use portable as kernels;

#[cfg(all(
    feature = "arch",
    target_arch = "avr",
    target_feature = "mul",
    not(target_feature = "elpm")
))]
pub(crate) use avr as tabled;
#[cfg(not(all(
    feature = "arch",
    target_arch = "avr",
    target_feature = "mul",
    not(target_feature = "elpm")
)))]
pub(crate) use portable as tabled;

// An AVR reads flash that is not mapped into memory by an instruction, with a multiplier or without. Flash is mapped where the low byte of an
// address comes first on the stack and no instruction writes flash.
#[cfg(all(
    feature = "arch",
    target_arch = "avr",
    target_feature = "lpmx",
    not(target_feature = "lowbytefirst")
))]
pub(crate) mod flash;
#[cfg(all(
    feature = "arch",
    target_arch = "avr",
    target_feature = "lpmx",
    not(target_feature = "lowbytefirst")
))]
pub(crate) use flash as drawn_sensor;
#[cfg(not(all(
    feature = "arch",
    target_arch = "avr",
    target_feature = "lpmx",
    not(target_feature = "lowbytefirst")
)))]
pub(crate) use portable as drawn_sensor;

/// A number below 2^16 as the core handles it at no extra cost.
#[cfg(target_pointer_width = "16")]
pub(crate) type Narrow = u16;
/// A number below 2^16 as the core handles it at no extra cost.
#[cfg(not(target_pointer_width = "16"))]
pub(crate) type Narrow = u32;

/// The lower bits of a number, which are all of one below 2^16.
#[inline(always)]
#[expect(clippy::inline_always, reason = "nothing, or the choice of a register")]
#[cfg_attr(
    target_pointer_width = "16",
    expect(clippy::cast_possible_truncation, reason = "on purpose")
)]
pub(crate) const fn narrow(value: u32) -> Narrow {
    value as Narrow
}

/// The same number in 32 bits.
#[inline(always)]
#[expect(clippy::inline_always, reason = "nothing, or a zero beside it")]
#[cfg_attr(
    not(target_pointer_width = "16"),
    expect(clippy::unnecessary_cast, reason = "elsewhere they are 16 bits")
)]
pub(crate) const fn wide(value: Narrow) -> u32 {
    value as u32
}

/// `(factor * (count - first) + addend) / 2^shift` at `counts` counts from `first` on, what lies in memory of it.
///
/// # Range
/// `first`, `counts` and `factor` below 2^16; at every one of the counts the sum below 2^32, and its value below 2^16.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub(crate) struct Line {
    pub(crate) first: Narrow,
    pub(crate) counts: Narrow,
    pub(crate) factor: Narrow,
    /// Shifted by [`Line::scale`].
    pub(crate) addend: u32,
}

impl Line {
    /// Places that a core with byte products shifts position and addend by, so that the value is a sum's upper half.
    pub(crate) const fn scale(bits: u32) -> u32 {
        if cfg!(all(
            feature = "arch",
            target_arch = "avr",
            target_feature = "mul"
        )) {
            13_u32.saturating_sub(bits)
        } else {
            0
        }
    }
}

/// `(numerator + h) / (2 h)` with `h = 2^half_step_log2 * (count - first) + half_at_first` at `counts` counts from `first` on.
///
/// # Range
/// `first` and `counts` below 2^16; at every one of the counts h from 1 to below 2^15, numerator + h below 2^32, and the value below 2^16.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(C)]
pub(crate) struct Quotient {
    pub(crate) first: Narrow,
    pub(crate) counts: Narrow,
    pub(crate) half_step: HalfStep,
    pub(crate) half_at_first: Narrow,
    pub(crate) numerator: u32,
}

/// 2^0 to 2^6: itself where the core multiplies, else its logarithm.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(transparent)]
pub(crate) struct HalfStep(pub(crate) Narrow);

impl HalfStep {
    const MULTIPLIES: bool = cfg!(any(
        all(
            feature = "arch",
            target_arch = "avr",
            target_feature = "mul"
        ),
        target_arch = "arm"
    ));

    /// 2^log2.
    pub(crate) const fn of(log2: u8) -> Self {
        Self(if Self::MULTIPLIES {
            narrow(1 << log2)
        } else {
            narrow(log2 as u32)
        })
    }

    /// The logarithm.
    #[expect(clippy::cast_possible_truncation, reason = "0 to 6")]
    pub(crate) const fn log2(self) -> u8 {
        if Self::MULTIPLIES {
            self.0.trailing_zeros() as u8
        } else {
            self.0 as u8
        }
    }

    /// So many times as much.
    #[inline(always)]
    #[expect(
        clippy::inline_always,
        clippy::arithmetic_side_effects,
        reason = "one instruction; positions below 2^16, times 2^6"
    )]
    pub(crate) const fn times(self, position: Narrow) -> u32 {
        if Self::MULTIPLIES {
            wide(position) * wide(self.0)
        } else {
            wide(position) << self.0
        }
    }
}

/// A [`Line`] whose constants are in the code.
///
/// # Range
/// `shift` 11 to 19 with `factor` below 2^16 and every sum below 2^32, or 32 with both below 2^48; every value below 2^16.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ImmediateLine {
    pub(crate) first: u32,
    pub(crate) counts: u32,
    pub(crate) factor: u64,
    pub(crate) addend: u64,
    pub(crate) shift: u32,
}

/// A type with a line.
pub(crate) trait Immediate {
    /// The line.
    const LINE: ImmediateLine;
}

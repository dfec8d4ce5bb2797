//! Sizes and symbols of a linked image (32-bit little-endian ELF), and the rules that an image of the library keeps.

use std::path::Path;

use super::error::CostError;

/// What is known of an image.
#[derive(Debug, Clone)]
pub struct Image {
    /// Bytes of code, tables and initial data.
    pub flash: u32,
    /// Bytes of static RAM.
    pub ram: u32,
    /// Names of all symbols, undefined ones included.
    pub symbols: Vec<String>,
}

const WRITE: u32 = 1;
const ALLOCATE: u32 = 2;
const SYMBOLS: u32 = 2;
const NO_BITS: u32 = 8;

impl Image {
    /// Reads an image.
    ///
    /// # Errors
    /// [`CostError::File`] when it cannot be read or is no such ELF file.
    pub fn read(path: &Path) -> Result<Self, CostError> {
        let bytes = std::fs::read(path).map_err(|error| CostError::file(path, error))?;
        Self::parse(&bytes)
            .ok_or_else(|| CostError::file(path, "not a 32-bit little-endian ELF file"))
    }

    fn parse(bytes: &[u8]) -> Option<Self> {
        (bytes.get(..6)? == b"\x7fELF\x01\x01").then_some(())?;
        let (table, size, number) = (word(bytes, 32)?, half(bytes, 46)?, half(bytes, 48)?);
        let sections: Vec<Section> = (0..number)
            .map(|index| {
                Section::read(
                    bytes,
                    table as usize + usize::from(index) * usize::from(size),
                )
            })
            .collect::<Option<_>>()?;
        let mut image = Self {
            flash: 0,
            ram: 0,
            symbols: Vec::new(),
        };
        for section in &sections {
            if section.flags & ALLOCATE != 0 {
                let writable = section.flags & WRITE != 0;
                image.ram += if writable { section.size } else { 0 };
                image.flash += if section.kind == NO_BITS {
                    0
                } else {
                    section.size
                };
            }
            if section.kind == SYMBOLS {
                let names = sections.get(section.link as usize)?.offset as usize;
                for symbol in 0..section.size / 16 {
                    let at = names + word(bytes, (section.offset + symbol * 16) as usize)? as usize;
                    let name = bytes.get(at..)?.split(|byte| *byte == 0).next()?;
                    image
                        .symbols
                        .push(String::from_utf8_lossy(name).into_owned());
                }
            }
        }
        Some(image)
    }

    /// Rules that the image breaks, each with the symbol that shows it; none for a path of the library.
    #[must_use]
    pub fn broken_rules(&self) -> Vec<String> {
        let mut broken = self.broken_by(rule_against);
        if self.ram > 0 {
            broken.push(format!("static RAM ({} bytes)", self.ram));
        }
        broken
    }

    /// Rules for what a chip does once, at load, that the image breaks: nothing proves or searches constants, or divides more than
    /// 64 bits.
    #[must_use]
    pub fn broken_load_rules(&self) -> Vec<String> {
        self.broken_by(load_rule_against)
    }

    fn broken_by(&self, rule: impl Fn(&str) -> Option<&'static str>) -> Vec<String> {
        let mut broken: Vec<String> = self
            .symbols
            .iter()
            .filter_map(|symbol| Some(format!("{} ({symbol})", rule(symbol)?)))
            .collect();
        broken.sort();
        broken.dedup();
        broken
    }
}

/// Routines of soft-float: the Arm run-time ABI's (IHI 0043), and libgcc's by mode (sf, df) on the other cores.
fn is_soft_float(symbol: &str) -> bool {
    let arm = [
        "f", "d", "cf", "cd", "i2f", "i2d", "ui2f", "ui2d", "l2f", "l2d", "ul2f", "ul2d",
    ];
    if let Some(name) = symbol.strip_prefix("__aeabi_") {
        let operation = ["add", "sub", "rsub", "mul", "div", "cmp", "2"];
        return arm.iter().any(|prefix| {
            name == *prefix
                || name
                    .strip_prefix(prefix)
                    .is_some_and(|rest| operation.iter().any(|word| rest.starts_with(word)))
        });
    }
    // __mulsf3, __floatunsisf, __fixsfsi, avr-libc's __mulsf3_pse and so on.
    symbol.starts_with("__") && ["sf", "df"].iter().any(|mode| symbol.contains(mode))
}

fn rule_against(symbol: &str) -> Option<&'static str> {
    if symbol.contains("panic") || symbol.contains("unwrap_failed") || symbol == "abort" {
        Some("can panic")
    } else if is_soft_float(symbol) {
        Some("soft-float")
    } else if ["malloc", "calloc", "realloc", "free"].contains(&symbol)
        || symbol.contains("__rust_alloc")
    {
        Some("heap")
    } else {
        None
    }
}

fn load_rule_against(symbol: &str) -> Option<&'static str> {
    let long_division = [
        "__udivti3",
        "__divti3",
        "__umodti3",
        "__modti3",
        "__udivmodti4",
    ];
    if long_division.contains(&symbol) || symbol.contains("u128_div_rem") {
        Some("divides more than 64 bits")
    } else if ["floor_sum", "straight_line", "multiplier"]
        .iter()
        .any(|part| symbol.contains(part))
    {
        Some("proves")
    } else {
        None
    }
}

struct Section {
    kind: u32,
    flags: u32,
    offset: u32,
    size: u32,
    link: u32,
}

impl Section {
    fn read(bytes: &[u8], at: usize) -> Option<Self> {
        Some(Self {
            kind: word(bytes, at + 4)?,
            flags: word(bytes, at + 8)?,
            offset: word(bytes, at + 16)?,
            size: word(bytes, at + 20)?,
            link: word(bytes, at + 24)?,
        })
    }
}

fn word(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(bytes.get(at..at + 4)?.try_into().ok()?))
}

fn half(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(bytes.get(at..at + 2)?.try_into().ok()?))
}

#[cfg(test)]
mod tests {
    use super::{load_rule_against, rule_against};

    #[test]
    fn rules_know_the_symbols_of_the_cores() {
        for (symbol, rule) in [
            ("__aeabi_fmul", Some("soft-float")),
            ("__aeabi_ui2f", Some("soft-float")),
            ("__mulsf3", Some("soft-float")),
            ("__floatunsisf", Some("soft-float")),
            (
                "_ZN4core9panicking18panic_bounds_check17h0E",
                Some("can panic"),
            ),
            ("malloc", Some("heap")),
            ("__aeabi_uidiv", None),
            ("__mulsi3", None),
            ("__udivmodsi4", None),
            ("hut_calibrated", None),
        ] {
            assert_eq!(rule_against(symbol), rule, "{symbol}");
        }
        for (symbol, rule) in [
            ("__udivti3", Some("divides more than 64 bits")),
            ("__udivdi3", None),
            (
                "_ZN9tallyvolt8describe13straight_line9ExactLine10multiplier17h0E",
                Some("proves"),
            ),
            ("_ZN9tallyvolt7convert8division13sixteen_steps17h0E", None),
        ] {
            assert_eq!(load_rule_against(symbol), rule, "{symbol}");
        }
    }
}

//! Sizes and symbols of a linked image (32-bit little-endian ELF), and the rules that an image of the library keeps.

use std::path::Path;

use object::elf::{SHF_ALLOC, SHF_WRITE, SHT_NOBITS};
use object::read::elf::{ElfFile32, SectionHeader};
use object::{LittleEndian, Object, ObjectSymbol};

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

impl Image {
    /// Reads an image.
    ///
    /// # Errors
    /// [`CostError::File`] when it cannot be read or is no such ELF file.
    pub fn read(path: &Path) -> Result<Self, CostError> {
        let bytes = std::fs::read(path).map_err(|error| CostError::file(path, error))?;
        Self::parse(&bytes).map_err(|error| {
            CostError::file(path, format!("no 32-bit little-endian ELF file: {error}"))
        })
    }

    fn parse(bytes: &[u8]) -> object::Result<Self> {
        let file = ElfFile32::<LittleEndian>::parse(bytes)?;
        let mut image = Self {
            flash: 0,
            ram: 0,
            symbols: Vec::new(),
        };
        for section in file.sections() {
            let header = section.elf_section_header();
            let flags = header.sh_flags(LittleEndian);
            if !flags.contains(SHF_ALLOC) {
                continue;
            }
            let size = header.sh_size(LittleEndian);
            if flags.contains(SHF_WRITE) {
                image.ram += size;
            }
            if header.sh_type(LittleEndian) != SHT_NOBITS {
                image.flash += size;
            }
        }
        for symbol in file.symbols() {
            let name = String::from_utf8_lossy(symbol.name_bytes()?);
            image.symbols.push(name.into_owned());
        }
        Ok(image)
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

//! Identifiers from a front end's name.

/// C and Rust identifiers of a front end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Names {
    /// For functions and types, like `hut_bank_a`.
    pub lower: String,
    /// For macros and enumerators, like `HUT_BANK_A`.
    pub upper: String,
}

impl Names {
    /// Every run of `-` becomes one `_`, and one at the end is dropped: C++ reserves names with two underscores in a row.
    ///
    /// Two names that differ in nothing else, like `a-b` and `a--b`, therefore give the same identifiers.
    pub fn of(name: &str) -> Self {
        let parts: Vec<&str> = name.split('-').filter(|part| !part.is_empty()).collect();
        let lower = parts.join("_");
        let upper = lower.to_ascii_uppercase();
        Self { lower, upper }
    }

    /// A text written for `front_end` and `FRONT_END` with these names instead.
    pub fn put_into(&self, text: &str) -> String {
        text.replace("front_end", &self.lower)
            .replace("FRONT_END", &self.upper)
    }
}

#[cfg(test)]
mod tests {
    use super::Names;

    #[test]
    fn names_are_identifiers_that_no_language_reserves() {
        let names = Names::of("hut-bank--a-");
        assert_eq!((&*names.lower, &*names.upper), ("hut_bank_a", "HUT_BANK_A"));
        assert_eq!(
            names.put_into("front_end_voltage(FRONT_END_RAIL)"),
            "hut_bank_a_voltage(HUT_BANK_A_RAIL)"
        );
    }
}

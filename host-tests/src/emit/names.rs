//! Identifiers from a front end's name, and free text that cannot leave a comment.

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
    #[must_use]
    pub fn of(name: &str) -> Self {
        let parts: Vec<&str> = name.split('-').filter(|part| !part.is_empty()).collect();
        let lower = parts.join("_");
        let upper = lower.to_ascii_uppercase();
        Self { lower, upper }
    }

    /// A text written for `front_end` and `FRONT_END` with these names instead.
    #[must_use]
    pub fn put_into(&self, text: &str) -> String {
        text.replace("front_end", &self.lower)
            .replace("FRONT_END", &self.upper)
    }
}

/// Free text for a comment: letters, digits and ASCII signs stay, anything else becomes `?`, and no comment ends or starts in
/// it.
///
/// A label or a path must not become code: line breaks would end a line comment, `*/` a block comment, a trailing `\` joins
/// the next line, and direction marks make text look like what it is not.
#[must_use]
pub fn harmless(text: &str) -> String {
    text.chars()
        .map(|c| {
            if c == '\\' {
                '/'
            } else if c == ' ' || c.is_ascii_graphic() || c.is_alphanumeric() {
                c
            } else {
                '?'
            }
        })
        .collect::<String>()
        .replace("*/", "* /")
        .replace("/*", "/ *")
}

/// An argument as a shell takes it: as it is, or in single quotes.
#[must_use]
pub fn quoted(argument: &str) -> String {
    let plain = !argument.is_empty()
        && argument
            .chars()
            .all(|c| c.is_alphanumeric() || "_./-+=:,@%".contains(c));
    if plain {
        argument.to_owned()
    } else {
        format!("'{}'", argument.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::{Names, harmless, quoted};

    #[test]
    fn names_are_identifiers_that_no_language_reserves() {
        let names = Names::of("hut-bank--a-");
        assert_eq!((&*names.lower, &*names.upper), ("hut_bank_a", "HUT_BANK_A"));
        assert_eq!(
            names.put_into("front_end_voltage(FRONT_END_RAIL)"),
            "hut_bank_a_voltage(HUT_BANK_A_RAIL)"
        );
    }

    #[test]
    fn text_stays_inside_its_comment() {
        let hostile = "LFP */ int x; /* \n#error\r\u{202e}\u{7} //\\";
        let tamed = harmless(hostile);
        assert_eq!(tamed, "LFP * / int x; / * ?#error??? ///");
        assert_eq!(harmless("*/*/"), "* / * /");
        assert_eq!(harmless("*\\"), "* /");
        assert_eq!(harmless("Höhenhütte 3"), "Höhenhütte 3");
    }

    #[test]
    fn arguments_are_quoted_where_a_shell_would_split_them() {
        assert_eq!(quoted("front-ends/hut.toml"), "front-ends/hut.toml");
        assert_eq!(quoted("my hut.toml"), "'my hut.toml'");
        assert_eq!(quoted("it's"), "'it'\\''s'");
    }
}

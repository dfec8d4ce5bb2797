//! Free text that cannot leave a comment, and arguments as a shell takes them.

/// Free text for a comment: letters, digits and ASCII signs stay, anything else becomes `?`, and no comment ends or starts in
/// it.
///
/// A label or a path must not become code: line breaks would end a line comment, `*/` a block comment, a trailing `\` joins
/// the next line, and direction marks make text look like what it is not.
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
    use super::{harmless, quoted};

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

//! Text broken into lines.

use textwrap::{Options, WordSeparator, WordSplitter, WrapAlgorithm, fill};

/// Breaks at spaces so that no line passes `width`; lines after the first are indented.
pub(crate) fn wrapped(text: &str, indent: usize, width: usize) -> String {
    let margin = " ".repeat(indent);
    let options = Options::new(width)
        .initial_indent(&margin)
        .subsequent_indent(&margin)
        .break_words(false)
        .word_separator(WordSeparator::AsciiSpace)
        .word_splitter(WordSplitter::NoHyphenation)
        .wrap_algorithm(WrapAlgorithm::FirstFit);
    fill(text, options).split_off(if text.is_empty() { 0 } else { indent })
}

#[cfg(test)]
mod tests {
    use super::wrapped;

    #[test]
    fn only_spaces_are_broken_at() {
        assert_eq!(wrapped("a to-be word", 4, 9), "a\n    to-be\n    word");
        assert_eq!(wrapped("much-too-long", 2, 5), "much-too-long");
        assert_eq!(wrapped("", 3, 5), "");
        assert_eq!(wrapped("a b", 0, usize::MAX), "a b");
    }
}

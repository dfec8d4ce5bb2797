//! Lines of at most a stated length: LF, CRLF and CR end them, and memory does not grow with them.

use std::io::{self, BufRead};

use memchr::memchr2;

/// Bytes of a line that are read.
pub const LINE_BYTES_MAX: usize = 1 << 14;

/// What the next line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Line {
    /// A line, without its end.
    Whole,
    /// A line that is longer than [`LINE_BYTES_MAX`]: its beginning is there, the rest was passed over.
    TooLong,
    /// There is none.
    End,
}

/// A source, line by line.
#[derive(Debug)]
pub struct Lines<R> {
    source: R,
    number: u64,
    after_return: bool,
}

impl<R: BufRead> Lines<R> {
    /// From the first line on.
    pub const fn new(source: R) -> Self {
        Self {
            source,
            number: 0,
            after_return: false,
        }
    }

    /// Number of the line last read, from 1.
    pub const fn number(&self) -> u64 {
        self.number
    }

    /// Reads the next line in place of what `line` held.
    ///
    /// # Errors
    /// The source's.
    pub fn next(&mut self, line: &mut Vec<u8>) -> io::Result<Line> {
        line.clear();
        let mut begun = false;
        let mut long = false;
        loop {
            let part = match self.source.fill_buf() {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                part => part?,
            };
            if part.is_empty() {
                self.number += u64::from(begun);
                return Ok(match (begun, long) {
                    (false, _) => Line::End,
                    (true, true) => Line::TooLong,
                    (true, false) => Line::Whole,
                });
            }
            if self.after_return {
                self.after_return = false;
                if part.first() == Some(&b'\n') {
                    self.source.consume(1);
                    continue;
                }
            }
            begun = true;
            let end = memchr2(b'\n', b'\r', part);
            let text = part.get(..end.unwrap_or(part.len())).unwrap_or(part);
            let room = LINE_BYTES_MAX - line.len();
            long |= text.len() > room;
            line.extend_from_slice(text.get(..room).unwrap_or(text));
            let used = text.len() + usize::from(end.is_some());
            self.after_return = end.and_then(|at| part.get(at)) == Some(&b'\r');
            self.source.consume(used);
            if end.is_some() {
                self.number += 1;
                return Ok(if long { Line::TooLong } else { Line::Whole });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{LINE_BYTES_MAX, Line, Lines};
    use proptest::prelude::*;
    use std::io::BufReader;

    fn lines(bytes: &[u8], capacity: usize) -> Vec<(u64, Vec<u8>)> {
        let mut lines = Lines::new(BufReader::with_capacity(capacity, bytes));
        let mut line = Vec::new();
        let mut all = Vec::new();
        while lines.next(&mut line).expect("memory") == Line::Whole {
            all.push((lines.number(), line.clone()));
        }
        all
    }

    #[test]
    fn every_line_end_is_one() {
        for text in ["a\nb\n\nc", "a\r\nb\r\n\r\nc\r\n", "a\rb\r\rc\r"] {
            for capacity in [1, 2, 3, 100] {
                let found = lines(text.as_bytes(), capacity);
                let wanted = [(1, "a"), (2, "b"), (3, ""), (4, "c")]
                    .map(|(number, line)| (number, line.as_bytes().to_vec()));
                assert_eq!(found, wanted, "{text:?} {capacity}");
            }
        }
    }

    #[test]
    fn a_long_line_is_passed_over_and_the_next_is_read() {
        for (length, found) in [
            (LINE_BYTES_MAX, Line::Whole),
            (LINE_BYTES_MAX + 1, Line::TooLong),
            (1_000_000, Line::TooLong),
        ] {
            let text = format!("{}\nb\n", "x".repeat(length));
            let mut lines = Lines::new(text.as_bytes());
            let mut line = Vec::new();
            assert_eq!(lines.next(&mut line).expect("memory"), found);
            assert!(line.len() <= LINE_BYTES_MAX && line.capacity() <= 2 * LINE_BYTES_MAX);
            assert_eq!(lines.next(&mut line).expect("memory"), Line::Whole);
            assert_eq!((lines.number(), &*line), (2, &b"b"[..]));
        }
    }

    proptest! {
        /// The standard library's lines are the same where only LF and CRLF end them.
        #[test]
        fn lines_are_those_of_the_standard_library(text in "([ab,]|\n|\r\n){0,60}", capacity in 1..9_usize) {
            let found: Vec<Vec<u8>> = lines(text.as_bytes(), capacity).into_iter().map(|(_, line)| line).collect();
            let wanted: Vec<Vec<u8>> = text.lines().map(|line| line.as_bytes().to_vec()).collect();
            prop_assert_eq!(found, wanted);
        }
    }
}

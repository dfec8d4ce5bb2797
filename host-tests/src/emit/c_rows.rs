//! Numbers of a C array, as many a line as fit.

use crate::words::wrapping::wrapped;

/// Columns of a line, with its indent.
const WIDTH: usize = 116;

/// The numbers between the array's braces.
pub(super) fn rows(numbers: &[impl ToString]) -> String {
    let numbers: Vec<String> = numbers.iter().map(ToString::to_string).collect();
    wrapped(&numbers.join(", "), 4, WIDTH)
}

#[cfg(test)]
mod tests {
    use super::rows;

    #[test]
    fn a_line_takes_what_fits() {
        let text = rows(&[1000; 38]);
        let lengths: Vec<usize> = text.lines().map(|line| line.trim().len()).collect();
        // An indent of four and eighteen times six columns are 112; one more would be 117, without the last space.
        assert_eq!(lengths, [107, 107, 10]);
        assert_eq!(rows(&[0_i16; 0]), "");
    }
}

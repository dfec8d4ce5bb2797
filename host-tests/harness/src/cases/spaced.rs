//! Counts evenly spread over a range; every count where that is few enough.

/// At most `number` counts from 0 to `last`, both ends among them.
///
/// # Panics
/// For a `number` below 2: two ends do not fit.
#[must_use]
pub fn counts(last: u32, number: u32) -> Vec<u32> {
    assert!(number >= 2, "two ends do not fit into {number}");
    if last < number {
        return (0..=last).collect();
    }
    let (last, gaps) = (u64::from(last), u64::from(number - 1));
    (0..=gaps)
        .map(|step| u32::try_from(last * step / gaps).expect("at most last, a u32"))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::counts;

    #[test]
    fn is_exhaustive_where_it_fits_and_keeps_the_ends() {
        assert_eq!(counts(4, 5), [0, 1, 2, 3, 4]);
        assert_eq!(counts(1000, 3), [0, 500, 1000]);
        assert_eq!(counts(u32::MAX, 3), [0, u32::MAX / 2, u32::MAX]);
    }
}

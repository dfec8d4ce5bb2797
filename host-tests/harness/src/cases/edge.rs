//! Counts at the ends of everything: of the range, of powers of two, of the integer types.

/// The counts, ascending; those above `last` are there too, because a conversion takes every `u32`.
#[must_use]
pub fn counts(last: u32) -> Vec<u32> {
    let beside = |count: u32| [count.saturating_sub(1), count, count.saturating_add(1)];
    let mut counts: Vec<u32> = (0..32).map(|power| 1 << power).flat_map(beside).collect();
    counts.extend([0, last, last / 2, u32::MAX].into_iter().flat_map(beside));
    counts.sort_unstable();
    counts.dedup();
    counts
}

#[cfg(test)]
mod tests {
    #[test]
    fn holds_both_ends_and_what_lies_beyond() {
        let counts = super::counts(4095);
        for count in [0, 1, 2, 4094, 4095, 4096, u32::MAX - 1, u32::MAX] {
            assert!(counts.contains(&count), "{count}");
        }
        assert!(counts.is_sorted());
    }
}

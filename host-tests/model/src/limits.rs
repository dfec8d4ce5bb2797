//! Limits by walking: which counts are beyond a limit, when every count's value is looked at.

use std::collections::BTreeMap;

/// The counts beyond a limit, as one comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Beyond {
    /// The counts above this one.
    Above(u32),
    /// The counts below this one.
    Below(u32),
}

/// Every value that is read, with the first and the last count that reads it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Walk {
    values: BTreeMap<i32, (u32, u32)>,
    rises: bool,
}

impl Walk {
    /// Notes each count's value, in the order of consecutive counts; none when the values turn back or never move.
    #[must_use]
    pub fn over(readings: impl Iterator<Item = (u32, i32)>) -> Option<Self> {
        let mut values: BTreeMap<i32, (u32, u32)> = BTreeMap::new();
        let mut before: Option<(u32, i32)> = None;
        let mut rises = None;
        for (count, value) in readings {
            if let Some((last_count, last)) = before {
                let consecutive = count == last_count + 1;
                let turns = value != last && rises.is_some_and(|rises| rises != (value > last));
                if !consecutive || turns {
                    return None;
                }
                if value != last {
                    rises = Some(value > last);
                }
            }
            values
                .entry(value)
                .and_modify(|(_, last)| *last = count)
                .or_insert((count, count));
            before = Some((count, value));
        }
        Some(Self {
            values,
            rises: rises?,
        })
    }

    /// Lowest and highest value read.
    #[must_use]
    pub fn range(&self) -> Option<(i32, i32)> {
        let (lowest, _) = self.values.first_key_value()?;
        let (highest, _) = self.values.last_key_value()?;
        Some((*lowest, *highest))
    }

    /// The counts that read more than a limit; none unless some do and some do not.
    #[must_use]
    pub fn over_limit(&self, limit: i32) -> Option<Beyond> {
        self.values.range(..=limit).next()?;
        let (_, nearest) = self.values.range(limit + 1..).next()?;
        Some(self.beyond(*nearest, self.rises))
    }

    /// The counts that read less than a limit; none unless some do and some do not.
    #[must_use]
    pub fn under_limit(&self, limit: i32) -> Option<Beyond> {
        self.values.range(limit..).next()?;
        let (_, nearest) = self.values.range(..limit).next_back()?;
        Some(self.beyond(*nearest, !self.rises))
    }

    /// The run of counts that ends with those of the value nearest to the limit.
    fn beyond(&self, (first, last): (u32, u32), upper_end: bool) -> Beyond {
        if upper_end {
            Beyond::Above(first - 1)
        } else {
            Beyond::Below(last + 1)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn by_hand() {
        let rising = Walk::over([(5, 10), (6, 10), (7, 12)].into_iter()).expect("a walk");
        assert_eq!(rising.over_limit(10), Some(Beyond::Above(6)));
        assert_eq!(rising.over_limit(11), Some(Beyond::Above(6)));
        assert_eq!(rising.under_limit(12), Some(Beyond::Below(7)));
        assert_eq!(
            (rising.over_limit(12), rising.under_limit(10)),
            (None, None)
        );
        let falling = Walk::over([(5, 12), (6, 10), (7, 10)].into_iter()).expect("a walk");
        assert_eq!(falling.over_limit(10), Some(Beyond::Below(6)));
        assert_eq!(falling.under_limit(12), Some(Beyond::Above(5)));
        assert_eq!(Walk::over([(5, 1), (6, 2), (7, 1)].into_iter()), None);
        assert_eq!(Walk::over([(5, 1), (7, 2)].into_iter()), None);
    }
}

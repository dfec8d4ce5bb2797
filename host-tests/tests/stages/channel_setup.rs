//! What belongs to a channel and fits together, or is refused.

use tallyvolt::{Channel, ConfigError};

use super::channel::ON_DIVIDER;

#[test]
fn a_window_that_is_not_the_sum_is_refused() {
    let refused = Channel::<_, 8>::new(&ON_DIVIDER).map(|_| ());
    assert_eq!(
        refused,
        Err(ConfigError::WindowMismatch {
            window: 8,
            samples: 16,
            right_shift: 0
        })
    );
}

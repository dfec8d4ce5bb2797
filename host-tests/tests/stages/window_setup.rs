//! A channel that is made while compiling is the one that is made at start, and no other window passes.

use tallyvolt::{BlockChannel, Channel, ConfigError, Sensing, proven};

use super::channel::ON_DIVIDER;

#[test]
fn both_ways_read_alike_and_refuse_alike() {
    const KEPT: usize = 16;
    let (mut made, mut started) = (
        Channel::<_, KEPT>::of(proven!(ON_DIVIDER.for_window())),
        Channel::<_, KEPT>::new(&ON_DIVIDER).expect("its own window"),
    );
    let (mut block_made, mut block_started) = (
        BlockChannel::<_, KEPT>::of(proven!(ON_DIVIDER.for_window())),
        BlockChannel::<_, KEPT>::new(&ON_DIVIDER).expect("its own window"),
    );
    let mut readings = 0;
    for sample in (0..4096_u16).step_by(13) {
        let window = [sample; KEPT];
        made.samples(&window);
        started.samples(&window);
        let sensing = Sensing::default();
        let reading = made.reading(sensing);
        assert!(reading.is_some());
        assert_eq!(reading, started.reading(sensing));
        let block = block_made.reading(&window, sensing);
        assert_eq!(block, block_started.reading(&window, sensing));
        readings += 1;
    }
    assert_eq!(readings, 316);
}

#[test]
fn no_other_window_passes() {
    fn refused<const WINDOW: usize>() -> u32 {
        let found = ON_DIVIDER.for_window::<WINDOW>().map(|_| ());
        let expected = ConfigError::WindowMismatch {
            window: u32::try_from(WINDOW).unwrap_or(u32::MAX),
            samples: 16,
            right_shift: 0,
        };
        assert_eq!(found, Err(expected));
        assert_eq!(Channel::<_, WINDOW>::new(&ON_DIVIDER).map(|_| ()), found);
        1
    }
    let tried = refused::<1>() + refused::<8>() + refused::<2>() + refused::<64>();
    assert_eq!(tried + refused::<32>() + refused::<1024>(), 6);
    assert!(ON_DIVIDER.for_window::<{ 1 << 20 }>().is_err());
}

//! How long a header is that somebody has to read: with a calibration, and with a sensor and limits besides.

use tallyvolt_host::emit::Lang;
use tallyvolt_model::front_end::{FrontEnd, Topology};

use super::support::shipped_emitted;

/// The most lines of a front end's header: 350, and 550 with a sensor and limits, for a divided input.
///
/// A supply reference has a division besides, in three ways that no core has in common: its own divider, a refined reciprocal,
/// and bits.
fn most(front_end: &FrontEnd) -> usize {
    let divided = matches!(front_end.topology, Topology::DividedInput(_));
    match (divided, front_end.thermistor.is_some()) {
        (true, false) => 350,
        (false, false) => 430,
        (true, true) => 550,
        (false, true) => 670,
    }
}

fn is_short(front_end: &FrontEnd, header: &str) -> bool {
    header.lines().count() <= most(front_end)
}

#[test]
fn headers_are_short() {
    let mut kinds = Vec::new();
    for (front_end, header) in shipped_emitted(Lang::C) {
        let lines = header.lines().count();
        assert!(is_short(&front_end, &header), "{}: {lines}", front_end.name);
        // Control: a header of twice the lines is too long.
        assert!(!is_short(&front_end, &header.repeat(2)));
        kinds.push(most(&front_end));
    }
    kinds.sort_unstable();
    kinds.dedup();
    assert_eq!(kinds.len(), 4, "each kind is among them");
}

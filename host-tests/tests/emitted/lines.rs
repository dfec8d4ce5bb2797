//! How long a header is that somebody has to read: with a calibration, and with a sensor and limits besides.

use tallyvolt_host::emit::Lang;
use tallyvolt_model::front_end::{FrontEnd, Topology};

use super::support::shipped_emitted;

/// The most lines of a front end's header, of either topology.
fn most(front_end: &FrontEnd) -> usize {
    if front_end.thermistor.is_some() {
        550
    } else {
        350
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
        let divided = matches!(front_end.topology, Topology::DividedInput(_));
        kinds.push((most(&front_end), divided));
    }
    kinds.sort_unstable();
    kinds.dedup();
    assert_eq!(kinds.len(), 4, "each kind is among them");
}

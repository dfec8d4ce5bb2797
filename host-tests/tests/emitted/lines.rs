//! How long a header is that somebody has to read: with calibration alone, and with limits, a sensor or both besides.

use std::path::Path;

use tallyvolt_analysis::describe::front_end_file;
use tallyvolt_host::emit::{Lang, emit};
use tallyvolt_model::front_end::{FrontEnd, Topology};

use super::support::{Emitted, shipped_emitted};

/// The most lines of a front end's header, of either topology.
fn most(front_end: &FrontEnd) -> usize {
    if front_end.thermistor.is_some() || front_end.limits.is_some() {
        550
    } else {
        350
    }
}

fn is_short(front_end: &FrontEnd, header: &str) -> bool {
    header.lines().count() <= most(front_end)
}

/// The candidates that can serve, emitted: limits without a sensor.
fn candidates() -> Vec<Emitted> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("front-ends/candidates");
    let entries = std::fs::read_dir(folder).expect("the folder is there");
    entries
        .filter_map(|entry| front_end_file::read(&entry.expect("readable").path()).ok())
        .map(|front_end| {
            let header = emit(&front_end, Lang::C, "as the test does").expect("it serves");
            (front_end, header)
        })
        .collect()
}

#[test]
fn headers_are_short() {
    let candidates = candidates();
    assert_eq!(candidates.len(), 4, "all but one");
    let mut kinds = Vec::new();
    for (front_end, header) in shipped_emitted(Lang::C).into_iter().chain(candidates) {
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

/// A circuit that does not meet what its file asks converts exactly all the same; the head names it.
#[test]
fn what_is_not_met_stands_in_the_head() {
    let (mut front_end, met) = shipped_emitted(Lang::C).swap_remove(0);
    assert!(!met.contains("not met"));
    front_end.reference.dropout_uv = Some(3_000_000);
    for (lang, sign) in [(Lang::C, " * "), (Lang::Rust, "// ")] {
        let text = emit(&front_end, lang, "as the test does").expect("it converts exactly");
        let row = format!("{sign}not met    reference below the emptiest cell: ");
        assert_eq!(text.matches(&row).count(), 1, "{text}");
    }
}

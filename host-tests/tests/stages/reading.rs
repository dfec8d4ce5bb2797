//! A reading's faults and alarms: one bit each, and a name for each fault.

use tallyvolt::{Alarms, Faults};

#[test]
fn names_and_bits_of_faults() {
    let all = Faults::ALL
        .iter()
        .fold(Faults::NONE, |set, (fault, _)| set.with(*fault));
    assert_eq!(all.bits(), 0x1ff);
    for (place, (fault, name)) in Faults::ALL.iter().enumerate() {
        assert_eq!(fault.bits(), 1 << place, "{name}");
    }
}

/// Every number: one whose bits are all known comes back as it is, any other is refused.
#[test]
fn bits_of_faults_and_alarms_come_back() {
    let known = (0..=u16::MAX).filter(|bits| match Faults::from_bits(*bits) {
        Some(faults) => faults.bits() == *bits,
        None => false,
    });
    assert_eq!(known.collect::<Vec<_>>(), (0..=0x1ff).collect::<Vec<_>>());
    let known = (0..=u8::MAX).filter(|bits| match Alarms::from_bits(*bits) {
        Some(alarms) => alarms.bits() == *bits && alarms.any() == (*bits != 0),
        None => false,
    });
    assert_eq!(known.collect::<Vec<_>>(), (0..=0xf).collect::<Vec<_>>());
    assert!(Alarms::from_bits(2).is_some_and(|alarms| alarms.under_voltage));
}

/// A fault that is there stays there when it is found once more.
#[test]
fn a_fault_found_twice_is_there_once() {
    for (fault, name) in Faults::ALL {
        let once = Faults::NONE.with(fault);
        assert_eq!(once.with(fault), once, "{name}");
        assert_eq!(once.with(Faults::NONE), once, "{name}");
    }
}

/// Every set of faults against every other, as sets of bits.
#[test]
fn a_set_of_faults_contains_its_subsets() {
    let sets: Vec<Faults> = (0..=0x1ff).filter_map(Faults::from_bits).collect();
    for set in &sets {
        assert_eq!(set.is_empty(), set.bits() == 0);
        for part in &sets {
            let all_there = part.bits() & !set.bits() == 0;
            assert_eq!(set.contains(*part), all_there, "{set:?} {part:?}");
        }
    }
    assert_eq!(sets.len(), 512);
}

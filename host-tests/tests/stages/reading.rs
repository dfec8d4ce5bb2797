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

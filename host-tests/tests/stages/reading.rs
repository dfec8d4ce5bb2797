//! A reading's faults: one bit and one name each.

use tallyvolt::Faults;

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

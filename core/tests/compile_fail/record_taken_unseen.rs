//! A record that might be another front end's, used without looking.

use tallyvolt::{SupplyConversion, SupplyReference};

fn load(input: &SupplyReference, bytes: &[u8]) -> SupplyConversion {
    input.load(bytes)
}

fn main() {
    let _ = load;
}

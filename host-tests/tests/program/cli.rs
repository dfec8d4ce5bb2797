//! What the program prints, snapshot by snapshot. `TRYCMD=overwrite cargo test -p tallyvolt-host --test program cli` renews them.

#[test]
fn what_is_printed_is_what_is_checked_in() {
    trycmd::TestCases::new().case("tests/program/cmd/*.trycmd");
}

#!/bin/sh
# Every way to embed the library: the emitted header is current, and each example builds without a warning and runs.
#
#   host-tests/embedding/run.sh [PROGRAM]    PROGRAM: tallyvolt, target/release/tallyvolt by default
set -eu
cd "$(dirname "$0")/../.."
program=${1:-target/release/tallyvolt}
"$program" emit host-tests/front-ends/hut-divided-thermistor.toml --lang c \
    --out host-tests/embedding/c/hut_divided_thermistor.h --check
# The control: a header that is not current is noticed.
if "$program" emit host-tests/front-ends/hut-divided-12bit.toml --lang c \
    --out host-tests/embedding/c/hut_divided_thermistor.h --check 2>/dev/null; then
    echo 'a header of another front end passes for this one' >&2
    exit 1
fi
cd host-tests/embedding
cargo clippy --quiet --all-targets -- -D warnings
# On the compiler that the library declares, where it is here.
oldest=$(sed -n 's/^rust-version = "\(.*\)"$/\1/p' Cargo.toml)
if rustup run "$oldest" rustc --version >/dev/null 2>&1; then
    cargo "+$oldest" check --quiet --lib
fi
cargo test --quiet

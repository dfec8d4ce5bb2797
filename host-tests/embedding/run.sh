#!/bin/sh
# Every way to embed the library: the header is emitted, and each example builds without a warning and runs.
#
#   host-tests/embedding/run.sh [PROGRAM]    PROGRAM: tallyvolt, target/release/tallyvolt by default
set -eu
cd "$(dirname "$0")/../.."
program=${1:-target/release/tallyvolt}
mkdir -p host-tests/embedding/target/emitted
"$program" emit host-tests/front-ends/hut-divided-thermistor.toml --lang c \
    --out host-tests/embedding/target/emitted/hut_divided_thermistor.h --force
cd host-tests/embedding
cargo clippy --quiet --all-targets -- -D warnings
# On the compiler that the library declares, where it is here.
oldest=$(sed -n 's/^rust-version = "\(.*\)"$/\1/p' Cargo.toml)
if rustup run "$oldest" rustc --version >/dev/null 2>&1; then
    cargo "+$oldest" check --quiet --lib
fi
cargo test --quiet

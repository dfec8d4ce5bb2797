#!/bin/sh
# SPDX-License-Identifier: MIT OR Apache-2.0
# Everything about small cores: packages, runners, figures against the budget, controls and the whole firmware.
#
#   host-tests/cores/ci.sh            exit code 0: every answer exact, nothing grew, every control noticed
#   host-tests/cores/ci.sh install    only what needs root and the network
#   host-tests/cores/ci.sh run        only what does not
#
# Needs root (or sudo) for packages that are missing, and the network for these and for the crates; what follows is built and
# run offline.
set -eu
cd "$(dirname "$0")/../.."

install() {
    packages="gcc g++ clang libclang-rt-dev libc6-dev gcc-avr avr-libc gcc-arm-none-eabi gcc-riscv64-unknown-elf binutils-riscv64-unknown-elf lld libsimavr-dev libelf-dev
libunicorn-dev rustc-web cargo-web rust-web-src"
    missing=""
    for package in $packages; do
        dpkg-query -W -f '${Status}\n' "$package" 2>/dev/null | grep -q 'install ok installed' || missing="$missing $package"
    done
    if [ -n "$missing" ]; then
        sudo=""
        [ "$(id -u)" -eq 0 ] || sudo=sudo
        $sudo apt-get update -q
        # shellcheck disable=SC2086
        DEBIAN_FRONTEND=noninteractive $sudo apt-get install -q -y --no-install-recommends $missing
    fi

    # Crates of the images and of the standard library, for Debian's cargo. Nothing after this needs the network.
    (
        unset RUSTUP_TOOLCHAIN CARGO
        export RUSTC=/usr/bin/rustc RUSTC_BOOTSTRAP=1
        /usr/bin/cargo fetch -q --locked --manifest-path host-tests/cores/Cargo.toml
        /usr/bin/cargo fetch -q --locked --manifest-path /usr/lib/rustlib/src/rust/library/Cargo.toml
    )
    cargo fetch -q --locked --manifest-path host-tests/cores/examples/rust/Cargo.toml
}

[ "${1-}" = run ] || install
[ "${1-}" = install ] && exit 0

host-tests/cores/runners/self-test/run
# The release build is there; a development build without what tests bring would be one more of nearly everything.
cargo run -q --release -p tallyvolt-host --bin tallyvolt -- cost --toolchain debian --compare
cargo test -q --workspace --test emitted small_ -- --ignored --nocapture

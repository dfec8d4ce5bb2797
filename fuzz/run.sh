#!/usr/bin/env bash
# Builds and runs the fuzz targets with a stable toolchain and nothing installed beside it but a C++ compiler.
#
#   fuzz/run.sh [SECONDS]    every target for SECONDS (20), from its checked-in corpus; any crash fails
#   fuzz/run.sh control      every target with a firmware that is wrong on purpose: each must crash
#
# New inputs and crashes are kept in fuzz/target. `cargo fuzz run -s none TARGET` works as well, where it is installed.
# No sanitizer of memory: no crate here has unsafe code of its own.
set -euo pipefail
cd "$(dirname "$0")"

targets=(front_end_file conversion decimator channel record record_file csv_file)
work=${CARGO_TARGET_DIR:-$PWD/target}
host=$(rustc -vV | sed -n 's/^host: //p')

# The coverage counters that libFuzzer steers by, as its documentation asks for (edges, inline counters, a table of
# places, traced comparisons). With --target they reach the crates and spare build scripts and derive macros.
export RUSTFLAGS="--cfg fuzzing -Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
-Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
-Cllvm-args=-sanitizer-coverage-trace-compares"
cargo build --release --locked --target "$host"

binary() { echo "$work/$host/release/$1"; }
# Leak detection belongs to a sanitizer; -timeout makes a hang a crash, -rss_limit_mb a flood of memory.
limits=(-detect_leaks=0 -timeout=10 -rss_limit_mb=1024 -print_final_stats=1)

if [ "${1:-}" = control ]; then
    # A corpus in folders has one for each reader of its target, and each must notice by itself.
    for corpus in $(cd corpus && printf '%s\n' "${targets[@]}" */*/ | grep -vx csv_file); do
        target=${corpus%%/*}
        crashes=$(mktemp -d)
        mkdir "$crashes/found"
        if TALLYVOLT_FUZZ_CONTROL=1 "$(binary "$target")" "${limits[@]}" -runs=100000 \
            -artifact_prefix="$crashes/" "$crashes/found" "corpus/$corpus" >"$crashes/log" 2>&1; then
            echo "fuzz control: $corpus did not notice a wrong firmware" >&2
            exit 1
        fi
        if ! ls "$crashes"/crash-* >/dev/null 2>&1 || ! grep -q "panicked at" "$crashes/log"; then
            cat "$crashes/log" >&2
            echo "fuzz control: $corpus failed, but not by a panic with an input kept" >&2
            exit 1
        fi
        rm -r "$crashes"
        echo "fuzz control: $corpus notices a wrong firmware"
    done
    exit
fi

for target in "${targets[@]}"; do
    found=$work/corpus/$target
    crashes=$work/crashes/$target
    mkdir -p "$found" "$crashes"
    echo "fuzz $target: ${1:-20} s"
    log=$(mktemp)
    if ! "$(binary "$target")" "${limits[@]}" -max_total_time="${1:-20}" -artifact_prefix="$crashes/" \
        "$found" "corpus/$target" >"$log" 2>&1; then
        tail -n 60 "$log" >&2
        echo "fuzz $target: FAILED; the input is kept in $crashes" >&2
        exit 1
    fi
    grep -E "^(Done|stat::number_of_executed_units|stat::average_exec_per_sec)|DONE" "$log"
    rm "$log"
done

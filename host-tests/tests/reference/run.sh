#!/usr/bin/env bash
# Whole budgets against an independent reference library (GTC, Measurement Standards Laboratory of New Zealand, MIT):
# bash host-tests/tests/reference/run.sh PROGRAM, where PROGRAM is the built `tallyvolt`. Exits 1 on any difference.
set -Eeuo pipefail
program=$(realpath "${1:?give the path of the built tallyvolt}")
cd "$(dirname "$0")"

if ! python3 -c 'import GTC; raise SystemExit(GTC.__version__ != "1.5.1")' 2>/dev/null; then
    packages=$(mktemp -d)
    trap 'rm -rf "$packages"' EXIT
    python3 -m pip install --quiet --target "$packages" --requirement requirements.txt
    export PYTHONPATH="$packages"
fi
python3 budgets.py "$program"

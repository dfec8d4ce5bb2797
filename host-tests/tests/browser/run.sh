#!/usr/bin/env bash
# Every kind of page in a real browser (Debian's Chromium): style, console, requests, widths, contrast, accessibility
# (axe-core, Deque, MPL-2.0: a tool beside the tests, part of nothing), print.
#
# bash host-tests/tests/browser/run.sh PROGRAM, where PROGRAM is the built `tallyvolt`. What is missing is installed first;
# once it is there, nothing touches the network. `run.sh install` does only that. Exits 1 when anything is wrong.
# `run.sh PROGRAM shots FOLDER` draws the pictures of the documentation instead: the pages as the browser shows them.
set -Eeuo pipefail
program=${1:?give the path of the built tallyvolt, or install}
[ "$program" = install ] || program=$(realpath "$program")
shots=${3:+$(realpath "$3")}
cd "$(dirname "$0")"
tests=$PWD
place=$(realpath ../../..)/target/browser

missing=()
command -v chromium >/dev/null || missing+=(chromium)
command -v pdftoppm >/dev/null || missing+=(poppler-utils)
command -v node >/dev/null || missing+=(nodejs)
command -v npm >/dev/null || missing+=(npm)
[ -n "$(find /usr/share/fonts -name '*.ttf' -print -quit 2>/dev/null)" ] || missing+=(fonts-dejavu-core)
if [ ${#missing[@]} -gt 0 ]; then
    apt-get update -q
    DEBIAN_FRONTEND=noninteractive apt-get install -qy --no-install-recommends "${missing[@]}"
fi

# Modules are found beside the program that asks for them: everything runs in one place, outside the source.
mkdir -p "$place"
if ! cmp -s package-lock.json "$place/installed"; then
    cp package.json package-lock.json "$place/"
    (cd "$place" && npm ci --ignore-scripts --no-audit --no-fund --loglevel=error)
    # Last, so that what broke off is not taken for done.
    cp package-lock.json "$place/installed"
fi
[ "$program" != install ] || exit 0
cp ./*.mjs "$place/"
TALLYVOLT_HOST_TESTS=$(realpath "$tests/../..") node "$place/${2:-pages}.mjs" "$program" "$shots"

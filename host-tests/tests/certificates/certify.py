#!/usr/bin/env python3
"""States in SMT-LIB, for each front end, that some count is converted wrongly, and lets z3 refute it.

    certify.py PROGRAM FOLDER FILE...

PROGRAM is `tallyvolt`: the constants are read from the C header that it emits. The exact voltage is worked out here, from the
front-end file, in fractions (docs/numerics.md has the equations); nothing is shared with the library, the model or the sweep. The
statements stay in FOLDER, for any solver. Exit code 0: every statement is refuted, and every control, constants that are wrong by one step, is not.
"""

import re
import shutil
import subprocess
import sys
import tomllib
from fractions import Fraction
from pathlib import Path

DIVIDED = re.compile(r"as drawn +\((\d+) \* \(count - (\d+)\) \+ (\d+)\) >> (\d+)")
SUPPLY = re.compile(r"as drawn +(\d+) / \(\(\(count - (\d+)\) << (\d+)\) \+ (\d+)\) to nearest")
READS = re.compile(r"counts (\d+) to (\d+)")
# What the code of the shortest form says, beside what the header's comment says.
CODE = re.compile(r"\(\(UINT32_C\((\d+)\) \* position \+ UINT32_C\((\d+)\)\) >> (\d+)\)")


def model(path):
    """The exact voltage in output steps: (topology, A, centre) of V = A * (c + centre), or V = A / (c + centre)."""
    described = tomllib.loads(path.read_text())
    converter, reference = described["converter"], described["reference"]
    samples, shift = converter.get("samples", 1), converter.get("right_shift", 0)
    top = 2 ** converter["bits"] - (1 if converter["full_scale"] == "2^n-1" else 0)
    full_scale = Fraction(top * samples, 2**shift)
    centre = Fraction(0)
    if converter["code_centre"] == "half":
        centre = Fraction(samples, 2 ** (shift + 1)) + Fraction(2**shift - 1, 2 ** (shift + 1))
    unit = described.get("output", {}).get("unit_uv", 1000)
    steps = Fraction(str(reference["microvolts"])) / unit
    if described["topology"] == "supply-reference":
        return "supply", steps * full_scale, centre
    top_ohms, bottom_ohms = (Fraction(str(described["divider"][key])) for key in ("top_ohms", "bottom_ohms"))
    return "divided", steps * (top_ohms + bottom_ohms) / bottom_ohms / full_scale, centre


def whole(number):
    return str(number) if number >= 0 else f"(- {-number})"


def statement(path, kind, factor, centre, constants, counts):
    """Two whole numbers differ when a third, `between`, is above one of them and not above the other: asked both ways."""
    lines = [
        f"; {path.name}: some count from {counts[0]} to {counts[1]} is converted wrongly. `unsat` twice refutes it.",
        f"(set-logic {'QF_LIA' if kind == 'divided' else 'QF_NIA'})",
        "(declare-const count Int) (declare-const between Int)",
        f"(assert (<= {counts[0]} count {counts[1]}))",
    ]
    # Each side as above / below: its value is the whole part of it.
    if kind == "divided":
        multiplier, first, addend, shift = constants
        firmware = f"(+ (* {multiplier} (- count {first})) {addend})", str(2**shift)
        value = factor * centre + Fraction(1, 2)
        below = factor.denominator * value.denominator
        exact = f"(+ (* {factor * below} count) {whole(value * below)})", str(below)
    else:
        numerator, first, step, at_first = constants
        denominator = f"(+ (* {2**step} (- count {first})) {at_first})"
        firmware = f"(+ {2 * numerator} {denominator})", f"(* 2 {denominator})"
        parts = centre.denominator
        position = f"(+ (* {parts * factor.denominator} count) {centre * parts * factor.denominator})"
        exact = f"(+ {2 * factor.numerator * parts} {position})", f"(* 2 {position})"
    below = [f"(< {above} (* {under} between))" for above, under in (firmware, exact)]
    for lower, upper in (below, reversed(below)):
        lines += ["(push 1)", f"(assert (and {lower} (not {upper})))", "(check-sat)", "(pop 1)"]
    return "\n".join([*lines, ""])


def slipped(kind, constants, counts):
    """Constants that are wrong by the least that some count must show: one output step at one end of the range."""
    if kind == "divided":
        multiplier, first, addend, shift = constants
        return multiplier - -(-(2**shift) // (counts[1] - first)), first, addend, shift
    return constants[0] + constants[3], *constants[1:]


def emitted(program, path):
    header = subprocess.run([program, "emit", path, "--lang", "c"], check=True, capture_output=True, text=True).stdout
    counts = tuple(map(int, READS.search(header).groups()))
    divided, supply = DIVIDED.search(header), SUPPLY.search(header)
    if supply:
        return "supply", tuple(map(int, supply.groups())), counts
    multiplier, first, addend, shift = map(int, divided.groups())
    code = CODE.search(header)
    if code and tuple(map(int, code.groups())) != (multiplier, addend, shift):
        sys.exit(f"{path}: the header's comment and its code differ: {divided.group()} and {code.group()}")
    return "divided", (multiplier, first, addend, shift), counts


def answer(solver, file):
    """`unsat` when both ways are refuted, `sat` when one is confirmed; else what the solver said."""
    asked = subprocess.run([solver, "smt.arith.solver=2", "-T:120", file], capture_output=True, text=True)
    said = asked.stdout.split()
    if said == ["unsat", "unsat"]:
        return "unsat"
    return "sat" if "sat" in said and len(said) == 2 else " ".join(said)


def main():
    program, folder, files = sys.argv[1], Path(sys.argv[2]), [Path(file) for file in sys.argv[3:]]
    solver = shutil.which("z3")
    if solver is None:
        sys.exit("z3 is not here: Debian's package z3, or pip's z3-solver")
    folder.mkdir(parents=True, exist_ok=True)
    wrong = []
    for path in files:
        kind, factor, centre = model(path)
        form, constants, counts = emitted(program, path)
        assert form == kind, path
        controls = slipped(kind, constants, counts)
        for name, these, expected in (("", constants, "unsat"), ("-control", controls, "sat")):
            file = folder / f"{path.stem}{name}.smt2"
            file.write_text(statement(path, kind, factor, centre, these, counts))
            said = answer(solver, file)
            print(f"{file.name}: {said}")
            if said != expected:
                wrong.append(f"{file}: {said}, and not {expected}")
    if not files or wrong:
        sys.exit("\n".join(wrong) or "no front end was given")
    print(f"{len(files)} front ends: no count is converted wrongly, and a wrong constant is found in each")


main()

"""Budgets of front ends by GTC, held against `tallyvolt budget --json`.

The model is written down again here from docs/budget.md, in another language and with automatic differentiation, and
shares nothing with the program but the front-end files.
"""

import json
import math
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

from GTC import component, dof, set_correlation, type_b, uncertainty, ureal, value
from GTC.reporting import k_factor

# Difference quotients and rounding of the program stay below this, relatively.
TOLERANCE = 1e-5
CANDIDATES = Path(__file__).parents[2] / "front-ends" / "candidates"

# What the candidates do not have: other laws of drift, correlated resistors, noise from few readings, a right shift.
VARIANT = """
name = "variant"
topology = "divided-input"
[cell]
chemistry = "NMC"
min_mv = 2500
nominal_mv = 3600
max_mv = 4200
[converter]
bits = 12
full_scale = "2^n-1"
samples = 64
right_shift = 3
offset_lsb = 3
gain_lsb = 2.5
inl_lsb = 1.25
noise_rms_lsb = {noise}
noise_readings = 8
leakage_na = 100
[reference]
microvolts = 1_250_000
tolerance_ppm = 2000
tempco_ppm_per_k = 30
drift = "{drift}"
ageing_ppm = 250
[divider]
top_ohms = 59000
bottom_ohms = 22100
tolerance_ppm = 1000
tempco_ppm_per_k = 50
correlation = {correlation}
[environment]
calibrated_at_c = 21.5
min_c = -30
max_c = 70
[meter]
reading_ppm = 60
range_ppm = 20
range_mv = 10000
[calibration]
points = 1
at_mv = 3700
low_mv = 2800
high_mv = 4100
readings = 4
"""


def limit(half):
    return ureal(0, half / math.sqrt(3), independent=False)


class Reading:
    """What differs from reading to reading, in steps of one sample."""

    def __init__(self, converter, counts):
        rms = converter.get("noise_rms_lsb", 0)
        samples = converter.get("samples", 1)
        together = samples * counts
        freedom = converter["noise_readings"] - 1 if "noise_readings" in converter else math.inf
        self.parts = [limit(converter.get("inl_lsb", 0))]
        if rms >= 0.5 and together > 1:
            scale = 1 / math.sqrt(together)
            stairs = math.exp(-2 * (math.pi * rms) ** 2) / math.pi
            self.parts += [
                ureal(0, rms * scale, freedom),
                ureal(0, scale / math.sqrt(12)),
                ureal(0, type_b.arcsine(stairs)),
            ]
        else:
            self.parts += [ureal(0, rms, freedom), limit(0.5)]
        shift = converter.get("right_shift", 0)
        if shift:
            self.parts.append(limit(2**shift / samples / 2))
        self.steps = sum(self.parts)


def budget(front_end):
    """Error in mV by (calibration, temperature, voltage), and the inputs by the program's names."""
    cell, converter, reference = (front_end[key] for key in ("cell", "converter", "reference"))
    divided = front_end["topology"] == "divided-input"
    divider = front_end.get("divider", {})
    environment = front_end.get("environment", {"calibrated_at_c": 25, "min_c": 25, "max_c": 25})
    plan = front_end.get("calibration", {})
    full_scale = 2 ** converter["bits"] - (converter.get("full_scale") == "2^n-1")
    nominal_mv = reference["microvolts"] / 1000

    inputs = {
        "reference tolerance": limit(reference.get("tolerance_ppm", 0)),
        "reference drift": limit(reference.get("tempco_ppm_per_k", 0)),
        "reference ageing": limit(reference.get("ageing_ppm", 0)),
        "top resistor tolerance": limit(divider.get("tolerance_ppm", 0)),
        "bottom resistor tolerance": limit(divider.get("tolerance_ppm", 0)),
        "top resistor drift": limit(divider.get("tempco_ppm_per_k", 0)),
        "bottom resistor drift": limit(divider.get("tempco_ppm_per_k", 0)),
        "input leakage": limit(converter.get("leakage_na", 0)),
        "converter offset": limit(converter.get("offset_lsb", 0)),
        "converter gain error": limit(converter.get("gain_lsb", 0)),
        "output rounding": limit(front_end.get("output", {}).get("unit_uv", 1000) / 2000),
        "meter": limit(1 if "meter" in front_end else 0),
        "module constants": limit(front_end.get("output", {}).get("unit_uv", 1000) / 1000 / 20),
    }
    if divider.get("correlation"):
        for kind in ("tolerance", "drift"):
            set_correlation(
                divider["correlation"], inputs[f"top resistor {kind}"], inputs[f"bottom resistor {kind}"]
            )

    def steps(volts_mv, reference_k, resistor_k, used):
        """Mean steps of the board; `used`: it has aged, and current leaks into its pin."""
        ppm = inputs["reference tolerance"] + inputs["reference drift"] * reference_k
        if used:
            ppm = ppm + inputs["reference ageing"]
        actual_mv = nominal_mv * (1 + ppm / 1e6)
        if divided:
            top, bottom = (
                divider[f"{side}_ohms"]
                * (1 + (inputs[f"{side} resistor tolerance"] + inputs[f"{side} resistor drift"] * resistor_k) / 1e6)
                for side in ("top", "bottom")
            )
            pin_mv = volts_mv * bottom / (top + bottom)
            if used:
                pin_mv = pin_mv + inputs["input leakage"] * 1e-6 * top * bottom / (top + bottom)
            ratio = pin_mv / actual_mv
        else:
            ratio = actual_mv / volts_mv
        return ratio * (full_scale + inputs["converter gain error"]) + inputs["converter offset"]

    multiple = (divider["top_ohms"] + divider["bottom_ohms"]) / divider["bottom_ohms"] if divided else 1
    constant = nominal_mv * multiple / full_scale if divided else nominal_mv * full_scale

    def reads(count):
        return constant * count if divided else constant / count

    meter = front_end.get("meter", {"reading_ppm": 0})
    range_mv = meter.get("range_ppm", 0) * meter.get("range_mv", 0) / 1e6

    def metered(volts_mv):
        return volts_mv + inputs["meter"] * (volts_mv * meter["reading_ppm"] / 1e6 + range_mv)

    bench_c, low_c, high_c = (environment[key] for key in ("calibrated_at_c", "min_c", "max_c"))
    boxed = reference.get("drift", "slope") == "box"

    def climate(resistor_k, box_k):
        return (box_k if boxed else resistor_k, resistor_k)

    span = high_c - low_c
    farthest_c = max((low_c, high_c), key=lambda c: abs(c - bench_c))
    bench = climate(bench_c - 25, 0)
    climates = {
        ("uncalibrated", "at calibration temperature"): climate(bench_c - 25, span),
        ("uncalibrated", "over the range"): climate(max(abs(low_c - 25), abs(high_c - 25)), span),
        ("calibrated", "at calibration temperature"): bench,
        ("calibrated", "over the range"): climate(farthest_c - 25, span),
    }

    # Calibration: one point gives a gain; two points the line through both, in counts or in 1 / V.
    counts = plan.get("readings", 1)
    at, low, high = (
        plan.get(key, cell[other]) for key, other in (("at_mv", "nominal_mv"), ("low_mv", "min_mv"), ("high_mv", "max_mv"))
    )
    one_gain = metered(at) / reads(steps(at, *bench, False) + Reading(converter, counts).steps)
    p_low, p_high = (steps(mv, *bench, False) + Reading(converter, counts).steps for mv in (low, high))
    if divided:
        gain = (metered(high) - metered(low)) / (constant * (p_high - p_low))
        offset = p_low - metered(low) / (gain * constant)
    else:
        gain = (p_low - p_high) / (constant * (1 / metered(low) - 1 / metered(high)))
        offset = p_low - gain * constant / metered(low)
    corrections = {
        "uncalibrated": (1, 0),
        "one-point": (one_gain, 0),
        "two-point": (gain, offset),
    }
    reading = Reading(converter, 1)
    errors = {}
    for state, (gain, offset) in corrections.items():
        for temperature in ("at calibration temperature", "over the range"):
            kind = state if state == "uncalibrated" else "calibrated"
            kelvins = climates[kind, temperature]
            for mv in (cell["min_mv"], cell["nominal_mv"], cell["max_mv"]):
                count = steps(mv, *kelvins, True) + reading.steps - offset
                error = gain * reads(count) - mv + inputs["output rounding"]
                if state != "uncalibrated":
                    error = error + inputs["module constants"]
                errors[state, temperature, mv] = error
    return errors, inputs


def differences(made, errors, inputs):
    """Every figure of the program that is not GTC's, in words, and how many were compared."""
    found, compared = [], 0
    names = [row["term"] for row in made["terms"]]

    def compare(what, program, reference, floor):
        nonlocal compared
        compared += 1
        if not math.isclose(program, reference, rel_tol=TOLERANCE, abs_tol=floor):
            found.append(f"{what}: {program} by the program, {reference} by GTC")

    for state in made["states"]:
        for site, total in enumerate(state["totals"]):
            key = (state["calibration"], state["temperature"], round(total["at_mv"]))
            error = errors[key]
            compare(f"{key} error", 0.0, value(error), 1e-9)
            compare(f"{key} u_c", total["combined_mv"], uncertainty(error), 0)
            freedom = dof(error)
            compare(f"{key} dof", 1 / (total["effective_dof"] or math.inf), 1 / freedom, 1e-9)
            factor = k_factor(math.floor(freedom) if freedom < 1e4 else math.inf, 95)
            compare(f"{key} k", total["coverage_factor"], factor, 0)
            for name, quantity in inputs.items():
                if name in names:
                    part = state["contributions"][names.index(name)]["contribution_mv"][site]
                    compare(f"{key} {name}", part, abs(component(error, quantity)), 1e-7)
    return found, compared


def main(program):
    texts = [
        VARIANT.format(noise=noise, drift=drift, correlation=correlation)
        for noise, drift, correlation in (("0.8", "slope", "0"), ("0.3", "box", "0.75"), ("12", "box", "0.25"))
    ]
    texts += [path.read_text() for path in sorted(CANDIDATES.glob("*.toml")) if "-e-" not in path.name]
    failed = total = 0
    with tempfile.TemporaryDirectory() as folder:
        for index, text in enumerate(texts):
            path = Path(folder) / f"{index}.toml"
            path.write_text(text)
            command = [program, "budget", str(path), "--json", "--trials", "10000"]
            run = subprocess.run(command, capture_output=True, text=True)
            if run.returncode not in (0, 1) or not run.stdout:
                sys.exit(f"{' '.join(command)} failed:\n{run.stderr}")
            made = json.loads(run.stdout)
            errors, inputs = budget(tomllib.loads(text))
            found, compared = differences(made, errors, inputs)
            total += compared
            print(f"{made['name']}: {compared} figures compared, {len(found)} differ")
            for line in found[:20]:
                print("  " + line)
            failed += len(found)
            # The control: a thousandth on one figure must be seen.
            made["states"][3]["totals"][1]["combined_mv"] *= 1.001
            if not differences(made, errors, inputs)[0]:
                sys.exit("a figure that was made wrong on purpose was not noticed")
    print(f"{total} figures in {len(texts)} budgets, {failed} differ from GTC; each budget made wrong on purpose was noticed")
    sys.exit(1 if failed else 0)


main(sys.argv[1])

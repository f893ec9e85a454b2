"""The ohms of joints and bridges as the diagnosis estimates them, against the truth; prints tables.

    python tests/study/ohms.py --cases 400 --seed 1

A joint or bridge in each case. Columns, by the true ohms: ``named`` the share of cases whose
suspects hold the truth, whose estimate is then taken; ``error`` the median of the size of ln
(estimate / truth); ``held`` how often the 90 % interval holds the truth. ``by hand`` is the error
of what one would reckon from the drawing: of a joint the most by which a reading of its conductor
is too high, of a bridge the ohms that, beside what the drawing gives, make the lowest reading
between its conductors.
"""

import argparse
import math
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import scoring
from options import parser_of, settings_of
from resistances import readings
from simulator import Case, Settings, cases, write

MODES = ("high-resistance", "bridged")
EDGES = {
    "high-resistance": (0.0, 0.5, 1.0, 3.0, 10.0, math.inf),
    "bridged": (0.0, 0.1, 0.3, 1.0, 3.0, math.inf),
}


@dataclass(frozen=True, slots=True)
class Estimate:
    """One case: true ohms, estimate, ends of the interval (nan if not named), and by hand."""

    mode: str
    true: float
    said: float
    low: float
    high: float
    by_hand: float


def drawn(number: int, seed: int, settings: Settings) -> list[Case]:
    """Return cases with a joint or a bridge, the two in turn."""
    found: dict[str, list[Case]] = {mode: [] for mode in MODES}
    wanted = {mode: number // 2 + (number % 2) * (mode == MODES[0]) for mode in MODES}
    # Cases are drawn with every fault, so that they are those of the other studies.
    for case in cases(100 * number, seed, settings, faulty=True):
        mode = case.fault.mode if case.fault else ""
        if mode in found and len(found[mode]) < wanted[mode]:
            found[mode].append(case)
        if all(len(found[mode]) == wanted[mode] for mode in MODES):
            break
    return [case for some in found.values() for case in some]


def estimate(case: Case, diagnosis: scoring.Diagnosis) -> Estimate:
    """Return what was said of the ohms of the true fault."""
    fault = case.fault
    if fault is None or fault.r_ohm is None:
        raise ValueError(f"{case.name} has no ohms")
    said, low, high = math.nan, math.nan, math.nan
    for suspect, named in zip(
        sorted(diagnosis["suspects"], key=lambda s: s["rank"]),
        scoring.ranked(diagnosis),
        strict=True,
    ):
        if named.labels == {fault.label} and suspect["ohms_90"][0]:
            said, (low, high) = suspect["faults"][0]["ohms"], suspect["ohms_90"][0]
            break
    return Estimate(fault.mode, fault.r_ohm, said, low, high, by_hand(case))


def by_hand(case: Case) -> float:
    """Return the ohms one would reckon from the drawing; nan where nothing can be. [ohm]"""
    fault = case.fault
    if fault is None:
        return math.nan
    sound = readings(case.circuit, None, case.keys)
    pairs = zip(case.keys, case.values.tolist(), sound.tolist(), strict=True)
    finite = [(k, v, s) for k, v, s in pairs if math.isfinite(v) and math.isfinite(s)]
    if fault.mode == "high-resistance":
        excess = [v - s for k, v, s in finite if set(fault.conductors) <= set(k[2])]
        return max(excess, default=math.nan)
    own = [(v, s) for k, v, s in finite if k[2] == fault.conductors]
    left, beside = min(own, default=(math.nan, math.nan))
    return left * beside / (beside - left) if 0 < left < beside else math.nan


def lines(estimates: Sequence[Estimate]) -> list[str]:
    """Return the figures by mode and true ohms."""
    head = f"{'mode':16}{'true ohms':>14}{'cases':>7}{'named':>8}{'error':>8}{'held':>8}"
    out = [head + f"{'by hand':>9}", "-" * 70]
    for mode in MODES:
        own = [e for e in estimates if e.mode == mode]
        for low, high in zip(EDGES[mode], EDGES[mode][1:], strict=False):
            some = [e for e in own if low <= e.true < high]
            if some:
                out.append(_line(mode, f"{low:g} to {high:g}", some))
        out.append(_line(mode, "all", own))
    return [*out, "-" * 70, _line("both", "all", estimates)]


def _line(mode: str, ohms: str, some: Sequence[Estimate]) -> str:
    named = [e for e in some if math.isfinite(e.said)]
    error = np.median([abs(math.log(e.said / e.true)) for e in named]) if named else math.nan
    held = np.mean([e.low <= e.true <= e.high for e in named]) if named else math.nan
    hand = [abs(math.log(e.by_hand / e.true)) if e.by_hand > 0 else math.inf for e in some]
    share = len(named) / max(1, len(some))
    return (
        f"{mode:16}{ohms:>14}{len(some):>7}{share:>8.1%}{error:>8.3f}{held:>8.1%}"
        f"{np.median(hand) if hand else math.nan:>9.3f}"
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Simulate, diagnose, compare, print."""
    given: argparse.Namespace = parser_of(__doc__, 400).parse_args(arguments)
    settings = settings_of(given)
    made = drawn(given.cases, given.seed, settings)
    with tempfile.TemporaryDirectory() as folder:
        paths = [write(case, Path(folder)) for case in made]
        said = scoring.diagnose(paths, scoring.in_process)
    estimates = [estimate(case, one) for case, one in zip(made, said, strict=True)]
    if given.verbose:
        for case, one in zip(made, estimates, strict=True):
            if not one.low <= one.true <= one.high:
                said_as = f"said {one.said:.3g}, {one.low:.3g} to {one.high:.3g}"
                print(f"{case.name}: {case.fault}; {said_as}")
    print(f"{given.draw}, {given.errors} errors, {given.read} read, seed {given.seed}")
    print(*lines(estimates), sep="\n")
    print("always sound and random name no ohms; the checklist is `by hand`")


if __name__ == "__main__":
    main()

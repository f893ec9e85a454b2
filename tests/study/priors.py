"""How often each fault is met, as the rule files say: read as plain data, without the package."""

from collections import Counter
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

import yaml
from drawing import Circuit, Fault

RULES = Path(__file__).parents[2] / "rules"
UNITS = {"ohm": 1.0, "Mohm": 1e6}


@cache
def rule(mode: str) -> dict[str, Any]:
    """Return what the rule file of a mode holds."""
    return _read(RULES / "faults" / f"{mode}.yaml")


@cache
def tolerances() -> dict[str, Any]:
    """Return what a drawing and an instrument may be off by."""
    return _read(RULES / "tolerances.yaml")


def _read(path: Path) -> dict[str, Any]:
    found: dict[str, Any] = yaml.safe_load(path.read_text(encoding="utf-8"))
    return found


def ohms(mode: str) -> tuple[float, float]:
    """Return the range of a mode's ohms. [ohm]"""
    ends = (rule(mode)["ohms"][end].split() for end in ("from", "to"))
    low, high = (float(number) * UNITS[unit] for number, unit in ends)
    return low, high


def weights(circuit: Circuit, faults: Sequence[Fault]) -> list[float]:
    """Return the chance of each fault of a circuit, shared among those of one mode and place.

    A bridge behind a switch, which breaks the active, has the share that its ways have of all.
    """
    runs = {run.name for run in circuit.runs}
    alike = Counter((f.mode, f.at, f.behind) for f in faults)
    found = []
    for fault in faults:
        chance = rule(fault.mode)["prior"]["run" if fault.at in runs else "outlet"]
        share = 1.0
        if fault.mode == "bridged" and fault.at in circuit.switched and "A" in fault.conductors:
            ways = [way for way in rule("bridged")["ways"] if "run" not in way["at"]]
            behind = sum(w["weight"] for w in ways if w["steps"][0]["side"] != "supply")
            share = behind / sum(w["weight"] for w in ways)
            share = share if fault.behind else 1 - share
        # Behind a switch only the two pairs of the active can be bridged here, so three share as
        # one does in front of it.
        number = 3 if fault.behind else alike[fault.mode, fault.at, False]
        found.append(chance * share / number)
    return found

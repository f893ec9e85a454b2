"""How far the program's probabilities are from those of brute force; prints a table.

    PYTHONPATH=.:tests python -m diagnosis.agreement 48 --seed 1000

Cases on three outlets in a row: a joint, a bridge, a switch at fault, or nothing, most of them hard
to tell from something else. In turn all is read; all, and one reading is spoiled; two outlets in
three; no switch is tried off. ``worst`` is the largest difference in probability, ``sampling`` two
standard errors of brute force at most.
"""

import argparse
from dataclasses import dataclass, replace

import numpy as np
from modelled import LINE, UNKNOWN

from diagnosis import brute
from diagnosis.simulated import bench_and_jury, seeded, taken
from faultfinder.diagnosis.catalogue import catalogue, no_edit
from faultfinder.diagnosis.posterior import judge

SMALL_JOINT, JOINT, BRIDGE = (0.05, 0.5), (0.05, 30.0), (0.02, 30.0)
KINDS = ("all read", "one spoiled", "two of three", "no switch off")
FACTORS = (0.1, 0.8, 1.2, 10.0)
LEAST, MOST = 0.003, 5
LIKELY = 0.05


@dataclass(frozen=True)
class Agreement:
    """What both say of one case; arrays are by hypothesis, the sound circuit first.

    ``ours`` is nan for a fault that no reading speaks for; of those ``unseen`` is the sum. ``ohms``
    are both's 5, 50 and 95 % points of each that has any, ours first, (2, 3). [ohm]
    """

    truth: str
    names: tuple[str, ...]
    ours: np.ndarray
    theirs: np.ndarray
    error: np.ndarray
    unseen: float
    ohms: tuple[np.ndarray | None, ...]

    @property
    def worst(self):
        """The largest difference in probability, that of what is unseen among them."""
        hidden = np.isnan(self.ours)
        return max(
            np.abs(self.ours - self.theirs)[~hidden].max(),
            abs(self.theirs[hidden].sum() - self.unseen),
        )

    @property
    def ends(self):
        """How far our ends of ohms are from theirs, in widths of the interval of ln ohms, (n, 2).

        Of the suspects that are likely, by both.
        """
        both = zip(self.ohms, np.minimum(self.ours, self.theirs).tolist(), strict=True)
        some = [np.log(ohms) for ohms, share in both if ohms is not None and share > LIKELY]
        return np.array(
            [(x[0, [0, 2]] - x[1, [0, 2]]) / (x[1, 2] - x[1, 0]) for x in some]
        ).reshape(-1, 2)


def compared(seed, *, everything=False):
    """Return how both judge one case, the fault drawn from all or from those hard to tell."""
    rng = seeded(seed)
    known = catalogue(LINE, brute.MODES)
    hard = [h for h in known if h.ohms or not h.faults or h.faults[0].mode.startswith("switch")]
    truth = (known if everything else hard)[rng.integers(len(known if everything else hard))]
    readings, said = _readings(truth, rng)
    readings = _left(readings, KINDS[seed % len(KINDS)], rng)
    bench, jury = bench_and_jury(LINE, readings)
    likely = [s for s in judge(bench, jury, known).suspects if s.probability > LEAST][:MOST]
    few = [h for h in known[1:] if any(s.hypothesis is h for s in likely)]
    few = few or [known[i] for i in rng.choice(np.arange(1, len(known)), 3, replace=False)]
    hypotheses = [known[0], *few]
    judged = judge(bench, jury, hypotheses)
    ours = {id(s.hypothesis): s for s in judged.suspects}
    found = [ours.get(id(h)) for h in hypotheses]
    shares = brute.posterior(LINE, hypotheses, brute.Taken(readings, UNKNOWN.resistance))
    return Agreement(
        said,
        tuple(str(h.faults[0]) if h.faults else "sound" for h in hypotheses),
        np.array([s.probability if s else np.nan for s in found]),
        np.array([share.probability for share in shares]),
        np.array([share.error for share in shares]),
        judged.unseen,
        tuple(
            np.array([s.ohms[0], share.ohms]) if s and s.faults and s.ohms[0] else None
            for s, share in zip(found, shares, strict=True)
        ),
    )


def _readings(truth, rng):
    """Return readings of a hypothesis with ohms drawn, and what it is in words."""
    if not truth.faults:
        return taken(LINE, no_edit, rng), "sound"
    r_ohm = 0.0
    if truth.ohms:
        joint = SMALL_JOINT if rng.random() < 0.6 else JOINT
        r_ohm = np.exp(
            rng.uniform(*np.log(joint if truth.faults[0].mode == "high-resistance" else BRIDGE))
        )
    way = truth.ways[rng.integers(len(truth.ways))]
    fault = replace(truth.faults[0], r_ohm=round(float(r_ohm), 3) or None)
    return taken(LINE, way.edit(float(r_ohm)), rng), str(fault)


def _left(readings, kind, rng):
    """Return what is left of all readings, or all with one spoiled."""
    match kind:
        case "one spoiled":
            numbers = [i for i, r in enumerate(readings) if r.amount.bound == "="]
            i = rng.choice(numbers)
            amount = readings[i].amount
            wrong = replace(amount, value=round(amount.value * rng.choice(FACTORS), 2))
            return (*readings[:i], replace(readings[i], amount=wrong), *readings[i + 1 :])
        case "two of three":
            kept = set(rng.choice([p.name for p in LINE.points], 2, replace=False))
            return tuple(r for r in readings if r.spot.at in kept)
        case "no switch off":
            return tuple(r for r in readings if r.spot.switch != "off")
    return readings


def main():
    """Compare, print each case and how the differences lie."""
    p = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    p.add_argument("cases", type=int)
    p.add_argument("--seed", type=int, default=1000)
    given = p.parse_args()
    worst, ends = [], []
    for seed in range(given.seed, given.seed + given.cases):
        found = compared(seed)
        worst.append(found.worst)
        ends.append(found.ends)
        kind, sampling = KINDS[seed % len(KINDS)], found.error.max()
        off = f"ends {np.abs(found.ends).max():.3f}" if len(found.ends) else ""
        said = f"worst {found.worst:.4f} sampling {sampling:.4f} {off}"
        print(f"{seed} {found.truth:36} {kind:15}{said}", flush=True)
    shares = " ".join(f"{np.mean(np.array(worst) <= x):.0%} <= {x}" for x in (0.005, 0.01, 0.02))
    print(f"{given.cases} cases: median {np.median(worst):.4f}, {shares}, most {max(worst):.4f}")
    if any(map(len, ends)):
        print(_of_ends(np.concatenate(ends)))


def _of_ends(off):
    """Return how 5 and 95 % points of ohms lie to brute force's, in words."""
    size = np.abs(off)
    shares = " ".join(f"{np.mean(size <= x):.0%} <= {x}" for x in (0.02, 0.05, 0.1))
    low, high = off.mean(axis=0)
    return (
        f"{size.size} ends of ohms, in widths of the interval: {shares}, most {size.max():.3f}; "
        f"lower ends {low:+.3f} in the mean, upper ends {high:+.3f}"
    )


if __name__ == "__main__":
    main()

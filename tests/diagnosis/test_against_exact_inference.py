"""A discrete version of the model, solved by a general library for Bayesian networks.

The network has a node for what is wrong, one for the ohms of a joint in 121 steps, one for how far
all cable is off in 21, one for the scatter in the four sizes of the rule file, and one a reading,
which depends on all of those: lower than written, as written, higher, or open. Their tables are
worked out here by meshes (``brute.py``) and the normal distribution; the library knows nothing of
wiring, and the program nothing of the library. Other errors are taken away on both sides.
"""

import math
import warnings
from dataclasses import replace

import numpy as np
import pytest
from modelled import LINE, MODES, RULEBOOK, TERMINATORS, UNKNOWN
from scipy.special import ndtr

from diagnosis import brute
from diagnosis.simulated import seeded, taken
from faultfinder.diagnosis.catalogue import catalogue, no_edit
from faultfinder.diagnosis.likelihood import Jury
from faultfinder.diagnosis.posterior import judge
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.observed import observe
from faultfinder.wiring.fault import Fault

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

with warnings.catch_warnings():  # its compiled part is of an older make than Python's warnings
    warnings.simplefilter("ignore")
    import pyagrum

NONE = 1e-9
T = RULEBOOK.tolerances
T = T.model_copy(update=dict.fromkeys(("run_length", "terminator", "leads", "gain"), NONE))
OHMS = (0.1, 3.0)
OHM_STEPS = np.exp(np.linspace(*np.log(OHMS), 121))
CABLE_STEPS = np.linspace(-3.5, 3.5, 21)  # in standard deviations
SAID = ("lower", "as written", "higher", "open")
WRONG = (
    Fault("high-resistance", ("E",), "S1..S2"),
    Fault("high-resistance", ("E",), "S2"),
    Fault("high-resistance", ("E",), "S2..S3"),
    Fault("high-resistance", ("E",), "S3"),
    Fault("high-resistance", ("N",), "S2..S3"),
    Fault("open", ("E",), "S2..S3"),
    Fault("open", ("E",), "S3"),
    Fault("transposed", ("A", "N"), "S3"),
)
JOINT, INSIDE = WRONG[2], WRONG[1]
CASES = (  # truth, its ohms, seed of the errors
    (None, 0.0, 4),
    (JOINT, 0.25, 4),
    (JOINT, 0.5, 3),
    (INSIDE, 0.3, 5),
    (INSIDE, 0.45, 3),
    (WRONG[5], 0.0, 3),
)


def hypotheses():
    """Return the sound circuit and some faults, joints of a range that steps can cover."""
    found = catalogue(LINE, MODES)
    some = [next(h for h in found if h.faults == (fault,)) for fault in WRONG]
    return [found[0], *(replace(h, ohms=OHMS) if h.ohms else h for h in some)]


def read_with(truth, r_ohm, rng):
    """Return readings with every switch on, and nothing but cable and scatter to disturb them."""
    known = {h.faults: h for h in catalogue(LINE, MODES)}
    edit = known[(truth,)].ways[0].edit(r_ohm) if truth else no_edit
    return tuple(r for r in taken(LINE, edit, rng) if r.spot.switch != "off")


def by_library(several, readings):
    """Return the probability of each hypothesis by exact inference in a discrete network."""
    net = pyagrum.BayesNet("readings")
    sizes = {
        "wrong": len(several),
        "ohms": len(OHM_STEPS),
        "cable": len(CABLE_STEPS),
        "scatter": len(T.scatter),
    }
    cable = np.exp(-0.5 * CABLE_STEPS**2)
    chances = {
        "wrong": np.exp([h.log_prior for h in several]),
        "ohms": np.ones(len(OHM_STEPS)),
        "cable": cable,
        "scatter": np.ones(len(T.scatter)),
    }
    for name, size in sizes.items():
        net.add(pyagrum.RangeVariable(name, name, 0, size - 1))
        net.cpt(name)[:] = chances[name] / chances[name].sum()
    for number, table in enumerate(_tables(several, readings)):
        name = f"reading {number}"
        net.add(pyagrum.LabelizedVariable(name, name, list(SAID)))
        for parent in sizes:
            net.addArc(parent, name)
        cpt = net.cpt(name)
        order = [("wrong", "ohms", "cable", "scatter", name).index(n) for n in cpt.names]
        cpt.fillWith(np.transpose(table, order).ravel(order="F").tolist())
    inference = pyagrum.LazyPropagation(net)
    said = {
        f"reading {number}": "open" if reading.amount.bound == "open" else "as written"
        for number, reading in enumerate(readings)
    }
    inference.setEvidence(said)
    inference.makeInference()
    return np.array(inference.posterior("wrong").tolist())


def _tables(several, readings):
    """Yield for each reading the chance of what is said, (wrong, ohms, cable, scatter, said)."""
    grid = np.array([(c, o) for o in range(len(OHM_STEPS)) for c in range(len(CABLE_STEPS))])
    unknowns = brute.Unknowns(LINE, OHMS, np.zeros((len(grid), brute.size(LINE))))
    unknowns.r_ohm = OHM_STEPS[grid[:, 1]]
    factor = 1 + brute.T.cable * CABLE_STEPS[grid[:, 0]]
    unknowns.length = {run.name: factor for run in LINE.runs}
    spots = [reading.spot for reading in readings]
    faults = [h.faults[0] if h.faults else None for h in several]
    there = np.stack(
        [brute.predicted(LINE, brute.ways_of(LINE, f)[0], spots, unknowns) for f in faults]
    ).reshape(len(faults), len(OHM_STEPS), len(CABLE_STEPS), len(spots))
    accuracy = UNKNOWN.resistance
    for number, reading in enumerate(readings):
        ohm = there[..., number, None]  # one more axis, for the scatter
        value, step = reading.amount.value, reading.resolution
        is_open = np.isinf(ohm)
        sd = np.array(T.scatter) * (accuracy.share * np.where(is_open, 1.0, ohm) + accuracy.fixed)
        value = 10.0 if math.isinf(value) else value  # nothing written, and nothing hangs on it
        edges = [ndtr((value + side * step / 2 - ohm) / sd) * (1 - T.slip) for side in (-1, 1)]
        lower, up_to = (np.where(is_open, 0.0, edge) for edge in edges)
        slip = T.slip / brute.SLIP_DECADES / value * step
        written = up_to - lower + slip
        opened = np.broadcast_to(np.where(is_open, 1 - slip, T.slip / 10), written.shape)
        higher = np.maximum(1 - lower - written - opened, 0.0)
        yield np.stack([lower, written, higher, opened], axis=-1)


@pytest.mark.parametrize(("truth", "r_ohm", "seed"), CASES, ids=str)
def test_it_is_what_exact_inference_makes_of_a_discrete_model(truth, r_ohm, seed):
    readings = read_with(truth, r_ohm, seeded(seed))
    several = hypotheses()
    bench = Bench(LINE, RULEBOOK.procedures, TERMINATORS, tuple(r.spot for r in readings))
    observed = observe(readings, RULEBOOK.procedures, UNKNOWN)
    judged = judge(bench, Jury(observed, T, bench.lean([no_edit])), several)
    ours = {s.hypothesis.faults: s.probability for s in judged.suspects}
    theirs = by_library(several, readings)
    assert theirs.sum() == pytest.approx(1)
    for one, probability in zip(several, theirs, strict=True):
        assert ours.get(one.faults, probability) == pytest.approx(probability, abs=0.01)
    hidden = sum(p for h, p in zip(several, theirs, strict=True) if h.faults not in ours)
    assert judged.unseen == pytest.approx(hidden, abs=0.01)

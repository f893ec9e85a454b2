"""The posterior by brute force: every unknown drawn, every reading worked out, nothing made linear.

A second opinion on ``posterior.py`` and all below it. Electricity is by meshes: on a radial circuit
each contact has one way to the common point at the board, a reading is the resistance r₁₁ of the
two ways end to end, and a bridge adds one loop, so that

    reading = r₁₁ - r₁₂² / r₂₂

with r₂₂ the loop's resistance, bridge with it, and r₁₂ what the two share. Lengths multiply, the
instrument's gain multiplies what is really there, a written value is one that rounds to it, and a
slip is mixed in at each reading. One instrument has one end of its range, which all open readings
share.

The integral over all of it is by importance sampling on Sobol points: every unknown is a standard
normal one, ohms and spots through its distribution function, and the points are drawn about where
the readings put them, found by raising the likelihood from a small power to the first.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from modelled import MODES as ALL_MODES
from modelled import RULEBOOK, TERMINATORS
from scipy.special import ndtr, ndtri
from scipy.stats import qmc

T = RULEBOOK.tolerances
KNOWN = ("bridged", "high-resistance", "open", "transposed")
SWITCH = ("switch-bypassed", "switch-in-neutral", "switch-stuck-off", "switch-stuck-on")
MODES = tuple(mode for mode in ALL_MODES if mode.id in KNOWN + SWITCH)  # what meshes are drawn for
SLIP_DECADES = math.log(1e7)
RANGE_ENDS = (200.0, 2e7)  # where a range that nobody stated ends, every ratio equally likely
BRIDGES = {"supply": 4, "load": 1, "load-in-use": 1}  # shares of where a bridge in an outlet lies
SPOTS = (0.1, 0.3, 0.5, 0.7, 0.9)  # where in a run the rule files try one
POINTS = 2**13
DEFENSIVE = 0.2  # share of points that stay with the prior
WIDER = 1.5  # of the variance where the readings put the points
LEAST_POINTS = 300  # worth of points that a power of the likelihood leaves


@dataclass(frozen=True)
class Way:
    """One way a fault is built.

    ``side`` says where a bridge in an outlet lies, ``along`` where in a run; None for anywhere.
    """

    mode: str = ""
    conductors: tuple[str, ...] = ()
    at: str = ""
    side: str = ""
    along: float | None = None
    weight: float = 1.0


def ways_of(circuit, fault, spots=SPOTS):
    """Return the ways a fault can be built; the sound circuit is one.

    A bridge in a run lies at one of ``spots``, or with none anywhere along it.
    """
    if fault is None:
        return [Way()]
    plain = Way(fault.mode, fault.conductors, fault.at)
    if fault.mode != "bridged":
        return [plain]
    if circuit.run(fault.at):
        return [replace(plain, along=x, weight=1 / len(spots)) for x in spots] or [plain]
    if not circuit.point(fault.at).switched:
        return [plain]
    whole = sum(BRIDGES.values())
    return [replace(plain, side=side, weight=n / whole) for side, n in BRIDGES.items()]


class Unknowns:
    """What nobody knows, from standard normal numbers of shape (n, size): attributes are (n,)."""

    def __init__(self, circuit, ohms, z):
        columns = iter(z.T)
        scale = 1 + T.cable * next(columns)
        self.length = {run.name: (1 + T.run_length * next(columns)) * scale for run in circuit.runs}
        self.terminator = {
            "A": TERMINATORS.active_ohm * (1 + T.terminator * next(columns)),
            "N": TERMINATORS.neutral_ohm * (1 + T.terminator * next(columns)),
        }
        self.gain, self.leads = next(columns), next(columns) * T.leads
        low, high = np.log(ohms or (1.0, 1.0))
        self.r_ohm = np.exp(low + (high - low) * ndtr(next(columns)))
        self.along = ndtr(next(columns))


def size(circuit):
    """Return how many numbers ``Unknowns`` takes."""
    return len(circuit.runs) + len(("cable", "A", "N", "gain", "leads", "ohms", "along"))


def path(circuit, way, outlet, conductor, switch):
    """Return the pieces from a contact back to the common, or None if there is no way.

    A piece is (run, conductor), ("terminator", conductor) or ("fault",).
    """
    pieces = []
    terminal = conductor
    at_outlet = way if way.at == outlet else Way()
    point = circuit.point(outlet)
    breaks = set(point.switched) if switch == "off" else set()
    match at_outlet.mode:
        case "switch-in-neutral":
            breaks = {"N"} if switch == "off" else set()
        case "switch-bypassed":
            breaks -= {"A"}
        case "switch-stuck-on":
            breaks = set()
        case "switch-stuck-off":
            breaks = set(point.switched)
    if terminal in breaks:
        behind = at_outlet.mode == "bridged" and at_outlet.side.startswith("load")
        if not behind or terminal not in at_outlet.conductors:
            return None
        (other,) = set(at_outlet.conductors) - {terminal}
        if other in breaks:
            return None
        pieces.append(("fault",))
        terminal = other
    pieces_up = _up(circuit, way, outlet, terminal)
    return None if pieces_up is None else pieces + pieces_up


def _up(circuit, way, outlet, terminal):
    """Return the pieces from an outlet's terminal back to the common."""
    feeding = {run.downstream: run for run in circuit.runs}
    pieces, place, conductor = [], outlet, terminal
    steps = [outlet]
    while place != circuit.board:
        steps += [feeding[place].name]
        place = feeding[place].upstream
    for step in steps:
        here = way if way.at == step else Way()
        if here.mode == "transposed" and conductor in here.conductors:
            # Each lands where the next belongs, so that what is here comes from the one before.
            conductor = here.conductors[here.conductors.index(conductor) - 1]
        if here.mode == "open" and conductor in here.conductors:
            return None
        if here.mode == "high-resistance" and conductor in here.conductors:
            pieces.append(("fault",))
        if step != outlet:
            pieces.append((step, conductor))
    if conductor != "E":
        pieces.append(("terminator", conductor))
    return pieces


def predicted(circuit, way, spots, unknowns):
    """Return what is there to be read, (n, spots), infinity for open. [ohm]"""
    runs = {run.name: run for run in circuit.runs}

    def ohm(piece):
        match piece:
            case ("terminator", conductor):
                return unknowns.terminator[conductor]
            case ("fault",):
                return unknowns.r_ohm
            case (run, conductor):
                cable = runs[run].cable
                per_m = cable.table.ohm_per_m(cable.area_mm2(conductor), 20.0)
                return per_m * runs[run].length_m * unknowns.length[run]

    loop = _loop(circuit, way, unknowns) if way.mode == "bridged" else {}
    around = unknowns.r_ohm + sum(share * ohm(piece) for piece, (_, share) in loop.items())
    columns = []
    for spot in spots:
        first, second = spot.between.split("-")
        ends = [path(circuit, way, spot.at, c, spot.switch) for c in (first, second)]
        if None in ends:
            alone = _behind_both(circuit, way, spot) and {first, second} == set(way.conductors)
            columns.append(unknowns.r_ohm if alone else np.full(len(unknowns.gain), np.inf))
            continue
        own, shared = 0.0, 0.0
        behind = ("fault",) in ends[0] + ends[1] and way.mode == "bridged"
        both = set(ends[0]) & set(ends[1])
        for pieces, sign in zip(ends, (1, -1), strict=True):
            for piece in pieces:
                if piece in both:  # out and back the same way: no current there
                    continue
                own = own + ohm(piece)
                if piece in loop:
                    turn, share = loop[piece]
                    shared = shared + sign * turn * share * ohm(piece)
        # The switch that is off parts the bridge behind it from the supply, and with it the loop.
        elsewhere = way.side == "load-in-use" and spot.at != way.at
        closed = way.mode == "bridged" and not behind and not elsewhere
        if closed and way.side.startswith("load") and spot.at == way.at and spot.switch == "off":
            closed = not set(circuit.point(way.at).switched) & set(way.conductors)
        columns.append(np.broadcast_to(own, unknowns.gain.shape) - closed * shared**2 / around)
    return np.stack(columns, axis=1)


def _behind_both(circuit, way, spot):
    """Return whether a bridge is read behind a switch that has parted both its conductors."""
    there = way.mode == "bridged" and way.side.startswith("load") and spot.at == way.at
    return (
        there
        and spot.switch == "off"
        and set(way.conductors) <= set(circuit.point(way.at).switched)
    )


def _loop(circuit, way, unknowns):
    """Return the pieces of a bridge's loop: turn (1 out, -1 back) and share of each within it."""
    run = circuit.run(way.at)
    point = run.downstream if run else way.at
    found = {}
    for conductor, turn in zip(way.conductors, (1, -1), strict=True):
        for piece in _up(circuit, Way(), point, conductor):
            along = unknowns.along if way.along is None else way.along
            share = along if run and piece[0] == way.at else 1.0
            found[piece] = (turn, share)
    return found


def log_likelihood(read, unknowns, taken):
    """Return how likely written readings are, (n,), scatter averaged over and slips mixed in."""
    accuracy, share_of = taken.accuracy, T.stated_scatter if taken.accuracy.stated else T.scatter
    per_scatter = []
    numbers = [i for i, r in enumerate(taken.readings) if r.amount.bound == "="]
    opens = [i for i, r in enumerate(taken.readings) if r.amount.bound == "open"]
    value = np.array([taken.readings[i].amount.value for i in numbers])
    step = np.array([taken.readings[i].resolution for i in numbers])
    slip = T.slip / SLIP_DECADES / np.maximum(value, 1e-2)
    there = read[:, numbers]
    possible = np.isfinite(there)
    there = np.where(possible, there, 1.0)
    shown = there * (1 + T.gain * accuracy.share * unknowns.gain[:, None]) + unknowns.leads[:, None]
    for scatter in share_of:
        sd = scatter * (accuracy.share * there + accuracy.fixed)
        upper, lower = (value + step / 2 - shown) / sd, (value - step / 2 - shown) / sd
        # From the nearer tail, so that a difference of two ones is none.
        far = lower > 0
        chance = np.where(far, ndtr(-lower) - ndtr(-upper), ndtr(upper) - ndtr(lower))
        density = np.where(possible, (1 - T.slip) * chance / step, 0.0) + slip
        per_scatter.append(np.log(density).sum(axis=1))
    logs = np.logaddexp.reduce(per_scatter) - math.log(len(share_of))
    if opens:
        logs = logs + np.log(_chance_open(read[:, opens], value, accuracy))
    return logs


def _chance_open(read, value, accuracy):
    """Return the chance that all of some readings (n, k) are over range, one end for all.

    Where u is the end's place in its range, reading i is over it if u < cᵢ, else a slip.
    """
    low, high = (max(end, *value, 0.0) for end in RANGE_ENDS)
    if accuracy.range_top is not None:
        beyond = (read > max(accuracy.range_top, *value, 0.0)).astype(float)
    else:
        beyond = np.clip(np.log(read / low) / math.log(high / low), 0.0, 1.0)
    edges = np.concatenate(
        [np.zeros((len(read), 1)), np.sort(beyond, axis=1), np.ones((len(read), 1))], axis=1
    )
    slips = (T.slip / 10) ** np.arange(read.shape[1] + 1)
    return (np.diff(edges, axis=1) * slips).sum(axis=1)


@dataclass(frozen=True)
class Taken:
    """Readings, and the accuracy of the instrument that took them."""

    readings: tuple
    accuracy: object


@dataclass(frozen=True)
class Evidence:
    """The log of a likelihood integrated over every unknown, and its standard error.

    With the ohms drawn, and the log of what each point holds of the integral, both (n,).
    """

    log: float
    error: float
    r_ohm: np.ndarray
    log_mass: np.ndarray


def log_evidence(circuit, way, ohms, taken, seed=0):
    """Return the likelihood of one way a fault is built, integrated over every unknown."""
    spots = [reading.spot for reading in taken.readings]
    d = size(circuit)

    def log_of(z):
        unknowns = Unknowns(circuit, ohms, z)
        return log_likelihood(predicted(circuit, way, spots, unknowns), unknowns, taken)

    rng = np.random.default_rng(seed)
    mean, root = np.zeros(d), np.eye(d)
    power = 0.0
    while True:
        points = ndtri(np.clip(qmc.Sobol(d, rng=rng).random(POINTS), 1e-12, 1 - 1e-12))
        wide = rng.random(POINTS) < DEFENSIVE
        z = np.where(wide[:, None], points, mean + points @ root.T)
        log_prior = -0.5 * (z**2).sum(axis=1)
        back = np.linalg.solve(root, (z - mean).T)
        log_near = -0.5 * (back**2).sum(axis=0) - np.linalg.slogdet(root)[1]
        log_drawn = np.logaddexp(
            math.log(DEFENSIVE) + log_prior, math.log(1 - DEFENSIVE) + log_near
        )
        logs, log_ratio = log_of(z), log_prior - log_drawn
        if power == 1.0:
            weights = logs + log_ratio
            whole = np.logaddexp.reduce(weights) - math.log(POINTS)
            error = math.sqrt(np.exp(2 * (weights - whole)).mean() / POINTS)
            r_ohm = Unknowns(circuit, ohms, z).r_ohm
            return Evidence(whole, error, r_ohm, weights - math.log(POINTS))
        power = _highest_power(logs, log_ratio, power)
        weights = power * logs + log_ratio
        weights = np.exp(weights - weights.max())
        weights /= weights.sum()
        mean = weights @ z
        off = z - mean
        root = np.linalg.cholesky(WIDER * (off.T * weights) @ off + 1e-9 * np.eye(d))


def _highest_power(logs, log_ratio, least):
    """Return the power of the likelihood, up to one, at which enough points still count."""

    def worth(power):
        weights = power * logs + log_ratio
        weights = np.exp(weights - weights.max())
        return weights.sum() ** 2 / (weights**2).sum()

    if worth(1.0) >= LEAST_POINTS:
        return 1.0
    low, high = least, 1.0
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (middle, high) if worth(middle) >= LEAST_POINTS else (low, middle)
    return max(low, least + 0.01)


@dataclass(frozen=True)
class Share:
    """The probability of a hypothesis, and two standard errors of its sampling.

    ``ohms`` are the 5, 50 and 95 % points of its ohms, where it has any. [ohm]
    """

    probability: float
    error: float
    ohms: np.ndarray | None


def posterior(circuit, hypotheses, taken, seed=0):
    """Return the share of each hypothesis, those given being all there are.

    A bridge in a run may lie anywhere along it.
    """
    logs, errors, ohms = [], [], []
    for number, one in enumerate(hypotheses):
        fault = one.faults[0] if one.faults else None
        ways = ways_of(circuit, fault, spots=())
        found = [log_evidence(circuit, way, one.ohms, taken, seed + 97 * number) for way in ways]
        share = [math.log(way.weight) for way in ways]
        each = [one.log + own for one, own in zip(found, share, strict=True)]
        logs.append(np.logaddexp.reduce(each) + one.log_prior)
        errors.append(max(one.error for one in found))
        mass = [one.log_mass + own for one, own in zip(found, share, strict=True)]
        drawn = np.concatenate([one.r_ohm for one in found])
        ohms.append(_quantiles(drawn, np.concatenate(mass)) if one.ohms else None)
    shares = np.exp(np.array(logs) - max(logs))
    shares /= shares.sum()
    both = 2 * shares * (1 - shares) * np.array(errors)
    return [Share(*each) for each in zip(shares.tolist(), both.tolist(), ohms, strict=True)]


def _quantiles(r_ohm, log_mass):
    """Return the 5, 50 and 95 % points of ohms drawn. [ohm]"""
    order = r_ohm.argsort()
    whole = np.cumsum(np.exp(log_mass[order] - log_mass.max()))
    return np.interp(np.array([0.05, 0.5, 0.95]) * whole[-1], whole, r_ohm[order])

"""A problem of troubleshooting: what may be the matter, what can be checked, and what it costs.

It ends when what is left is mended at one place. Until then each check costs minutes, some of them
for setting up and walking, and so does each repair at a wrong place. Repairs and observations are
weighed in one scheme, as in decision-theoretic troubleshooting ("Decision-theoretic
troubleshooting", Communications of the ACM, 1995; from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]

NOTHING_SET_UP = -1
SURE = 1e-6  # of other places left, and one place is as good as certain
_DECIMALS = 9  # of a belief, to know it again


@dataclass(frozen=True, slots=True)
class Check:
    """Something that can be done to learn more.

    Attributes
    ----------
    chance : ndarray, shape (outcomes, n)
        Chance of each outcome under each of n causes; columns sum to one.
    at : int
        Where it is done.
    minutes : float
        What it takes once there and set up.
    needs : int
        The arrangement at the board it needs, ``NOTHING_SET_UP`` for none.
    via : int or None
        Where something has to be done first, with the way there and back to the board.
    once : bool
        Whether to do it again would tell nothing that it did not tell before.
    """

    chance: Floats
    at: int
    minutes: float
    needs: int = NOTHING_SET_UP
    via: int | None = None
    once: bool = False


@dataclass(frozen=True, slots=True)
class Standing:
    """Where one stands, with what set up at the board, and which checks of ``once`` are done."""

    at: int
    set_up: int = NOTHING_SET_UP
    done: frozenset[int] = frozenset()


@dataclass(frozen=True)
class Problem:
    """Everything a choice depends on.

    Attributes
    ----------
    place : ndarray of int, shape (n,)
        Which repair each cause asks for, from 0 on.
    checks : tuple of Check
        What can be done.
    walk : ndarray, shape (places, places)
        Minutes from one place to another; place 0 is the board.
    change : ndarray, shape (arrangements + 1, arrangements)
        Minutes at the board from one arrangement to another; the last row is from none.
    repair_at : ndarray of int, shape (k,)
        Where each repair is made.
    repair : ndarray, shape (k,)
        Minutes lost by a repair that turns out to be at the wrong place, the re-test included.
    """

    place: Ints
    checks: tuple[Check, ...]
    walk: Floats
    change: Floats
    repair_at: Ints
    repair: Floats

    @cached_property
    def _most_outcomes(self) -> int:
        return max([1, *(len(check.chance) for check in self.checks)])

    @cached_property
    def chances(self) -> Floats:
        """Chances of all checks, shape (checks, outcomes, n)."""
        out = np.zeros((len(self.checks), self._most_outcomes, len(self.place)))
        for index, check in enumerate(self.checks):
            out[index, : len(check.chance)] = check.chance
        return out

    @cached_property
    def by_place(self) -> Floats:
        """Which cause asks for which repair, shape (n, k)."""
        return np.asarray(self.place[:, None] == np.arange(len(self.repair))[None], dtype=float)

    @cached_property
    def least_minutes(self) -> float:
        """The least that any check costs; infinite where there is none."""
        each = [check.minutes for check in self.checks]
        return min(each, default=float("inf"))

    @cached_property
    def least_repair(self) -> float:
        """The least that a wrong repair costs."""
        return float(self.repair.min())

    @cached_property
    def _columns(self) -> tuple[Ints, Ints, Floats]:
        return (
            np.array([check.at for check in self.checks], dtype=np.intp),
            np.array([check.needs for check in self.checks], dtype=np.intp),
            np.array([check.minutes for check in self.checks]),
        )

    def minutes(self, standing: Standing) -> Floats:
        """Return what each check costs from where one stands, walking and setting up included."""
        at, needs, each = self._columns
        here = standing.at
        direct = self.walk[here, at]
        by_board = self.walk[here, 0] + self.change[standing.set_up, needs] + self.walk[0, at]
        as_it_is = (needs == NOTHING_SET_UP) | (needs == standing.set_up)
        out: Floats = np.where(as_it_is, direct, by_board) + each
        for index, check in enumerate(self.checks):
            if check.via is not None:
                first = self.walk[here, check.via] + self.walk[check.via, 0]
                change = 0.0 if as_it_is[index] else self.change[standing.set_up, check.needs]
                out[index] = first + change + self.walk[0, check.at] + check.minutes
        return out

    def after(self, standing: Standing, index: int) -> Standing:
        """Return where one stands after a check."""
        check = self.checks[index]
        set_up = standing.set_up if check.needs == NOTHING_SET_UP else check.needs
        done = standing.done | {index} if check.once else standing.done
        return Standing(check.at, set_up, done)

    def wrong_repair(self, standing: Standing) -> Floats:
        """Return what each repair costs from where one stands if it is the wrong one. [min]"""
        return np.asarray(self.walk[standing.at, self.repair_at] + self.repair)

    def is_settled(self, belief: Floats) -> bool:
        """Return whether one repair is as good as certain."""
        return bool((belief @ self.by_place).max() >= 1.0 - SURE)

    def gains(self, belief: Floats) -> Floats:
        """Return the information each check is expected to give about the repair. [bit]"""
        joint = (self.chances * belief) @ self.by_place
        chance = joint.sum(axis=-1)
        left = _plogp(chance).sum(axis=-1) - _plogp(joint).sum(axis=(-1, -2))
        return np.asarray(np.maximum(entropy(belief @ self.by_place) - left, 0.0))


def _plogp(p: Floats) -> Floats:
    return np.asarray(p * np.log2(np.where(p > 0, p, 1.0)))


def entropy(p: Floats) -> float:
    """Return the entropy of chances. [bit]"""
    return float(-_plogp(p).sum())


def key(belief: Floats, standing: Standing) -> tuple[bytes, Standing]:
    """Return what a state is known again by."""
    return belief.round(_DECIMALS).tobytes(), standing


def normalised(weights: Sequence[float] | Floats) -> Floats:
    """Return weights as shares of their sum."""
    each = np.asarray(weights, dtype=np.float64)
    return np.asarray(each / each.sum())

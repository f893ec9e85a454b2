"""Mistakes in the test, slipped readings, circuits partly read, and calibration; prints scores.

    python tests/study/setups.py set-ups --cases 300 --seed 1
    python tests/study/setups.py blame --cases 300
    python tests/study/setups.py slips --cases 200
    python tests/study/setups.py partly --cases 200 --read failed-and-one
    python tests/study/setups.py calibration --cases 3000 --outlets 3 6

Every score is printed beside three baselines: always sound, random, and a fixed checklist
(baselines.py). ``set-ups``: sound circuits read with a set-up mistake, the truth in the leading
group. ``blame``: wiring faults for which the set-up is blamed. ``slips``: one reading of a case
spoiled; right is the truth in the leading group, or a spoiled reading to be repeated. ``partly``:
the truth in the 95 % credible set, and in the leading group. ``calibration``: expected error of
the first suspect's probability, and of the leading group's, in 10 bins of equal count; half of
the cases have a wiring fault, a share of ``--mistakes`` a mistake in the test, the rest nothing.
"""

import argparse
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import baselines
import numpy as np
import scoring
from drawing import label
from mistaken import KINDS, mistaken, slipped
from options import parser_of, settings_of
from scoring import Diagnosis, Label, Ranked
from simulator import Case, Settings, cases, write

_CREDIBLE = 0.95
_BINS = 10


@dataclass(frozen=True, slots=True)
class Told:
    """A case, its truth (nothing for a sound circuit), and what was said of it."""

    case: Case
    truth: frozenset[Label]
    diagnosis: Diagnosis
    suspects: list[Ranked]

    @property
    def leading(self) -> list[Ranked]:
        """The leading group."""
        return [suspect for suspect in self.suspects if suspect.leads]

    @property
    def is_hit(self) -> bool:
        """Whether the truth is in the leading group."""
        return any(suspect.labels == self.truth for suspect in self.leading)


def told(made: Sequence[Case], truths: Sequence[frozenset[Label]]) -> list[Told]:
    """Return what ``faultfinder diagnose`` says of cases."""
    with tempfile.TemporaryDirectory() as folder:
        paths = [write(case, Path(folder)) for case in made]
        said = scoring.diagnose(paths, scoring.in_process)
    return [
        Told(case, truth, one, scoring.ranked(one))
        for case, truth, one in zip(made, truths, said, strict=True)
    ]


def truth_of(case: Case) -> frozenset[Label]:
    """Return what is wrong with a case's wiring."""
    return frozenset({case.fault.label}) if case.fault else frozenset()


def set_ups(given: argparse.Namespace, settings: Settings) -> Iterator[str]:
    """Yield the scores of mistakes in the test, by kind and over all."""
    made = list(mistaken(given.cases, given.seed, settings, given.kind or KINDS))
    truths = [frozenset({label(*one.label)}) for one in made]
    answers = told([one.case for one in made], truths)
    by_kind: dict[str, list[Told]] = defaultdict(list)
    for one, answer in zip(made, answers, strict=True):
        by_kind[one.label[0]].append(answer)
        by_kind["all"].append(answer)
        if given.verbose and not answer.is_hit:
            yield f"miss {one.case.name}: {one.label}; led by {_leader(answer)}"
    yield f"{'mistake':30}{'cases':>6}{'hit':>8}{'first':>8}{'size':>7}"
    for kind, some in by_kind.items():
        if kind != "all":
            yield _set_up_line(kind, some)
    yield _set_up_line("all", by_kind["all"])
    # No baseline knows of mistakes in the test; random draws from wiring faults alone.
    yield "baselines: always sound 0.0%, random 0.0%, checklist 0.0%: none names the test"


def _set_up_line(kind: str, some: Sequence[Told]) -> str:
    first = np.mean([answer.suspects[0].is_set_up for answer in some])
    size = np.mean([len(answer.leading) for answer in some])
    hit = np.mean([answer.is_hit for answer in some])
    return f"{kind:30}{len(some):>6}{hit:>8.1%}{first:>8.1%}{size:>7.2f}"


def blame(given: argparse.Namespace, settings: Settings) -> Iterator[str]:
    """Yield how often the set-up is blamed when the wiring is at fault."""
    made = list(cases(given.cases, given.seed, settings, faulty=True))
    answers = told(made, [truth_of(case) for case in made])
    first = [answer.suspects[0].is_set_up for answer in answers]
    wrong = [answer.suspects[0].is_set_up and not answer.is_hit for answer in answers]
    if given.verbose:
        for answer, is_first in zip(answers, first, strict=True):
            if is_first or not answer.is_hit:
                yield f"{answer.case.name}: {answer.case.fault}; led by {_leader(answer)}"
    yield f"{len(made)} wiring faults; the set-up is the first suspect in {np.mean(first):.2%}, "
    yield f"  and the truth then not in its group in {np.mean(wrong):.2%}"
    yield from _hits("truth in the leading group", answers, settings)


def slips(given: argparse.Namespace, settings: Settings) -> Iterator[str]:
    """Yield how cases with one slipped reading come out, by kind and over all."""
    made = list(slipped(given.cases, given.seed, settings))
    answers = told([one.case for one in made], [truth_of(one.case) for one in made])
    right: dict[str, list[bool]] = defaultdict(list)
    for one, answer in zip(made, answers, strict=True):
        keys = {(outlet, switch or None, "-".join(pair)) for outlet, switch, pair in one.keys}
        repeat = answer.diagnosis.get("repeat", ())
        raised = any((r["at"], r["switch"], r["between"]) in keys for r in repeat)
        right[one.kind].append(answer.is_hit or raised)
        right["all"].append(answer.is_hit or raised)
        if given.verbose and not (answer.is_hit or raised):
            was = [
                (key, value)
                for key, value in zip(one.case.keys, one.case.values, strict=True)
                if key in one.keys
            ]
            yield f"miss {one.case.name}: {one.kind} {was}, {one.case.fault}; {_leader(answer)}"
    for kind, some in right.items():
        yield f"{kind:16}{len(some):>6}{np.mean(some):>8.1%}"
    yield from _hits("truth in the leading group", answers, settings)


def partly(given: argparse.Namespace, settings: Settings) -> Iterator[str]:
    """Yield whether the truth is in the credible set where not all outlets were read."""
    made = list(cases(given.cases, given.seed, settings, faulty=True))
    answers = told(made, [truth_of(case) for case in made])
    sets = [credible(answer.suspects) for answer in answers]
    held = [
        any(s.labels == answer.truth for s in some)
        for answer, some in zip(answers, sets, strict=True)
    ]
    yield f"{len(made)} cases, {settings.read} read"
    sizes = np.mean([len(some) for some in sets])
    yield f"truth in the {_CREDIBLE:.0%} credible set {np.mean(held):.1%}, mean size {sizes:.2f}"
    if given.verbose:
        for answer, is_held in zip(answers, held, strict=True):
            if not is_held:
                yield f"miss {answer.case.name}: {answer.case.fault}; {_leader(answer)}"
    yield from _hits("truth in the leading group", answers, settings)


def credible(suspects: Sequence[Ranked]) -> list[Ranked]:
    """Return the likeliest suspects that together reach the credible share.

    Suspects as likely as the last one needed are in it too: their order is chance.
    """
    order = sorted(suspects, key=lambda suspect: -suspect.probability)
    before = np.cumsum([0.0] + [suspect.probability for suspect in order])[:-1]
    needed = [s for s, b in zip(order, before, strict=True) if b < _CREDIBLE]
    last = needed[-1].probability if needed else 0.0
    return [s for s in order if s in needed or s.probability > 0.999 * last]


def calibration(given: argparse.Namespace, settings: Settings) -> Iterator[str]:
    """Yield the expected calibration error over cases of all kinds."""
    half, some = given.cases // 2, round(given.mistakes * given.cases)
    faulty = list(cases(half, given.seed, settings, faulty=True))
    sound = list(cases(given.cases - half - some, given.seed, settings, faulty=False))
    wrong = list(mistaken(some, given.seed, settings))
    made = [*faulty, *sound, *(one.case for one in wrong)]
    truths = [truth_of(case) for case in (*faulty, *sound)]
    truths += [frozenset({label(*one.label)}) for one in wrong]
    answers = told(made, truths)
    first = [(a.suspects[0].probability, a.suspects[0].labels == a.truth) for a in answers]
    group = [(sum(s.probability for s in a.leading), a.is_hit) for a in answers]
    for name, pairs in (("first suspect", first), ("leading group", group)):
        yield f"{name}: expected calibration error {error(pairs):.4f} over {len(pairs)} cases"
        for p, share, number in bins(pairs):
            yield f"    said {p:.3f}, was {share:.3f}  ({number})"
    yield from _hits("truth in the leading group", answers, settings)


def bins(pairs: Sequence[tuple[float, bool]]) -> Iterator[tuple[float, float, int]]:
    """Yield mean probability, share of hits and number of each of the bins of equal count."""
    order = sorted(pairs)
    for some in np.array_split(np.array(order, dtype=float), _BINS):
        if len(some):
            yield float(some[:, 0].mean()), float(some[:, 1].mean()), len(some)


def error(pairs: Sequence[tuple[float, bool]]) -> float:
    """Return the expected calibration error, bins weighted by their number."""
    return sum(abs(p - share) * number for p, share, number in bins(pairs)) / max(1, len(pairs))


def _hits(what: str, answers: Sequence[Told], settings: Settings) -> Iterator[str]:
    """Yield a score beside the three baselines."""
    scores = [baselines.hits(a.case, settings, len(a.leading)) for a in answers]
    means = [sum(column) / len(scores) for column in zip(*scores, strict=True)]
    yield f"{what}: {np.mean([answer.is_hit for answer in answers]):.1%}"
    beside = (f"{name} {mean:.1%}" for name, mean in zip(baselines.NAMES, means, strict=False))
    yield f"  baselines: {', '.join(beside)}"


def _leader(answer: Told) -> str:
    first = answer.suspects[0]
    said = " and ".join(" ".join(map(str, one)) for one in first.labels) or "sound"
    return f"{said} (p {first.probability:.3f}, {answer.diagnosis['verdict']})"


STUDIES: dict[str, Callable[[argparse.Namespace, Settings], Iterator[str]]] = {
    "set-ups": set_ups,
    "blame": blame,
    "slips": slips,
    "partly": partly,
    "calibration": calibration,
}


def main() -> None:
    """Simulate, diagnose, mark, print."""
    p = parser_of(__doc__, 300)
    p.add_argument("study", choices=STUDIES)
    p.add_argument("--kind", action="append", choices=KINDS, help="of set-ups; all if left out")
    p.add_argument("--mistakes", type=float, default=0.05, help="share, for calibration")
    given = p.parse_args()
    settings = settings_of(given)
    for line in STUDIES[given.study](given, settings):
        print(line)


if __name__ == "__main__":
    main()

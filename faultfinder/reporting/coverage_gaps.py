"""What a plan of tests does not find, and why, in words."""

from collections.abc import Iterator, Sequence

from faultfinder.coverage.result import AmbiguityGroup, Coverage, FaultCover
from faultfinder.diagnosis.wording import place_in_words
from faultfinder.reporting.layout import Style, heading, items, percent
from faultfinder.wiring.circuit import Circuit
from faultfinder.wiring.fault import Fault

_ALL = 0.995  # from here a share is all of it, for people
_MOST_NAMED = 4


def not_seen(coverage: Coverage, width: int, style: Style) -> Iterator[str]:
    """Yield what is not seen, a mode a line, with the reason."""
    missed: dict[tuple[str, str], list[FaultCover]] = {}
    for one in coverage.faults:
        if one.detected < _ALL:
            missed.setdefault((one.fault.mode, why_unseen(one, coverage.by)), []).append(one)
    if not missed:
        return
    whole = sum(one.prior for one in coverage.faults)
    yield ""
    yield from heading("NOT SEEN", width, style)
    for (mode, why), ones in missed.items():
        lost = sum(one.prior * (1 - one.detected) for one in ones) / whole
        said = f"{mode} {_conductors(ones)}".rstrip() + f": {percent(lost)} of all faults. {why}"
        yield from items([f"{said} At {_places([one.fault for one in ones])}."], width)


def why_unseen(one: FaultCover, by: str = "model") -> str:
    """Say why a fault is not seen, or not with all its ohms."""
    if by == "rules" and one.detected:
        return "Signs point to it with some of its ohms only."
    if by == "rules":
        return "Signs are met, but none points to it." if one.moves else "No sign is met."
    if not one.moves:
        return "Nothing that the plan reads changes with it."
    if one.ohms is None or not one.seen:
        return "What it changes lies within what cable, terminators and instrument may be off by."
    edges = [edge for ends in one.seen for edge in ends if edge not in one.ohms]
    if len(edges) == 1 and edges[0] == one.seen[0][0]:
        return "Too few ohms lie within what cable, terminators and instrument may be off by."
    if len(edges) == 1:
        return "With many ohms it takes too little current, beside what the test fits, to be told."
    return "Of some ohms it is not told from what the instrument may be off by."


def _conductors(ones: Sequence[FaultCover]) -> str:
    said = dict.fromkeys("-".join(one.fault.conductors) for one in ones)
    return ", ".join(s for s in said if s)


def _places(faults: Sequence[Fault]) -> str:
    names = list(dict.fromkeys(fault.at for fault in faults))
    shown = names if len(names) <= _MOST_NAMED else [*names[:2], "...", names[-1]]
    return f"{', '.join(shown)}" + (f" ({len(names)} places)" if len(names) > 3 else "")


def not_told_apart(coverage: Coverage, width: int, style: Style) -> Iterator[str]:
    """Yield the groups of several faults in words, those of like places or like modes together."""
    several = [group for group in coverage.groups if len(group.faults) > 1]
    if not several:
        return
    yield ""
    yield from heading("NOT TOLD APART", width, style)
    across = [group for group in several if len(group.places) > 1]
    within = [group for group in several if len(group.places) == 1]
    yield from items(_by_places(coverage.circuit, across), width)
    yield from items(_by_modes(within), width)


def _by_places(circuit: Circuit, groups: Sequence[AmbiguityGroup]) -> Iterator[str]:
    """Yield a sentence for each set of places."""
    alike: dict[tuple[tuple[str, ...], bool], list[AmbiguityGroup]] = {}
    for group in groups:
        alike.setdefault((tuple(sorted(group.places)), group.same), []).append(group)
    for (names, same), some in alike.items():
        places = " or ".join(place_in_words(circuit, name) for name in names[:_MOST_NAMED])
        if len(names) > _MOST_NAMED:
            places += f" or {len(names) - _MOST_NAMED} more places"
        yield f"{places}: {_kinds([group.faults for group in some])}. {_reason(same)}"


def _by_modes(groups: Sequence[AmbiguityGroup]) -> Iterator[str]:
    """Yield a sentence for each set of faults that can be at one place."""
    alike: dict[tuple[frozenset[tuple[str, tuple[str, ...]]], bool], list[AmbiguityGroup]] = {}
    for group in groups:
        kinds = frozenset((fault.mode, fault.conductors) for fault in group.faults)
        alike.setdefault((kinds, group.same), []).append(group)
    for (_, same), some in alike.items():
        said = " or ".join(
            " ".join([fault.mode, "-".join(fault.conductors)]).strip() for fault in some[0].faults
        )
        yield f"{said}, at {_places([group.faults[0] for group in some])}. {_reason(same)}"


def _kinds(groups: Sequence[Sequence[Fault]]) -> str:
    """Write the modes and conductors of some groups' faults: ``open A, N, E; transposed A-N``."""
    by_mode: dict[str, dict[str, None]] = {}
    for faults in groups:
        for fault in faults:
            by_mode.setdefault(fault.mode, {})["-".join(fault.conductors)] = None
    return "; ".join(f"{mode} {', '.join(choices)}".strip() for mode, choices in by_mode.items())


def _reason(same: bool) -> str:  # noqa: FBT001 - one of two sentences
    if same:
        return "The plan reads the same with any of them."
    return "What the plan reads differs by less than the errors of drawing and instrument."

"""Plans on the invented circuits of ``modelled.py``, and what they find."""

from functools import cache

from modelled import RULEBOOK, TERMINATORS, UNKNOWN

from faultfinder.coverage.by_model import by_model
from faultfinder.coverage.lineup import line_up
from faultfinder.coverage.plan import plan_of


def lineup(circuit, tests=("terminated",), instrument=UNKNOWN):
    spots = plan_of(tests, circuit, RULEBOOK.procedures).spots
    return line_up(circuit, RULEBOOK, spots, TERMINATORS, instrument)


@cache
def _covered(key, tests):
    circuit = _CIRCUITS[key]
    return by_model(lineup(circuit, tests), plan_of(tests, circuit, RULEBOOK.procedures))


_CIRCUITS = {}


def covered(circuit, *tests):
    """Return the coverage of tests on a circuit; each is worked out once."""
    _CIRCUITS[id(circuit)] = circuit
    return _covered(id(circuit), tests or ("terminated",))


def of(coverage, said):
    """Return what a coverage says of the fault that is said so."""
    (one,) = [one for one in coverage.faults if str(one.fault) == said]
    return one


def group_of(coverage, said):
    """Return the faults, as said, that share a group with one."""
    (group,) = [g for g in coverage.groups if said in map(str, g.faults)]
    return set(map(str, group.faults))

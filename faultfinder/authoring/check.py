"""``rules check``: everything that can be wrong with rules, found without a circuit of the user's.

What each file says is checked when it is read, and what rules say of each other when they are put
together. Here come the standards' files, the sources, the examples of signs, and the model.
"""

from dataclasses import dataclass

from faultfinder.authoring.circuits import ExampleCircuits
from faultfinder.authoring.examples import examples_checked
from faultfinder.authoring.finding import Finding, of_bad_input
from faultfinder.authoring.lessons import lessons_checked
from faultfinder.authoring.model_check import Record, held_against_model, records, refused_by_engine
from faultfinder.authoring.simulation import Trial, trials
from faultfinder.authoring.sources import bases_checked, regions_checked, standards_checked
from faultfinder.rulebook.rulebook import rulebook_of
from faultfinder.source.problem import BadInput
from faultfinder.source.shelf import Shelf


@dataclass(frozen=True, slots=True)
class Checked:
    """What is wrong with the rules on a shelf, what was tried, and what it showed of each sign."""

    findings: tuple[Finding, ...]
    tried: tuple[Trial, ...]
    signs: dict[str, Record]


def check(shelf: Shelf) -> Checked:
    """Return all that is wrong with the rules on a shelf.

    Signs are tried only where all rules can be read and fit each other. Raises `EngineUnavailable`
    without the rule engine.
    """
    told: list[Finding] = []
    signs: dict[str, Record] = {}
    tried: tuple[Trial, ...] = ()
    told += standards_checked(shelf)
    told += regions_checked(shelf)
    try:
        rulebook = rulebook_of(shelf)
        told += bases_checked(rulebook)
        circuits = ExampleCircuits(rulebook)
        refused = list(refused_by_engine(rulebook))
        told += refused
        if not refused:
            told += examples_checked(rulebook, circuits)
            tried = tuple(trials(rulebook, circuits))
            signs = records(rulebook, circuits, tried)
            told += held_against_model(rulebook, signs)
            told += lessons_checked(rulebook)
    except BadInput as bad:
        told += of_bad_input(shelf, bad)
    return Checked(tuple(sorted(dict.fromkeys(told))), tried, signs)

"""Rules in the words of a region."""

import re

import pytest

from faultfinder.rulebook.rulebook import Rulebook, shipped_rulebook
from faultfinder.rulebook.spoken import WORDS, spoken
from faultfinder.standards.regions import region, regions

RULEBOOK = shipped_rulebook()
BLANK = re.compile(r"\{(" + "|".join(WORDS) + r")\}")


def texts(rulebook: Rulebook) -> str:
    """Everything a rulebook says, in one text."""
    return " ".join(map(repr, (rulebook.modes, rulebook.procedures, rulebook.set_ups))) + " ".join(
        pointer.says for pointer in rulebook.pointers
    )


@pytest.mark.parametrize("id_", regions())
def test_no_blank_is_left(id_):
    said = RULEBOOK.in_words(region(id_).words)
    assert BLANK.search(texts(RULEBOOK.as_written))
    assert not BLANK.search(texts(said))
    assert said.as_written is RULEBOOK.as_written


def test_a_rulebook_is_in_the_usual_words_until_others_are_asked_for():
    assert RULEBOOK.in_words(region().words) == RULEBOOK


def test_the_words_of_other_regions_are_all_there_is():
    """Titles, claims and reasons are for authors; what users are told has no word of another."""
    said = RULEBOOK.in_words(region("us").words)
    told = [
        text
        for rule in (*said.modes.values(), *said.set_ups.values())
        for text in (rule.says, rule.look_for, rule.remedy, *rule.cautions_for(("A", "N", "E")))
    ]
    told += [t for p in said.procedures.values() for t in (*p.steps, *p.cautions, p.title)]
    told += [pointer.says for pointer in said.pointers]
    strange = [text for text in told if re.search(r"\b(active|actives|earth|earthed)\b", text)]
    assert strange == []


def test_signs_stay_the_same_for_the_engine():
    said = RULEBOOK.in_words(region("uk").words)
    assert [p.sign for p in said.pointers] == [p.sign for p in RULEBOOK.pointers]


def test_what_has_no_blank_is_passed_on_as_it_is():
    rule = RULEBOOK.modes["open"]
    assert spoken(rule, region("us").words) is rule
    pair = ("{active}", 2)
    assert spoken(pair, region("us").words) == ("hot", 2)

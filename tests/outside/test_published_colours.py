"""Colours of conductors, by region: IEC 60445, AS/NZS 3000, NEC articles 200 and 250."""

import re

import pytest
from published import published

from faultfinder.standards.regions import region


@pytest.mark.parametrize(
    ("where", "letter", "id_"),
    [
        ("uk", "A", "sym-iec-l"),
        ("iec", "A", "sym-iec-l"),
        ("uk", "N", "sym-iec-n"),
        ("iec", "N", "sym-iec-n"),
        ("uk", "E", "sym-iec-pe"),
        ("iec", "E", "sym-iec-pe"),
        ("au-nz", "A", "sym-asnzs-active"),
        ("au-nz", "A", "sym-nz-active"),
        ("au-nz", "N", "sym-asnzs-neutral"),
        ("au-nz", "E", "sym-asnzs-earth"),
        ("us", "A", "sym-nec-hot"),
        ("us", "N", "sym-nec-neutral"),
        ("us", "E", "sym-nec-egc"),
    ],
)
def test_every_colour_we_name_is_one_that_is_published(where, letter, id_):
    """Notes on IEC 60445 and 60446, a trade magazine on the NEC: seen; AS/NZS from memory."""
    ours = re.findall(r"[a-z]+(?:-yellow)?", region(where).colours[letter])
    theirs = published(id_)["value"].replace("green with yellow", "green-yellow")
    assert all(colour in theirs for colour in set(ours) - {"or"})


@pytest.mark.parametrize("where", ["uk", "iec"])
def test_three_lines(where):
    """Brown, black, grey: encyclopaedia on IEC 60446, seen."""
    colours = [region(where).colours[letter] for letter in ("L1", "L2", "L3")]
    assert ", ".join(colours) == published("sym-iec-l123")["value"]

"""Readings taken with a mistake in the test, against what the words of the mistake ask for."""

import math
from dataclasses import replace

import numpy as np
import pytest
from modelled import LINE, RULEBOOK, TERMINATORS

from faultfinder.diagnosis.catalogue import no_edit
from faultfinder.evidence.bench import Bench
from faultfinder.evidence.staging import Noting, Staged
from faultfinder.readings.reading import Spot, Terminators
from faultfinder.rulebook.arrangement import spots_of

TERMINATED = frozenset({"terminated"})
PROCEDURE = RULEBOOK.procedures["terminated"]
SPOTS = spots_of(PROCEDURE, LINE)


def bench(spots=SPOTS, terminators=TERMINATORS):
    return Bench(LINE, RULEBOOK.procedures, terminators, tuple(spots))


def spot(at, between, switch="", test="terminated"):
    return Spot(test, at, switch, between)


def refit(set_up, *conductors):
    return (("terminated", RULEBOOK.set_ups[set_up].refit(PROCEDURE, conductors)),)


def test_terminators_exchanged_read_as_the_other_way_round():
    exchanged = Staged(no_edit, refit("terminators-exchanged"))
    turned = Terminators(TERMINATORS.neutral_ohm, TERMINATORS.active_ohm)
    assert bench().read([exchanged]) == pytest.approx(bench(terminators=turned).read([no_edit]))


@pytest.mark.parametrize(("conductor", "kept"), [("A", "N-E"), ("N", "A-E")])
def test_without_a_terminator_only_the_pair_that_does_not_need_it_reads(conductor, kept):
    (read,) = bench().read([Staged(no_edit, refit("terminator-missing", conductor))])
    (sound,) = bench().read([no_edit])
    for index, one in enumerate(SPOTS):
        expected = sound[index] if one.between == kept else math.inf
        assert read[index] == pytest.approx(expected, rel=1e-14)


def test_leads_add_to_every_resistance_and_not_to_insulation():
    spots = (*SPOTS, spot("DB", "A-E", test="insulation"))
    (read,), (sound,) = (bench(spots).read([e]) for e in (Staged(no_edit, leads_ohm=0.3), no_edit))
    finite = np.isfinite(sound[:-1])
    assert read[:-1][finite] - sound[:-1][finite] == pytest.approx(0.3)
    assert read[-1] == sound[-1]


def test_staged_and_plain_edits_come_back_in_their_order():
    mixed = [no_edit, Staged(no_edit, leads_ohm=0.1), no_edit, Staged(no_edit, leads_ohm=0.2)]
    read = bench().read(mixed)[:, 0]
    assert read - read[0] == pytest.approx([0, 0.1, 0, 0.2])
    for lean in (bench().lean(mixed), bench().glimpse_lean(mixed)):
        assert lean.read[:, 0] == pytest.approx(read)
        assert lean.slopes[1] == pytest.approx(lean.slopes[0])


def test_a_row_read_elsewhere_reads_what_that_place_reads_though_nobody_noted_it():
    here = (spot("S1", "A-E", "on"),)
    noting = Noting(TERMINATED, (("S1", "S2"),))
    assert bench(here).read([Staged(no_edit, noting=noting)]) == pytest.approx(
        bench((spot("S2", "A-E", "on"),)).read([no_edit])
    )


A_FOR_N = (("A", "N"), ("N", "A"))


@pytest.mark.parametrize(
    ("noting", "noted", "really"),
    [
        (Noting(TERMINATED, turned=True), spot("S1", "A-E", "on"), spot("S1", "A-E", "off")),
        (Noting(TERMINATED, turned=True), spot("S3", "A-E"), spot("S3", "A-E")),
        (Noting(TERMINATED, (("S2", "S2"),), turned=True), spot("S1", "A-E", "on"), None),
        (
            Noting(TERMINATED, columns=A_FOR_N),
            spot("S3", "A-E"),
            spot("S3", "N-E"),
        ),
        (Noting(TERMINATED, columns=A_FOR_N), spot("S3", "A-N"), None),
        (Noting(TERMINATED, switch="off", turned=True), spot("S1", "A-E", "on"), None),
        (Noting(frozenset({"long-lead"}), turned=True), spot("S1", "A-E", "on"), None),
    ],
)
def test_where_a_reading_was_really_taken(noting, noted, really):
    assert noting.really(noted) == (really or noted)


def test_an_outlet_exchanged_on_the_drawing_takes_its_switch_along():
    noting = Noting(TERMINATED, (("S1", "S3"), ("S3", "S1")), drawn=(("S1", ("A",)), ("S3", ())))
    assert noting.really(spot("S1", "A-E", "off")) is None
    assert noting.really(spot("S1", "N-E", "off")) == spot("S3", "N-E")
    assert noting.really(spot("S3", "A-E")) == spot("S1", "A-E", "on")
    (read,) = bench((spot("S1", "A-E", "off"),)).read([Staged(no_edit, noting=noting)])
    assert read[0] == math.inf


def test_a_circuit_drawn_the_other_way_round_reads_the_same_as_its_places_exchanged():
    names = {"S1": "S3", "S3": "S1"}
    runs = tuple(
        replace(
            run,
            upstream=names.get(run.upstream, run.upstream),
            downstream=names.get(run.downstream, run.downstream),
        )
        for run in LINE.runs
    )
    noting = Noting(TERMINATED, (("S1", "S3"), ("S3", "S1")), drawn=(("S1", ("A",)), ("S3", ())))
    other = Bench(replace(LINE, runs=runs), RULEBOOK.procedures, TERMINATORS, SPOTS)
    assert bench().read([Staged(no_edit, noting=noting)]) == pytest.approx(other.read([no_edit]))


def test_a_slip_of_the_pen_is_not_made_twice_but_a_wrong_set_up_and_drawing_stay():
    slip = Staged(no_edit, noting=Noting(TERMINATED, turned=True))
    assert slip.as_next_read.noting is None
    fitted = Staged(no_edit, refit("link-out"))
    drawn = Staged(no_edit, noting=Noting(TERMINATED, (("S1", "S3"),), drawn=(("S1", ()),)))
    assert (fitted.as_next_read, drawn.as_next_read) == (fitted, drawn)


def test_a_bench_cannot_be_as_staged_where_a_reading_was_taken_nowhere():
    spot = Spot("terminated", "S1", "off", "A-N")
    noting = Noting(
        frozenset({"terminated"}), (("S1", "S2"), ("S2", "S1")), drawn=(("S1", ("A",)), ("S2", ()))
    )
    bench = Bench(LINE, RULEBOOK.procedures, TERMINATORS, (spot,))
    assert bench.as_staged(Staged(no_edit, noting=noting)) is None

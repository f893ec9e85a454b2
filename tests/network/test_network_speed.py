"""The benchmark of the network still runs; what it measures is not asserted here."""

import importlib.util
from pathlib import Path

import pytest

PATH = Path(__file__).parents[1] / "benchmarks" / "network_speed.py"


@pytest.fixture(scope="module")
def speed():
    spec = importlib.util.spec_from_file_location("network_speed", PATH)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_what_it_counts_on_a_tiny_circuit(speed):
    job = speed.Job(2)
    ways = len(job.others) + speed.GRID * len(job.families)
    assert job.nodes == 3 + 2 * 6 + 3  # at the board, at two outlets, bars
    assert len(job.probes) == 2 * 2 * 3  # on and off, three pairs
    assert job.screen_all() == ways * len(job.probes)
    assert job.exact_all() == ways
    faults = len(job.hypotheses)
    assert job.pairs_all() == faults * (faults - 1) // 2


def test_ngspice_answers_its_files(speed):
    if not speed.NGSPICE:
        pytest.skip("ngspice is not installed")
    decks = list(speed.Job(2).decks(2))
    assert len(decks) == 2
    for deck in decks:
        speed.by_spice(deck)


def test_the_exponent_of_a_power_is_that_power(speed):
    assert speed.exponent((10, 20, 40), (3.0, 12.0, 48.0)) == pytest.approx(2.0)

"""The engine agrees with the plain matcher on whatever can be said in signs and facts."""

import pytest

from faultfinder.engine import Engine

from . import generated, reference

# Many circuits: other tests run the same lines.
pytestmark = pytest.mark.untraced

SETS_OF_SIGNS = 100
SETS_OF_FACTS = 100


def test_it_agrees_on_ten_thousand_sets_of_facts():
    """One engine serves a hundred sets: rule sets are never freed, and a run leaves nothing."""
    disagreements, firing = [], 0
    for seed in range(SETS_OF_SIGNS):
        rng = generated.seeded(seed)
        signs = generated.signs(rng, rng.randint(1, 5))
        engine = Engine(signs)
        for number in range(SETS_OF_FACTS):
            facts = generated.facts(rng, rng.randint(0, 12))
            expected = reference.matches(signs, facts)
            firing += bool(expected)
            if engine.run(facts) != expected:
                disagreements.append((seed, number))
    assert disagreements == []
    # The comparison says something only where signs fire, and where they stay silent.
    assert 3_000 < firing < 9_500


@pytest.mark.parametrize("seed", range(5))
def test_it_agrees_when_the_signs_need_several_batches(seed):
    rng = generated.seeded(f"many {seed}")
    signs = generated.signs(rng, 80, patterns=3)
    engine = Engine(signs)
    assert len(engine._ready) > 3
    for _ in range(10):
        facts = generated.facts(rng, 25)
        assert engine.run(facts) == reference.matches(signs, facts)


def test_the_order_in_which_facts_are_told_changes_nothing():
    rng = generated.seeded("order")
    signs = generated.signs(rng, 40)
    engine = Engine(signs)
    facts = generated.facts(rng, 20)
    expected = engine.run(facts)
    assert expected
    for _ in range(50):
        rng.shuffle(facts)
        assert engine.run(facts) == expected

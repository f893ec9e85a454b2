"""Signs and facts drawn from a seed: few kinds, fields and words, so that much of it meets."""

from random import Random

from faultfinder.rulebook.sign import Pattern, Sign

KINDS = ("reading", "switch")
FIELDS = ("at", "grade", "pair", "feeds", "id")
# Words that a careless comparison takes for each other, and one that looks like a field's text.
WORDS = ("high", "open", "1", 1, True, False, 0, "", '2.5"', "é")


def seeded(seed):
    return Random(seed)  # noqa: S311 - cases, not secrets


def signs(rng, number, patterns=4):
    return [_sign(rng, f"s{place}", rng.randint(1, patterns)) for place in range(number)]


def facts(rng, number):
    return [_fact(rng, f"f{place}") for place in range(number)]


def _sign(rng, id_, number):
    made = []
    for place in range(number):
        earlier = [p.alias for p in made if not p.absent]
        joins = rng.choice((0, 1, 1, 2)) if earlier else 0
        made.append(
            Pattern(
                alias=f"a{place}" if rng.random() < 0.9 else f"m{place}$not",
                kind=rng.choice(KINDS),
                where=tuple(_test(rng) for _ in range(rng.choice((0, 1, 1, 2)))),
                unless=tuple(_test(rng) for _ in range(rng.choice((0, 0, 1)))),
                same=tuple((_joined(rng), rng.choice(earlier), _joined(rng)) for _ in range(joins)),
                absent=rng.random() < (0.35 if place else 0.1),
            )
        )
    return Sign(id_, tuple(made))


def _test(rng):
    return rng.choice(FIELDS[:4]), tuple(rng.choices(WORDS, k=rng.randint(1, 5)))


def _joined(rng):
    return rng.choice(("at", "at", "at", "feeds", "pair", "id"))


def _fact(rng, id_):
    told = {field: rng.choice(WORDS) for field in FIELDS[:4] if rng.random() < 0.85}
    return {"id": id_, "kind": rng.choice((*KINDS, *KINDS, "unknown")), **told}

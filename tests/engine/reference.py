"""What a match is, in twenty lines of plain Python: the measure that the engine is held against."""

from faultfinder.engine import Firing


def matches(signs, facts):
    """Return all firings, sorted, by trying every fact in every place."""
    return tuple(sorted(f for s in signs for f in _ways(s, s.patterns, {}, facts)))


def _ways(sign, patterns, bound, facts):
    if not patterns:
        return [Firing(sign.id, tuple((alias, fact["id"]) for alias, fact in bound.items()))]
    first, *rest = patterns
    fitting = [f for f in facts if _fits(first, f, bound) and f["id"] not in _ids(bound)]
    if first.absent:
        return [] if fitting else _ways(sign, rest, bound, facts)
    return [w for f in fitting for w in _ways(sign, rest, {**bound, first.alias: f}, facts)]


def _ids(bound):
    return {fact["id"] for fact in bound.values()}


def _fits(pattern, fact, bound):
    return (
        fact["kind"] == pattern.kind
        and all(_among(fact, field, words) for field, words in pattern.where)
        and not any(_among(fact, field, words) for field, words in pattern.unless)
        and all(
            other_field in bound[other] and _among(fact, field, [bound[other][other_field]])
            for field, other, other_field in pattern.same
        )
    )


def _among(fact, field, words):
    """Equal in value and in type; a field that is not there is equal to nothing."""
    return field in fact and any(type(fact[field]) is type(w) and fact[field] == w for w in words)

"""Rules in a region's words: ``{active}``, ``{neutral}``, ``{earth}`` and ``{earthing}`` in texts.

``{earthing}`` is what goes before bar, fault or electrode: in the United Kingdom a fault is of the
CPC, and the bar is an earth bar.
"""

import re
from dataclasses import fields, is_dataclass, replace
from typing import Annotated, Any, TypeVar

from pydantic import AfterValidator, BaseModel

from faultfinder.rulebook.folder import Sentence, refused
from faultfinder.source.problem import listed
from faultfinder.source.spelling import nearest
from faultfinder.standards.regions import Words

WORDS = tuple(field.name for field in fields(Words))
"""The blanks that a region fills in."""

_BLANK = re.compile(r"\{(" + "|".join(WORDS) + r")\}")
_ANY_BLANK = re.compile(r"\{([^{}]*)\}")

T = TypeVar("T")


def check_blanks(text: str, *others: str) -> str:
    """Refuse a text that has a blank which neither a region nor the program fills in."""
    known = (*others, *WORDS)
    expected = "the blanks " + listed((f"{{{blank}}}" for blank in known), "and")
    for blank in _ANY_BLANK.findall(text):
        if blank not in known:
            near = nearest(blank, known)
            raise refused(f"no word for {{{blank}}}", expected, (), f"{{{near}}}" if near else "")
    if set("{}") & set(_ANY_BLANK.sub("", text)):
        raise refused("a brace in this text begins no blank", expected)
    return text


Told = Annotated[Sentence, AfterValidator(check_blanks)]
"""A sentence that people are told, in their region's words."""


def spoken(rule: T, words: Words) -> T:
    """Return a rule, or anything made of rules, with a region's words in its texts."""
    return _spoken(rule, words)  # type: ignore[no-any-return]


def _spoken(value: Any, words: Words) -> Any:
    """Return the value itself where no text in it has a blank."""
    if isinstance(value, str):
        return _BLANK.sub(lambda m: getattr(words, m[1]), value) if "{" in value else value
    if isinstance(value, dict):
        return {key: _spoken(inner, words) for key, inner in value.items()}
    if isinstance(value, tuple):
        said = tuple(_spoken(inner, words) for inner in value)
        return value if all(a is b for a, b in zip(said, value, strict=True)) else said
    if isinstance(value, BaseModel):
        changed = _changed(value, type(value).model_fields, words)
        return value.model_copy(update=changed) if changed else value
    if is_dataclass(value) and not isinstance(value, type):
        changed = _changed(value, [field.name for field in fields(value)], words)
        return replace(value, **changed) if changed else value
    return value


def _changed(value: Any, names: Any, words: Words) -> dict[str, Any]:
    """Return the fields of a record that a region's words change."""
    both = ((name, getattr(value, name)) for name in names)
    said = ((name, old, _spoken(old, words)) for name, old in both)
    return {name: new for name, old, new in said if new is not old}

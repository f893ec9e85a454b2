"""Pydantic's errors in words for somebody who wires buildings.

Every id here is ours and stable. What has no case below keeps pydantic's own sentence.
"""

import re
from collections.abc import Callable, Mapping, Sequence, Sized
from dataclasses import dataclass
from typing import Any

from pydantic_core import ErrorDetails

from faultfinder.source.problem import listed, shown
from faultfinder.source.spelling import nearest


@dataclass(frozen=True, slots=True)
class Complaint:
    """What a `Problem` says, before it has a position."""

    id: str
    found: str
    expected: str = ""
    nearest: str = ""


@dataclass(frozen=True, slots=True)
class Slip:
    """One error of pydantic's, the last key on the way to it, and the keys allowed there."""

    error: ErrorDetails
    key: str
    allowed: Sequence[str]

    @property
    def value(self) -> Any:
        """Return what the user wrote."""
        return self.error["input"]

    @property
    def context(self) -> dict[str, Any]:
        """Return the particulars of the error."""
        return self.error.get("ctx", {})


# What pydantic wants, by the error it gives when something of another kind is there.
_KINDS = {
    "bool_type": "yes or no",
    "dict_type": 'a block of "key: value" lines',
    "float_type": "a number",
    "frozen_set_type": "a list",
    "int_type": "a whole number",
    "list_type": "a list",
    "mapping_type": 'a block of "key: value" lines',
    "model_attributes_type": 'a block of "key: value" lines',
    "model_type": 'a block of "key: value" lines',
    "none_required": "nothing",
    "set_type": "a list",
    "string_type": "text",
    "tuple_type": "a list",
}
_LIMITS = {
    "greater_than": ("small", "more than", "gt"),
    "greater_than_equal": ("small", "at least", "ge"),
    "less_than": ("large", "less than", "lt"),
    "less_than_equal": ("large", "at most", "le"),
}
_LENGTHS = {
    "too_short": ("few", "at least", "min_length", "entries"),
    "too_long": ("many", "at most", "max_length", "entries"),
    "string_too_short": ("few", "at least", "min_length", "characters"),
    "string_too_long": ("many", "at most", "max_length", "characters"),
}
_NUMBERS = {"float_parsing", "finite_number", "decimal_parsing"}
_WHOLE_NUMBERS = {"int_parsing", "int_from_float", "int_parsing_size"}
_QUOTED = re.compile(r"'([^']*)'")


def is_wrong_kind(error: ErrorDetails) -> bool:
    """Tell whether the error is that a list, a block or a single value is there instead."""
    return error["type"] in _KINDS


def is_echo(error: ErrorDetails) -> bool:
    """Tell whether a list is called too short only because entries in it are wrong themselves."""
    value = error["input"]
    too_short = error["type"] == "too_short" and isinstance(value, Sized)
    return too_short and len(value) >= error["ctx"]["min_length"]


def is_own(error: ErrorDetails) -> bool:
    """Tell whether a validator of ours raised it: only pydantic's errors point into its manual."""
    return "url" not in error


def complain(slip: Slip) -> Complaint:
    """Say what is wrong, in our own words where there are any."""
    if is_own(slip.error):
        return _own(slip)
    kind = slip.error["type"]
    if kind in _KINDS:
        return _wrong_kind(slip.value, _KINDS[kind])
    if kind in _LIMITS:
        size, words, name = _LIMITS[kind]
        expected = f"{words} {slip.context[name]:g}"
        return Complaint("out-of-range", f"{_said(slip.value)} is too {size}", expected)
    if kind in _LENGTHS and slip.value != "":
        size, words, name, what = _LENGTHS[kind]
        return Complaint("out-of-range", f"too {size} {what}", f"{words} {slip.context[name]}")
    say = _SAY.get(kind, _fallback)
    return say(slip)


def _own(slip: Slip) -> Complaint:
    context = slip.context
    return Complaint(
        slip.error["type"],
        str(context.get("found") or slip.error["msg"]),
        str(context.get("expected") or ""),
        str(context.get("nearest") or ""),
    )


def _wrong_kind(value: object, kind: str) -> Complaint:
    # The commonest slip has a sure repair: one value where a list of one belongs.
    near = f"[{value}]" if kind == "a list" and isinstance(value, str) and value else ""
    return Complaint("wrong-kind", _stands(value), kind, near)


def _unknown_key(slip: Slip) -> Complaint:
    return no_such_key(slip.key, slip.value, slip.allowed)


def no_such_key(key: str, value: object, allowed: Sequence[str]) -> Complaint:
    """Say that a key is not among those allowed, or what slip of the pen made it one."""
    if value == "" and key.isdecimal():
        # To YAML the decimals in {length: 1,5} are a key of their own.
        found = f"the comma before {shown(key)} ends the value"
        return Complaint("decimal-comma", found, "a point before the decimals")
    found = f"unknown key {shown(key)}"
    name, colon, rest = key.partition(":")
    # {A-N:15.3} is one key to YAML, for want of a space.
    near = f"{name}: {rest}" if colon and name in allowed else nearest(key, allowed)
    return Complaint("unknown-key", found, listed(allowed), near)


def _missing_key(slip: Slip) -> Complaint:
    name = slip.error["loc"][-1] if slip.error["loc"] else ""
    return Complaint("missing-key", f"the key {shown(str(name))} is missing")


def _missing_tag(slip: Slip) -> Complaint:
    return Complaint("missing-key", f"the key {shown(discriminator(slip.error))} is missing")


def _unknown_tag(slip: Slip) -> Complaint:
    context = slip.context
    return _unknown(str(context["tag"]), discriminator(slip.error), str(context["expected_tags"]))


def _unknown_choice(slip: Slip) -> Complaint:
    value, expected = slip.value, str(slip.context["expected"])
    if not isinstance(value, str):
        return Complaint("wrong-kind", _stands(value), listed(_QUOTED.findall(expected)))
    if slip.error["loc"] and slip.error["loc"][-1] == "[key]":
        words = _QUOTED.findall(expected)
        return no_such_key(value, None, words)
    return _unknown(value, slip.key, expected)


def _unknown(value: str, key: str, expected: str) -> Complaint:
    words = _QUOTED.findall(expected) or [expected]
    what = f"unknown {key or 'value'} {shown(value)}" if value else _stands(value)
    return Complaint("unknown-value", what, listed(words), nearest(value, words))


def _not_a_number(slip: Slip) -> Complaint:
    value = slip.value
    kind = "a whole number" if slip.error["type"] in _WHOLE_NUMBERS else "a number"
    near = ""
    # One comma with other than three digits after it can only be a decimal one.
    if isinstance(value, str) and re.fullmatch(r"-?\d+,(\d{1,2}|\d{4,})", value):
        near = value.replace(",", ".") if kind == "a number" else ""
    found = f"{_said(value)} is not {kind}" if value else _stands(value)
    return Complaint("not-a-number", found, kind, near)


def _not_yes_or_no(slip: Slip) -> Complaint:
    value = str(slip.value)
    return Complaint(
        "not-yes-or-no",
        f"{_said(value)} is neither yes nor no" if value else _stands(value),
        "yes or no",
        nearest(value, ("yes", "no", "true", "false", "on", "off")),
    )


def _raised(slip: Slip) -> Complaint:
    """Say what a validator's own ValueError says; it may carry the parts of a `Problem`."""
    cause = slip.context["error"]
    return Complaint(
        str(getattr(cause, "id", "bad-value")),
        str(getattr(cause, "found", cause)),
        str(getattr(cause, "expected", "")),
        str(getattr(cause, "nearest", "")),
    )


def _fallback(slip: Slip) -> Complaint:
    if slip.value == "":
        return Complaint("empty-value", _stands(""))
    pattern = slip.context.get("pattern")
    wanted = f"text of the pattern {pattern}" if pattern else slip.error["msg"]
    return Complaint("bad-value", f"{_said(slip.value)} does not fit here", wanted)


_SAY: Mapping[str, Callable[[Slip], Complaint]] = {
    "extra_forbidden": _unknown_key,
    "missing": _missing_key,
    "union_tag_not_found": _missing_tag,
    "union_tag_invalid": _unknown_tag,
    "literal_error": _unknown_choice,
    "enum": _unknown_choice,
    "bool_parsing": _not_yes_or_no,
    "value_error": _raised,
    "assertion_error": _raised,
    **dict.fromkeys(_NUMBERS | _WHOLE_NUMBERS, _not_a_number),
}


def discriminator(error: ErrorDetails) -> str:
    """Return the key that decides between the branches of a tagged union."""
    return str(error.get("ctx", {}).get("discriminator", "")).strip("'")


def _stands(value: object) -> str:
    return "nothing is written here" if value == "" else f"{_said(value)} stands here"


def _said(value: object) -> str:
    if isinstance(value, dict):
        return 'a block of "key: value" lines'
    if isinstance(value, list | tuple):
        return "a list"
    return shown(str(value))

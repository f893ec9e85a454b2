"""From the tree of a file to the values of a model, or to every problem with its position."""

from collections import defaultdict
from collections.abc import Sequence
from typing import Annotated, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, ValidationError, WithJsonSchema
from pydantic_core import ErrorDetails, PydanticCustomError

from faultfinder.source.complaint import (
    Complaint,
    Slip,
    complain,
    discriminator,
    is_echo,
    is_own,
    is_wrong_kind,
)
from faultfinder.source.document import Document, KeyPath, Node
from faultfinder.source.locate import Place, allowed_keys, locate
from faultfinder.source.problem import BadInput, Problem, shown
from faultfinder.source.spelling import nearest

M = TypeVar("M", bound=BaseModel)


class Schema(BaseModel):
    """Base of the models of files: unknown keys are errors, values stand, numbers are finite."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, populate_by_name=True, allow_inf_nan=False
    )


def _yes_no(value: object) -> object:
    if isinstance(value, bool) or not isinstance(value, str):
        return value
    word = value.strip().casefold()
    if word in {"yes", "true", "on"}:
        return True
    if word in {"no", "false", "off"}:
        return False
    found = f"{shown(value)} is neither yes nor no" if value else "nothing is written here"
    parts = {"found": found, "expected": "yes or no", "nearest": nearest(value, ("yes", "no"))}
    raise PydanticCustomError("not-yes-or-no", "{found}", parts)


YesNo = Annotated[
    bool,
    BeforeValidator(_yes_no),
    WithJsonSchema({"enum": [True, False, "yes", "no", "true", "false", "on", "off"]}),
]
"""`yes`, `no`, `true`, `false`, `on`, `off`, as a person means them; not 1 or 0."""


def decode(document: Document, model: type[M], *, at: KeyPath = ()) -> M:
    """Return the part of the document at the key path `at`, as `model`.

    Raises `BadInput` with all that pydantic finds, each at its place in the file. A validator
    may raise `PydanticCustomError(id, "{found}", {"found", "expected", "nearest", "at"})`:
    `at` is the key path of the culprit, counted from the value that the validator was given.
    """
    tree = document.tree
    for i, step in enumerate(at):
        try:
            tree = tree[step]  # type: ignore[index] # whatever fails is told below
        except (KeyError, IndexError, TypeError):
            problem = Problem(
                document.position(at[:i]), "missing-key", f"the key {shown(str(step))} is missing"
            )
            raise BadInput([problem], {document.path: document.text}) from None
    try:
        return model.model_validate(tree)
    except ValidationError as error:
        problems = _problems(document, tree, model, at, error.errors())
        raise BadInput(problems, {document.path: document.text}) from error


class _Found:
    """One error of pydantic's with its place in the tree."""

    def __init__(self, tree: Node, model: type[BaseModel], error: ErrorDetails) -> None:
        self.error = error
        loc = error["loc"]
        self.on_key = error["type"] == "extra_forbidden" or loc[-1:] == ("[key]",)
        # What is missing has no place, so its mapping's stands for it.
        absent = error["type"] == "missing" or loc[-1:] == ("[key]",)
        self.place: Place = locate(tree, model, loc[:-1] if absent else loc)

    @property
    def path(self) -> KeyPath:
        """Return the path to point at."""
        path = self.place.path
        if self.error["type"] == "union_tag_invalid":
            return (*path, discriminator(self.error))
        extra = self.error.get("ctx", {}).get("at", ()) if is_own(self.error) else ()
        return (*path, *extra)

    def complaint(self) -> Complaint:
        words = [part for part in self.place.path if isinstance(part, str)]
        key = words[-1] if words else ""
        return complain(Slip(self.error, key, allowed_keys(self.place.owners)))


def _problems(
    document: Document,
    tree: Node,
    model: type[BaseModel],
    at: KeyPath,
    errors: Sequence[ErrorDetails],
) -> list[Problem]:
    genuine = [error for error in errors if not is_echo(error)]
    found = _likeliest([_Found(tree, model, error) for error in genuine], depth=0)
    # Branches of one union that fail on the same single value are one problem.
    together: dict[tuple[object, ...], list[_Found]] = defaultdict(list)
    for number, item in enumerate(found):
        branches = item.place.branches
        in_union = bool(branches) and branches[-1][0] == item.place.path and not item.on_key
        same = in_union and item.error["type"] not in {"missing", "extra_forbidden"}
        together[("union", item.path) if same else ("single", number)].append(item)
    problems = []
    for items in together.values():
        path = (*at, *items[0].path)
        where = document.key_position(path) if items[0].on_key else document.position(path)
        says = _merged([item.complaint() for item in items])
        problems.append(Problem(where, says.id, says.found, says.expected, says.nearest))
    return problems


def _likeliest(found: list[_Found], depth: int) -> list[_Found]:
    """Keep, of each union, the errors of the branch that was most likely meant.

    A branch of the wrong kind (text for a block) drops out while another is of the right one; of
    blocks, the one whose keys fit best is kept, then the one with the fewest errors. Branches
    that fail on a single value stay together, for all of them say what could stand there.
    """
    unions: dict[KeyPath, dict[str, list[_Found]]] = defaultdict(lambda: defaultdict(list))
    kept = []
    for item in found:
        if len(item.place.branches) <= depth:
            kept.append(item)
        else:
            path, label = item.place.branches[depth]
            unions[path][label].append(item)
    for path, branches in unions.items():
        fitting = [b for b in branches.values() if not all(_misfits(i, path) for i in b)]
        live = fitting or list(branches.values())
        if any(_is_inside(item, path) for branch in live for item in branch):
            fits = [(_wrong_keys(branch, path), len(branch)) for branch in live]
            live = [live[fits.index(min(fits))]]
        for branch in live:
            kept += _likeliest(branch, depth + 1)
    return kept


def _wrong_keys(branch: list[_Found], union: KeyPath) -> int:
    """Count the missing and the unknown keys of the very block that stands at a union."""
    return sum(
        (item.error["type"] == "missing" and item.place.path == union)
        or (item.error["type"] == "extra_forbidden" and item.place.path[:-1] == union)
        for item in branch
    )


def _is_inside(item: _Found, union: KeyPath) -> bool:
    return item.place.path != union or item.error["type"] == "missing"


def _misfits(item: _Found, union: KeyPath) -> bool:
    return item.place.path == union and is_wrong_kind(item.error)


def _merged(complaints: list[Complaint]) -> Complaint:
    """Make one complaint of several about one value: the most telling, with all expectations."""
    best = min(complaints, key=lambda c: (not c.nearest, c.id in {"wrong-kind", "unknown-value"}))
    wanted = dict.fromkeys(c.expected for c in complaints if c.expected)
    telling = [w for w in wanted if not any(w != other and w in other for other in wanted)]
    return Complaint(best.id, best.found, ", or ".join(telling), best.nearest)

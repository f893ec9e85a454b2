"""A limit as a value that a report can cite, and the files of `rules/limits` that word it."""

from collections.abc import Mapping
from dataclasses import dataclass
from string import Formatter
from typing import Annotated, ClassVar, Literal, TypeAlias

from pydantic import Field, field_validator
from pydantic_core import PydanticCustomError

from faultfinder.source.problem import listed
from faultfinder.source.spelling import nearest
from faultfinder.standards.files import Basis, Citation, StandardFile

Bound: TypeAlias = Literal["at most", "at least"]


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit that a report can cite.

    Attributes
    ----------
    value : float
        The limit itself, not rounded, in `unit`.
    unit : str
        ``ohm``, ``Mohm``, ``V``, ``A`` or ``ms``.
    bound : {'at most', 'at least'}
        On which side of the value a reading is allowed.
    basis : {'derived', 'table', 'practice'}
        Worked out from a formula, read in a table, or habit without a source.
    formula : str
        How it was worked out; '' for a table.
    source : str
        Where the formula and its figures, or the row, are from, and whether they were read.
    says : str
        The limit in one sentence, in the region's words.

    """

    value: float
    unit: str
    bound: Bound
    basis: Basis
    formula: str
    source: str
    says: str

    def allows(self, value: float) -> bool:
        """Return whether a value, in the limit's unit, is within it; the limit itself is."""
        return value <= self.value if self.bound == "at most" else value >= self.value


class LimitFile(StandardFile):
    """A file of `rules/limits`; ``blanks`` are the names that its sentence may hold in ``{}``."""

    blanks: ClassVar[frozenset[str]] = frozenset({"value"})

    kind: Literal["limit"]
    """What kind of rule it is."""
    basis: Basis
    """Worked out from a formula, read in a table, or habit."""
    unit: Literal["ohm", "Mohm", "V", "A", "ms"]
    """The unit of its value."""
    bound: Bound
    """On which side of the value a reading is allowed."""
    says: Annotated[str, Field(min_length=1)]
    """The limit in one sentence, with the blanks it may hold."""
    formula: str = ""
    """How it is worked out."""

    @field_validator("says")
    @classmethod
    def _only_known_blanks(cls, says: str) -> str:
        expected = listed(f"{{{blank}}}" for blank in sorted(cls.blanks))
        try:
            blanks = [blank for _, *blank in Formatter().parse(says) if blank[0] is not None]
        except ValueError as error:
            parts = {"found": f"a brace stands alone ({error})", "expected": expected}
            raise PydanticCustomError("bad-blank", "{found}", parts) from error
        for name, layout, conversion in blanks:
            # How a figure is laid out is decided in one place, so {value:.2f} is refused as well.
            if name not in cls.blanks or layout or conversion:
                near = nearest(name or "", cls.blanks)
                parts = {"found": f"unknown blank {{{name}}}", "expected": expected}
                if layout or conversion:
                    parts["found"] = f"blank {{{name}}} says how to lay it out"
                parts["nearest"] = f"{{{near}}}" if near else ""
                raise PydanticCustomError("bad-blank", "{found}", parts)
        return says

    def limit(
        self,
        value: float,
        sources: tuple[Citation, ...],
        words: Mapping[str, str],
        basis: Basis | None = None,
    ) -> Limit:
        """Return the limit with its sentence filled in; `words` by the names in ``{}``.

        Its basis is the file's unless given.
        """
        # Three figures, but never 1.67e+03.
        said = f"{value:.3g}" if value < 1000.0 else f"{value:.0f}"
        sentence = self.says.format(value=said, **words)
        return Limit(
            value=value,
            unit=self.unit,
            bound=self.bound,
            basis=basis or self.basis,
            formula=self.formula,
            source="; ".join(dict.fromkeys(str(source) for source in sources)),
            says=sentence[0].upper() + sentence[1:],
        )

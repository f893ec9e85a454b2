"""Published values from `check_values.yaml`, by the beginning of their ids."""

from pathlib import Path
from typing import Any

import pytest
import yaml

_GROUPS = yaml.safe_load(Path(__file__).with_name("check_values.yaml").read_text("utf-8"))["groups"]
_ROWS: dict[str, dict[str, Any]] = {}
for _group in _GROUPS:
    for _row in _group["rows"]:
        assert _row["id"] not in _ROWS, f"two values have the id {_row['id']}"
        origin = {key: _group[key] for key in ("source", "address", "provenance", "quantity")}
        _ROWS[_row["id"]] = _row | origin


def published(id_: str) -> dict[str, Any]:
    """Return one published value, with what it depends on and where it is from."""
    return _ROWS[id_]


def each(*beginnings: str) -> list[Any]:
    """Return a test parameter for every value whose id begins so."""
    chosen = [pytest.param(row, id=id_) for id_, row in _ROWS.items() if id_.startswith(beginnings)]
    assert chosen, f"no published value begins with {beginnings}"
    return chosen


def origins() -> list[Any]:
    """Return a test parameter for every group of values."""
    return [pytest.param(group, id=group["rows"][0]["id"]) for group in _GROUPS]


def near(row: dict[str, Any], *, otherwise: float = 0.0) -> Any:
    """Return the published value with its tolerance, or `otherwise` where it is given as exact."""
    # 1e-9: a figure printed as exact is compared through binary fractions.
    return pytest.approx(row["value"], rel=0, abs=max(row["tolerance"] or 0.0, otherwise, 1e-9))

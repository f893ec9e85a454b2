"""How dangerous a dead check is: whether hands go into a board that may be live elsewhere."""

from faultfinder.diagnosis.result import Risk
from faultfinder.wiring.circuit import Circuit

_NEARBY: Risk = "dead with supply nearby"


def risk_of_reading(*, is_set_up: bool) -> Risk:
    """Return the risk of a reading; a test that is not set up yet is set up at the board."""
    return "dead" if is_set_up else _NEARBY


def risk_at(circuit: Circuit, at: str) -> Risk:
    """Return the risk of opening a place, or the first of two (``S3,S4``)."""
    return _NEARBY if circuit.is_at_board(at.partition(",")[0]) else "dead"

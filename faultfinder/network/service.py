"""What follows from a live network's phasors: prospective fault current and voltage drop."""

from math import inf


def prospective_fault_a(u0_v: float, loop_ohm: complex) -> float:
    """Return the current of a bolted fault at the end of a loop: U0 over the size of Z. [A]

    It is what disconnection in time is judged by: Zs Ia <= U0 (IEC 60364-4-41 clause 411.4.4, from
    memory). None flows where the loop is open, and nothing limits it where Z is 0.
    """
    if loop_ohm == 0:
        return inf
    return u0_v / abs(loop_ohm)


def voltage_drop_v(unloaded_v: complex, loaded_v: complex) -> float:
    """Return by how much a voltage is smaller under load than without. [V]

    Sizes are compared, as a voltmeter shows them, and as IEC 60364-5-52 clause 525 means it (from
    memory).
    """
    return abs(unloaded_v) - abs(loaded_v)

"""What follows from a live network's phasors: prospective fault current and voltage drop."""

import numpy as np
import numpy.typing as npt

Numbers = npt.ArrayLike
Floats = npt.NDArray[np.float64]


def prospective_fault_a(u0_v: Numbers, loop_ohm: Numbers) -> Floats:
    """Return the current of a bolted fault at the end of a loop: U0 over the size of Z. [A]

    It is what disconnection in time is judged by: Zs Ia <= U0 (IEC 60364-4-41 clause 411.4.4, from
    memory). None flows where the loop is open, and nothing limits it where Z is 0. Arrays of one
    shape, or single numbers.
    """
    with np.errstate(divide="ignore"):
        return np.asarray(np.divide(u0_v, np.abs(loop_ohm)), dtype=np.float64)


def voltage_drop_v(unloaded_v: Numbers, loaded_v: Numbers) -> Floats:
    """Return by how much a voltage is smaller under load than without. [V]

    Sizes are compared, as a voltmeter shows them, and as IEC 60364-5-52 clause 525 means it (from
    memory). Arrays of one shape, or single numbers.
    """
    return np.asarray(np.abs(unloaded_v) - np.abs(loaded_v), dtype=np.float64)

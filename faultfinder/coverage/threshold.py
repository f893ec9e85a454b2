"""How far from nil a test has to come out before it is an alarm, when many are made at once.

A test is a unit vector u; on a sound circuit it comes out as uᵀz with z standard normal. Alarms are
raised by the largest of many, and many are nearly the same: two places of one bridge, two ohms of
one joint. So Bonferroni's bound, which takes all for different, is too strict: here the chance that
any is over c is worked out, by importance sampling. One test is drawn, all alike, and z from where
that one is over c. If N of the m tests are then over c,

    P(any over c) = m · (1 - Φ(c)) · E[1 / N],

since each z with an alarm counts as often as it has alarms. (R. J. Adler, J. H. Blanchet and
J. Liu, Efficient Monte Carlo for high excursions of Gaussian random fields, Annals of Applied
Probability, 2012; from memory.) Draws are the same every time. m · E[1 / N] is how many different
tests the m amount to.
"""

from statistics import NormalDist

import numpy as np

from faultfinder.evidence.lean import Floats

_DRAWS = 1000  # of them c is known to about 0.01
_SEED = 1522
_ROUNDS = 8  # of bringing c and the number of different tests together
_NORMAL = NormalDist()


def threshold(tests: Floats, false_alarm: float) -> float:
    """Return the c that the largest of some tests exceeds with a chance given.

    Parameters
    ----------
    tests : ndarray, shape (m, q)
        Unit vectors.
    false_alarm : float
        The chance, over 0 and below 1.
    """
    if not len(tests):
        return _NORMAL.inv_cdf(1 - false_alarm)
    rng = np.random.default_rng(_SEED)
    drawn = (np.arange(_DRAWS) * len(tests)) // _DRAWS
    z, share = rng.normal(size=(_DRAWS, tests.shape[1])), rng.random(_DRAWS)
    alike = tests @ tests[drawn].T
    rest = tests @ z.T
    rest -= alike * rest[drawn, np.arange(_DRAWS)]
    different = float(len(tests))
    for _ in range(_ROUNDS):
        over = false_alarm / different
        c = -_NORMAL.inv_cdf(over)
        at = np.array([-_NORMAL.inv_cdf(over * part) for part in share.tolist()])
        alarms = (rest + alike * at > c).sum(axis=0)
        # The test drawn is over c itself; rounding may have put it a hair below.
        different = max(1.0, len(tests) * float(np.mean(1 / np.maximum(alarms, 1))))
    return -_NORMAL.inv_cdf(false_alarm / different)

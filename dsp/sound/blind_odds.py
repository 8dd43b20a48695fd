"""Significance of a blind comparison: the chance that guessing does as well."""

from __future__ import annotations

from dsp.errors import InputError

LENGTHS = (8, 10, 12, 16, 20)
"""Numbers of trials that a test may have."""
LIMIT = 0.05
"""Below this chance a difference counts as heard, by statistical convention."""


def chance_of_guessing(right: int, trials: int) -> float:
    """Return the chance of at least so many right answers by guessing.

    Parameters
    ----------
    right, trials : int
        0 <= right <= trials.

    Returns
    -------
    float
        Upper tail of the binomial distribution at 1/2: the p value of a one-sided test.

    Raises
    ------
    InputError
        If the number of right answers is negative or exceeds the trials.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.6.18, from memory.
    """
    from scipy.special import bdtrc

    if not 0 <= right <= trials:
        raise InputError("right answers", f"{right} of {trials}", f"0 to {trials}")
    return float(bdtrc(right - 1, trials, 0.5))


def fewest_right(trials: int) -> int:
    """Return the fewest right answers that chance alone reaches below `LIMIT`."""
    return next(right for right in range(trials + 1) if chance_of_guessing(right, trials) < LIMIT)

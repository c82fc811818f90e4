"""Whether a bias is shown to be too small to matter: two one-sided tests."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass

from scipy import special

from accuracy.core.agreement.differences import bias, plain, sd
from trainlog.trace import FloatArray

EQUIVALENCE_MARGIN = 5.0
"""bpm of mean difference that would not matter (ours; say another where another matters)."""


@dataclass(frozen=True)
class Equivalence:
    """Outcome of two one-sided t tests.

    Attributes
    ----------
    margin : float
        bpm of mean difference, to either side, that would not matter.
    p : float
        The larger of the two one-sided p values.
    interval : tuple of float
        90% confidence interval of the mean difference, bpm: inside the margin where p < 0.05.
    equivalent : bool
        p below 0.05.
    """

    margin: float
    p: float
    interval: tuple[float, float]
    equivalent: bool

    def as_dict(self) -> dict:
        """Figures by name (margin and interval in bpm), ready for JSON."""
        return plain(asdict(self))


def equivalence_test(
    differences: FloatArray, *, margin: float = EQUIVALENCE_MARGIN, size: float | None = None
) -> Equivalence:
    """Test paired differences for equivalence within a margin.

    Parameters
    ----------
    differences : array, shape (n,)
        Tested minus reference in bpm: one a session, or a session's seconds with their effective size.
    margin : float
        bpm to either side of zero.
    size : float, optional
        Number of independent differences; by default all of them.

    Returns
    -------
    Equivalence
        Both one-sided t tests with n - 1 degrees of freedom.

    Raises
    ------
    ValueError
        If there are fewer than two differences or the margin is not positive.

    References
    ----------
    Schuirmann DJ (1987). A comparison of the two one-sided tests procedure and the power approach for
    assessing the equivalence of average bioavailability. J Pharmacokinet Biopharm 15:657-680.
    """
    if margin <= 0:
        raise ValueError("a margin is positive")
    middle, n = bias(differences), len(differences) if size is None else size
    error = sd(differences) / math.sqrt(n)
    if error == 0:
        inside = abs(middle) < margin
        return Equivalence(margin, 0.0 if inside else 1.0, (middle, middle), inside)
    p = max(
        float(special.stdtr(n - 1, -(middle + margin) / error)),
        float(special.stdtr(n - 1, (middle - margin) / error)),
    )
    reach = float(special.stdtrit(n - 1, 0.95)) * error
    return Equivalence(margin, p, (middle - reach, middle + reach), p < 0.05)

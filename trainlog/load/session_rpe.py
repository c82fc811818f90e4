"""Session rating of perceived exertion."""

HIGHEST_RATING = 10
"""Top of the category-ratio scale (CR10)."""


def session_rpe_load(rating: float, minutes: float) -> float:
    """Session-RPE load: the rating of the whole session times its length.

    Parameters
    ----------
    rating : float
        0 (rest) to 10 (maximal) on the CR10 scale, asked about 30 minutes after the session.
    minutes : float
        Length of the session.

    Returns
    -------
    float
        Load in arbitrary units; not comparable with a heart-rate load.

    Raises
    ------
    ValueError
        If the rating is outside 0 to 10 or the length is negative.

    References
    ----------
    Foster C et al. (2001). J Strength Cond Res 15(1):109-115.

    Examples
    --------
    >>> session_rpe_load(5, 60)
    300.0
    """
    if not 0 <= rating <= HIGHEST_RATING:
        raise ValueError(f"a session-RPE lies between 0 and {HIGHEST_RATING}, not at {rating}")
    if minutes < 0:
        raise ValueError("a session cannot last less than nothing")
    return float(rating * minutes)

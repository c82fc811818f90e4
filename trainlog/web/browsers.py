"""Which browser is asking, in plain words, so that one can tell one's own."""

from __future__ import annotations

# What claims to be others too comes before them.
_BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("FxiOS/", "Firefox"),
    ("Firefox/", "Firefox"),
    ("CriOS/", "Chrome"),
    ("Chrome/", "Chrome"),
    ("Safari/", "Safari"),
)
_SYSTEMS = (
    ("Android", "Android"),
    ("iPhone", "an iPhone"),
    ("iPad", "an iPad"),
    ("Windows", "Windows"),
    ("CrOS", "ChromeOS"),
    ("Mac OS X", "a Mac"),
    ("Linux", "Linux"),
)
LONGEST = 40
"""Characters that are kept of what names itself in no way that is known here."""


def browser_in_words(agent: str) -> str:
    """Family and system of a browser.

    Parameters
    ----------
    agent : str
        Header User-Agent; whoever asks may write there what they like.

    Examples
    --------
    >>> browser_in_words("Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0")
    'Firefox on Linux'
    """
    browser = next((words for sign, words in _BROWSERS if sign in agent), "")
    system = next((words for sign, words in _SYSTEMS if sign in agent), "")
    if browser and system:
        return f"{browser} on {system}"
    if browser or system:
        return browser or f"a browser on {system}"
    told = "".join(letter for letter in agent if letter.isprintable()).strip()[:LONGEST]
    return told or "a browser that does not say which"

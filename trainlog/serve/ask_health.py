"""Ask an installation how it is: ``python -m trainlog.serve.ask_health [ADDRESS [PART]]``; 0 is well.

PART is one thing of the answer, such as ``sweep``, where the others are somebody else's to mend. For health
checks of containers, which have no other client at hand.
"""

import json
import sys
import urllib.error
import urllib.request

HERE = "http://127.0.0.1:8000/health"


def is_well(address: str, part: str = "", seconds: float = 10.0) -> tuple[bool, str]:
    """Whether an installation says that it works, and its words.

    Parameters
    ----------
    address : str
        Address of its health page.
    part : str
        What alone is looked at; empty for all.
    seconds : float
        How long it may take.
    """
    # Named as on its own machine: other names are answered only if the settings know them.
    request = urllib.request.Request(address, headers={"Host": "127.0.0.1"})
    try:
        with urllib.request.urlopen(request, timeout=seconds) as answer:
            return True, answer.read().decode()
    except urllib.error.HTTPError as refusal:
        words = refusal.read().decode(errors="replace")
        return bool(part) and _is_part_well(words, part), words
    except OSError as error:
        return False, str(error)


def _is_part_well(words: str, part: str) -> bool:
    try:
        return json.loads(words)[part]["ok"] is True
    except (ValueError, KeyError, TypeError):
        return False


if __name__ == "__main__":
    asked = dict(enumerate(sys.argv))
    well, words = is_well(asked.get(1, HERE), asked.get(2, ""))
    print(words)
    sys.exit(not well)

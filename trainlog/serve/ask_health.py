"""Ask an installation how it is: ``python -m trainlog.serve.ask_health [ADDRESS]`` ends with 0 if well.

For health checks of containers, which have no other client at hand.
"""

import sys
import urllib.error
import urllib.request

HERE = "http://127.0.0.1:8000/health"


def is_well(address: str, seconds: float = 10.0) -> tuple[bool, str]:
    """Whether an installation says that it works, and its words.

    Parameters
    ----------
    address : str
        Address of its health page.
    seconds : float
        How long it may take.
    """
    # Named as on its own machine: other names are answered only if the settings know them.
    request = urllib.request.Request(address, headers={"Host": "127.0.0.1"})
    try:
        with urllib.request.urlopen(request, timeout=seconds) as answer:
            return True, answer.read().decode()
    except urllib.error.HTTPError as refusal:
        return False, refusal.read().decode(errors="replace")
    except OSError as error:
        return False, str(error)


if __name__ == "__main__":
    well, words = is_well(sys.argv[1] if len(sys.argv) > 1 else HERE)
    print(words)
    sys.exit(not well)

"""Version of the program; the same as in pyproject.toml, which a container does not hold."""

VERSION = "0.1.0"

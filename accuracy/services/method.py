"""Version of the method: raised when the same inputs would give other estimates."""

METHOD_VERSION = 4

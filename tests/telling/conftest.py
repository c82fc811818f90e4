"""Lines as the settings would write them, into a text."""

from __future__ import annotations

import io
import json
import logging
import logging.config
from typing import Any

import pytest

from trainlog.telling.log_lines import logging_settings


class Lines:
    """What was written."""

    def __init__(self) -> None:
        self.text = io.StringIO()

    def plain(self) -> list[str]:
        return self.text.getvalue().splitlines()

    def json(self) -> list[dict[str, Any]]:
        return [json.loads(line) for line in self.plain()]


@pytest.fixture
def lines(request):
    """Lines of the form that the test names (``json`` if none), at level INFO."""
    lines = Lines()
    settings = logging_settings(getattr(request, "param", "json"), "INFO")
    settings["handlers"]["console"]["stream"] = lines.text
    root = logging.getLogger()
    names = [None, *settings["loggers"]]
    before = [
        (logger, logger.level, list(logger.handlers), logger.propagate)
        for logger in (logging.getLogger(name) for name in names)
    ]
    kept = list(root.handlers)
    logging.config.dictConfig(settings)
    root.handlers = [*root.handlers, *(handler for handler in kept if handler not in root.handlers)]
    yield lines
    for logger, level, handlers, propagate in before:
        logger.setLevel(level)
        logger.handlers = handlers
        logger.propagate = propagate

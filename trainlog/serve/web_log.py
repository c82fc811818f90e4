"""What the web server itself tells, in the form of all other lines."""

from __future__ import annotations

import logging
import logging.config
from typing import Any

from django.conf import settings
from gunicorn.glogging import Logger


class WebLog(Logger):
    """Hands the server's lines on to the log that the settings describe, from its first process on."""

    def setup(self, cfg: Any) -> None:
        """Set the log up, and take the server's own handlers away."""
        super().setup(cfg)
        logging.config.dictConfig(settings.LOGGING)
        self.error_log.handlers = []
        self.error_log.propagate = True

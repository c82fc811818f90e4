"""The one way in which the log tells others that it has changed."""

from django.dispatch import Signal

log_has_changed = Signal()
"""Sent after commit with ``athlete_id``: something an estimate of this athlete rests on has changed."""

log_swept = Signal()
"""Sent by the regular sweep, so that every app looks for work that nobody has taken up."""

installation_examined = Signal()
"""Sent by ``manage.py doctor``; a receiver gives a list of ``keeping.findings.Finding`` of its own app."""

backlog_asked = Signal()
"""Sent when somebody asks what waits; a receiver gives a list of ``services.backlog.Backlog``."""

"""The log as a Django application."""

from django.apps import AppConfig


class TrainlogConfig(AppConfig):
    """Builds the queue's client once settings are known, and has sign-ins noted."""

    name = "trainlog"
    verbose_name = "Training log"

    def ready(self) -> None:
        """Build the Celery application; it finds the tasks of every app."""
        from trainlog import celery  # noqa: F401
        from trainlog.web import sign_ins  # noqa: F401

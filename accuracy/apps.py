"""Learning of error profiles as a Django application."""

from django.apps import AppConfig


class AccuracyConfig(AppConfig):
    """Listens for changes of a log."""

    name = "accuracy"
    verbose_name = "Sensor accuracy"

    def ready(self) -> None:
        """Connect the one receiver that wakes a worker when a log has changed."""
        from accuracy import tasks  # noqa: F401  (its import connects the receiver)

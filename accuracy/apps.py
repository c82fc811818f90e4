"""Learning of error profiles as a Django application."""

from django.apps import AppConfig


class AccuracyConfig(AppConfig):
    """Listens for changes of a log."""

    name = "accuracy"
    verbose_name = "Sensor accuracy"

    def ready(self) -> None:
        """Connect what wakes a worker when a log has changed, and what is found of learning when asked."""
        from accuracy import tasks  # noqa: F401  (its import connects the receivers)
        from accuracy.services.backlog import backlog
        from accuracy.services.examined import examined
        from trainlog.signals import backlog_asked, installation_examined

        installation_examined.connect(examined)
        backlog_asked.connect(backlog)

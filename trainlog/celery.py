"""The queue's client. It only wakes workers: what is to be done stands in the database."""

from celery import Celery
from django.conf import settings

from trainlog.pace import SWEEP_EVERY, TIME_LIMIT, VISIBILITY
from trainlog.regularly import Regularly
from trainlog.telling import task_lines  # noqa: F401  (its import connects what tells of tasks)

# Where DJANGO_SETTINGS_MODULE is set, Celery itself sets Django up before a worker imports any tasks.
app = Celery("trainlog")
# The current application is known to one thread only; the web server's other threads ask for the default.
app.set_default()
app.conf.update(
    broker_url=settings.CELERY_BROKER_URL,
    broker_transport_options={
        # Longer than any task, short enough that a killed worker's task comes back soon.
        "visibility_timeout": VISIBILITY,
        "unacked_restore_interval": 1,
        # A request that cannot reach the queue goes on at once: the sweep finds what was not sent.
        "max_retries": 0,
        "socket_connect_timeout": 2,
        "socket_timeout": 5,
    },
    broker_connection_retry_on_startup=True,
    broker_connection_max_retries=None,
    task_ignore_result=True,
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    task_time_limit=TIME_LIMIT,
    task_default_queue="learning",
    # Files are read while a log is learned from. Reports, which take minutes, and the sweep have workers of
    # their own: behind a report a file would wait, and behind a full queue the sweep would starve.
    task_routes={
        "trainlog.tasks.sweep": {"queue": "sweep"},
        "trainlog.tasks.read_next": {"queue": "imports"},
        "accuracy.tasks.make_report": {"queue": "reports"},
    },
    worker_prefetch_multiplier=1,
    worker_send_task_events=False,
    worker_hijack_root_logger=False,
    beat_schedule={
        "sweep": {
            "task": "trainlog.tasks.sweep",
            "schedule": Regularly(SWEEP_EVERY),
            "options": {"expires": SWEEP_EVERY},
        }
    },
    beat_scheduler="trainlog.regularly:Scheduler",
)
app.autodiscover_tasks()

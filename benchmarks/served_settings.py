"""Settings of the installation whose load is measured: the log's, and an empty view beside its pages."""

from trainlog.settings import *  # noqa: F403

ROOT_URLCONF = "benchmarks.empty_view"

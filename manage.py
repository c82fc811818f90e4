#!/usr/bin/env python
"""Django's command line for this project."""

import os
import sys

from django.core.management import execute_from_command_line

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "trainlog.settings")
    # The matrices are small: threads of the linear algebra would only wait for each other.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    execute_from_command_line(sys.argv)

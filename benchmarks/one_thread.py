"""Numerical libraries on one thread, as the server and the worker run them; imported before numpy."""

import os

for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
    os.environ.setdefault(name, "1")

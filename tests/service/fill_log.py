"""Make a log with a row of every kind, from a process of its own: ``fill_log.py NAME``."""

import sys

import django

if __name__ == "__main__":
    django.setup()

    from django.contrib.auth.models import Group

    from tests.full_log import full_log
    from trainlog import originals
    from trainlog.models import Deletion, Part, Recording

    owner = full_log(sys.argv[1], "é½ ")
    owner.user.groups.add(Group.objects.create(name=sys.argv[1]))
    kept = originals.keep(owner.pk, b"an original that only a deletion names")
    Deletion.objects.of(owner).update(hashes=[kept], rows=b"\x00\xff")
    # What databases keep differently: microseconds, the sign of zero, JSON's numbers and order of keys.
    Part.objects.of(owner).update(session_rpe=-0.0, changed_at="2026-03-02T06:30:00.000001+00:00")
    Recording.objects.of(owner).update(
        told={"long key": 1.0, "b": [1e23, -0.0, 0.1, None], "é": {"z": 1, "a": 2}}
    )

"""Take files in as an upload does, from a process of its own: ``receive_files.py FIRST COUNT``."""

import sys
from datetime import UTC, datetime, timedelta

import django


def workout_file(number: int) -> bytes:
    """Ten minutes of heart rate on a day of its own."""
    start = datetime(2025, 1, 1, 6, tzinfo=UTC) + timedelta(days=number)
    rows = [
        f"{(start + timedelta(seconds=second)).isoformat()},{100 + (number + second // 30) % 50}"
        for second in range(600)
    ]
    return "\n".join(["time,heart_rate", *rows, ""]).encode()


if __name__ == "__main__":
    django.setup()

    from django.contrib.auth import get_user_model

    from trainlog.services.athletes import log_of
    from trainlog.services.import_files import receive

    user, _ = get_user_model().objects.get_or_create(username="someone")
    first, count = int(sys.argv[1]), int(sys.argv[2])
    for number in range(first, first + count):
        receive(log_of(user), f"{number}.csv", workout_file(number))

"""Open logs that are alike but for their owner, from a process of its own: ``prepare.py NAME …``.

Prints the owners' session keys as JSON, by name.
"""

import json
import sys
import uuid
from datetime import date

import django

ALIKE = uuid.UUID("6f0f7a52-3d1c-4b9e-9d7e-5a1f2c3b4d5e")


def open_alike(name: str) -> str:
    """Open one log, with the seed, sensors and physiology that all have, and sign in to it."""
    from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY, get_user_model
    from django.contrib.sessions.backends.db import SessionStore

    from trainlog.models import Physiology, Sensor
    from trainlog.services.athletes import open_log, set_physiology
    from trainlog.services.sensors import save_sensor

    user = get_user_model().objects.create_user(username=name)
    owner = open_log(user, seed=7)
    heart = {"resting_rate": 50, "maximum_rate": 190, "maximum_source": "measured", "maximum_error": 3}
    set_physiology(owner, Physiology(from_day=date(2026, 1, 1), **heart))
    for device, site, principle in (("strap", "chest", "electrical"), ("wrist", "wrist", "optical")):
        key = uuid.uuid5(ALIKE, device)
        save_sensor(
            owner,
            Sensor(name=device, key=key, site=site, principle=principle, source_key=f"csv:{device}"),
        )
    session = SessionStore()
    session[SESSION_KEY] = str(user.pk)
    session[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.create()
    return str(session.session_key)


if __name__ == "__main__":
    django.setup()
    print(json.dumps({name: open_alike(name) for name in sys.argv[1:]}))

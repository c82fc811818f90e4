"""What a browser meets: address, static files, Django's own checks."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import urlsplit

from django.conf import settings
from django.contrib.staticfiles.finders import AppDirectoriesFinder
from django.contrib.staticfiles.storage import HashedFilesMixin, staticfiles_storage
from django.core import checks

from trainlog.keeping.findings import Finding

HERE = {"127.0.0.1", "localhost", "::1"}
COLLECT = "Run `python manage.py collectstatic --no-input`."


def address() -> Finding:
    """Whether the address, its scheme and debugging go together."""
    url = urlsplit(settings.BASE_URL)
    local = url.hostname in HERE
    if settings.DEBUG:
        return Finding(
            "address",
            f"debugging is on under {settings.BASE_URL}: errors show the program's inside to anyone.",
            "Unset TRAINLOG_DEBUG.",
        )
    if url.scheme != "https" and not local:
        return Finding(
            "address",
            f"passwords travel readable to {settings.BASE_URL}.",
            "Put a proxy that speaks TLS before the log, and set TRAINLOG_BASE_URL to its https address.",
        )
    return Finding("address", f"{settings.BASE_URL}{', from this machine alone' if local else ''}")


def static_files() -> Finding:
    """Whether style and scripts are where the web server looks for them."""
    if settings.DEBUG:
        return Finding("static files", "served as they are, for debugging")
    names = [name for name, _ in AppDirectoriesFinder().list([])]
    missing = [name for name in names if not _is_collected(name)]
    if missing:
        return Finding("static files", f"{len(missing)} of {len(names)} have not been collected.", COLLECT)
    return Finding("static files", f"{len(names)} collected")


def django_checks() -> Finding:
    """Whether Django itself has something to say of the settings."""
    secure = settings.BASE_URL.startswith("https://")
    said = [
        message
        for message in checks.run_checks(include_deployment_checks=secure)
        if message.level >= checks.WARNING and not message.is_silenced()
    ]
    command = f"`python manage.py check{' --deploy' if secure else ''}`"
    if not said:
        return Finding("settings", f"{command} finds nothing")
    names = ", ".join(sorted({message.id or "unnamed" for message in said}))
    return Finding("settings", f"{command} finds {names}.", f"Run {command}, and do what it says.")


def _is_collected(name: str) -> bool:
    stored = name
    if isinstance(staticfiles_storage, HashedFilesMixin):
        try:
            stored = staticfiles_storage.stored_name(name)
        except ValueError:
            return False
    return (Path(settings.STATIC_ROOT) / stored).exists()

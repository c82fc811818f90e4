"""The chart library's one script, made from the installed package and collected with the static files."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from importlib.metadata import version
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage, Storage

BUNDLE = "charts/vega_embed.js"
"""Name under which templates ask for it; the script defines ``vegaEmbed``."""


def built_folder() -> Path:
    """Where the script is kept, by the version of the package that makes it."""
    return Path(settings.DATA_FOLDER) / "built" / version("vl-convert-python")


def build_bundle() -> Path:
    """Make the script, unless this version's has been made."""
    path = built_folder() / BUNDLE
    if not path.exists():
        import vl_convert  # noqa: PLC0415  (30 MB that only this needs)

        path.parent.mkdir(parents=True, exist_ok=True)
        unfinished = path.with_suffix(f".{os.getpid()}")
        script = vl_convert.javascript_bundle()  # type: ignore[call-arg] # its stub knows no default
        unfinished.write_text(script, encoding="utf-8")
        unfinished.replace(path)
    return path


class BundleFinder(BaseFinder):
    """Finds the chart library's script, and makes it where there is none yet."""

    def check(self, **kwargs: Any) -> list[Any]:
        """Nothing can be configured wrongly."""
        return []

    def find(self, path: str, find_all: bool = False, **kwargs: Any) -> Any:
        """Path of the script if it is what is looked for."""
        found = [str(build_bundle())] if path == BUNDLE else []
        return found if find_all or not found else found[0]

    def list(self, ignore_patterns: Iterable[str] | None) -> Iterator[tuple[str, Storage]]:
        """Yield the script's name and where it lies."""
        build_bundle()
        yield BUNDLE, FileSystemStorage(location=str(built_folder()))

import tomllib
from pathlib import Path

from trainlog.version import VERSION


def test_the_version_is_that_of_the_project():
    project = Path(__file__).resolve().parents[1] / "pyproject.toml"
    assert tomllib.loads(project.read_text())["project"]["version"] == VERSION

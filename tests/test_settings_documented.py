import re
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[1]
READ_BY_SETTINGS = set(
    re.findall(r'env\.\w+\(\s*"(TRAINLOG_\w+)"', (PROJECT / "trainlog/settings.py").read_text())
)


def test_the_settings_table_lists_exactly_what_settings_read():
    rows = re.findall(r"^\| `(TRAINLOG_\w+)`", (PROJECT / "README.md").read_text(), re.MULTILINE)
    assert sorted(rows) == sorted(READ_BY_SETTINGS)


def test_no_setting_is_read_anywhere_else():
    elsewhere = {
        (path.relative_to(PROJECT).as_posix(), name)
        for package in ("trainlog", "accuracy")
        for path in (PROJECT / package).rglob("*.py")
        for name in re.findall(r"TRAINLOG_[A-Z_]+", path.read_text())
        if name not in READ_BY_SETTINGS
    }
    assert elsewhere == set()

from datetime import date

from trainlog.serve import demo


def test_a_load_that_was_broken_off_goes_on_with_the_same_days_and_password(tmp_path):
    load = demo.begin(tmp_path, last_day=date(2026, 3, 1))
    assert demo.begun(tmp_path) == load
    assert load.last_day == "2026-03-01"


def test_the_password_is_readable_by_this_account_alone_and_gone_at_the_end(tmp_path):
    demo.begin(tmp_path, last_day=date(2026, 3, 1))
    assert (tmp_path / demo.NOTE).stat().st_mode & 0o077 == 0
    demo.end(tmp_path)
    assert demo.begun(tmp_path) is None
    assert list(tmp_path.iterdir()) == []

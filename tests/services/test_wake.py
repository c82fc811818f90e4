import logging
import socket
import time

import pytest
from celery import Celery

from trainlog import celery as project
from trainlog.services import wake as waking


@pytest.fixture(autouse=True)
def awake(monkeypatch):
    """No earlier failure is remembered, and none is left behind."""
    monkeypatch.setattr(waking, "_Queue", type("_Queue", (), {"down": False, "ask_again_at": 0.0}))


@pytest.fixture
def use_broker(monkeypatch):
    """Send to another broker, with the project's own options but for a shorter patience."""

    def use(url):
        app = Celery("elsewhere", set_as_current=False)
        options = project.app.conf.broker_transport_options | {"socket_timeout": 0.3}
        app.conf.update(broker_url=url, broker_transport_options=options)
        monkeypatch.setattr(waking, "app", app)

    return use


def test_a_task_is_sent_by_its_name(use_broker):
    use_broker("memory://")
    assert waking.wake("some.task", 1)


def test_a_queue_that_is_down_is_said_once_and_raises_nothing(use_broker, tmp_path, caplog):
    use_broker(f"redis+socket://{tmp_path / 'nobody.sock'}?virtual_host=0")
    with caplog.at_level(logging.WARNING):
        began = time.monotonic()
        assert [waking.wake("some.task", number) for number in range(200)] == [False] * 200
    assert time.monotonic() - began < 30
    assert len(caplog.records) == 1


def test_a_queue_that_takes_calls_and_never_answers_does_not_hold_up_an_upload(use_broker):
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        listener.listen()
        use_broker(f"redis://127.0.0.1:{listener.getsockname()[1]}/0")
        began = time.monotonic()
        assert not waking.wake("some.task", 1)
        assert time.monotonic() - began < 30


def test_a_queue_that_comes_back_is_used_again(use_broker, tmp_path):
    use_broker(f"redis+socket://{tmp_path / 'nobody.sock'}?virtual_host=0")
    assert not waking.wake("some.task", 1)
    use_broker("memory://")
    assert not waking.wake("some.task", 1)
    waking._Queue.ask_again_at = time.monotonic()
    assert waking.wake("some.task", 1)

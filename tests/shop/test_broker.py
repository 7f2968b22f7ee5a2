"""The broker made of files: order, claims, broken messages, and a worker that is killed."""

import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import Empty
from typing import Any

import pytest
from kombu import Connection, Consumer, Producer, Queue
from kombu.exceptions import ChannelError

from shop.broker import recover, take_over

pytestmark = pytest.mark.slow  # the queue of files, which no database takes part in

REPO = Path(__file__).resolve().parents[2]


@pytest.fixture
def queue_dir(tmp_path: Path) -> Path:
    return tmp_path / "queue"


@pytest.fixture
def connection(queue_dir: Path) -> Iterator[Any]:
    options = {"queue_dir": str(queue_dir), "polling_interval": 0.01}
    with Connection("filesystem://", transport="shop.broker:Transport", transport_options=options) as opened:
        yield opened


def send(connection: Any, *bodies: Any) -> None:
    producer = Producer(connection.channel())
    for body in bodies:
        producer.publish({"n": body}, routing_key="work", serializer="json")


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.glob("*")) if folder.exists() else []


def test_messages_come_in_the_order_they_were_sent_and_leave_no_file(connection: Any, queue_dir: Path) -> None:
    send(connection, *range(20))
    channel = connection.channel()
    got = []
    while (message := channel.basic_get("work")) is not None:
        got.append(json.loads(message.body)["n"])
        message.ack()
    assert got == list(range(20))
    assert names(queue_dir / "work") == names(queue_dir / "inflight" / "work") == []


def test_a_claimed_message_stays_on_disk_until_it_is_acknowledged(connection: Any, queue_dir: Path) -> None:
    send(connection, 1)
    message = connection.channel().basic_get("work")
    assert names(queue_dir / "work") == []
    assert len(names(queue_dir / "inflight" / "work")) == 1
    message.ack()
    assert names(queue_dir / "inflight" / "work") == []


def test_recovery_returns_what_a_dead_worker_had_claimed_and_marks_it(connection: Any, queue_dir: Path) -> None:
    send(connection, 1, 2)
    connection.channel().basic_get("work")
    assert recover(queue_dir, "work") == 1
    again = connection.channel().basic_get("work")
    assert json.loads(again.body)["n"] == 1, "the older message comes first again"
    assert again.delivery_info["redelivered"] is True
    assert connection.channel().basic_get("work").delivery_info["redelivered"] is False


def test_a_rejected_message_is_dropped_or_goes_back(connection: Any, queue_dir: Path) -> None:
    send(connection, 1)
    connection.channel().basic_get("work").reject(requeue=True)
    assert len(names(queue_dir / "work")) == 1
    connection.channel().basic_get("work").reject(requeue=False)
    assert names(queue_dir / "work") == names(queue_dir / "inflight" / "work") == []


def test_closing_the_channel_returns_what_was_not_acknowledged(connection: Any, queue_dir: Path) -> None:
    send(connection, 1)
    channel = connection.channel()
    channel.basic_get("work")
    channel.close()
    assert [name.endswith(".again.msg") for name in names(queue_dir / "work")] == [True]


@pytest.mark.parametrize("content", ["", '{"body": "x', "[]", '{"properties": {}}'])
def test_a_broken_message_is_set_aside_and_does_not_stop_the_next(
    connection: Any, queue_dir: Path, content: str
) -> None:
    (queue_dir / "work").mkdir(parents=True)
    (queue_dir / "work" / "0-broken.msg").write_text(content)
    send(connection, 7)
    assert json.loads(connection.channel().basic_get("work").body)["n"] == 7
    assert names(queue_dir / "broken" / "work") == ["0-broken.msg"]


def test_a_half_written_message_is_not_seen(connection: Any, queue_dir: Path) -> None:
    (queue_dir / "work").mkdir(parents=True)
    (queue_dir / "work" / ".1-draft.msg").write_text('{"bo')
    channel = connection.channel()
    assert channel.basic_get("work") is None
    assert channel._size("work") == 0
    with pytest.raises(Empty):
        channel._get("work")


def test_only_old_drafts_are_removed_by_recovery(queue_dir: Path) -> None:
    folder = queue_dir / "work"
    folder.mkdir(parents=True)
    for name, age in ((".old.msg", 4000), (".new.msg", 10)):
        (folder / name).touch()
        os.utime(folder / name, (time.time() - age,) * 2)
    recover(queue_dir, "work")
    assert [path.name for path in folder.iterdir()] == [".new.msg"]


def test_a_queue_has_only_one_worker_at_a_time(queue_dir: Path) -> None:
    with take_over(queue_dir, "work"):
        with pytest.raises(ChannelError, match="has another worker"):
            take_over(queue_dir, "work", wait_seconds=0)
        take_over(queue_dir, "tick", wait_seconds=0).close()
    take_over(queue_dir, "work", wait_seconds=0).close()


@pytest.mark.parametrize("name", ["../etc", "inflight", "broken", ".hidden", "a/b"])
def test_a_queue_cannot_be_named_like_another_folder(connection: Any, name: str) -> None:
    with pytest.raises(ChannelError, match="cannot be the name of a queue"):
        connection.channel()._put(name, {"properties": {}})


def test_two_claimers_never_get_the_same_message(connection: Any) -> None:
    send(connection, *range(50))
    channels = [connection.channel(), connection.channel()]
    got = []
    while messages := [m for m in (channel.basic_get("work") for channel in channels) if m is not None]:
        got += [json.loads(message.body)["n"] for message in messages]
    assert sorted(got) == list(range(50))


def test_a_consumer_without_acknowledgement_leaves_no_file(connection: Any, queue_dir: Path) -> None:
    send(connection, 5)
    got: list[Any] = []
    queue = Queue("work", routing_key="work")
    with Consumer(connection, [queue], callbacks=[lambda body, message: got.append(body["n"])], no_ack=True):
        connection.drain_events(timeout=5)
    assert got == [5]
    assert names(queue_dir / "inflight" / "work") == []


# --- A real worker ----------------------------------------------------------------------------------------------------


def wait_for(condition: Callable[[], object], seconds: float = 40) -> None:
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, "waited too long"
        time.sleep(0.01)


@pytest.fixture
def worker(queue_dir: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[], subprocess.Popen[bytes]]]:
    started: list[subprocess.Popen[bytes]] = []
    environment = os.environ | {"TEST_QUEUE_DIR": str(queue_dir), "PYTHONPATH": str(REPO)}
    environment.pop("DJANGO_SETTINGS_MODULE", None)
    command = [sys.executable, "-m", "celery", "-A", "tests.shop.broker_app", "worker", "-Q", "work", "-c", "1"]

    def start() -> subprocess.Popen[bytes]:
        with (queue_dir.parent / "worker.log").open("ab") as log:
            process = subprocess.Popen(
                [*command, "--without-gossip", "--without-mingle", "--without-heartbeat"],
                cwd=REPO,
                env=environment,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        started.append(process)
        return process

    yield start
    for process in started:
        kill(process)


def kill(process: subprocess.Popen[bytes]) -> None:
    """End a worker with its children at once, as a lack of memory or a power cut would."""
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except ProcessLookupError:
        pass
    process.wait(timeout=10)


def send_tasks(connection: Any, task: str, numbers: range) -> None:
    from celery import Celery

    app = Celery(set_as_current=False)
    for number in numbers:
        app.send_task(task, args=[number], connection=connection, queue="work", ignore_result=True, retry=False)


def test_no_task_is_lost_when_the_worker_is_killed_twice(
    connection: Any, queue_dir: Path, worker: Callable[[], subprocess.Popen[bytes]]
) -> None:
    done = queue_dir.parent / "done"

    def count() -> int:
        return len(done.read_text().split()) if done.exists() else 0

    send_tasks(connection, "note", range(60))
    for reached in (10, 30):
        process = worker()
        wait_for(lambda: count() >= reached and names(queue_dir / "inflight" / "work"))  # noqa: B023 - waited for here
        kill(process)
        assert names(queue_dir / "inflight" / "work"), "a task was being worked on"
    assert count() < 60, "the worker was killed in the middle of the work"
    worker()
    # A task that ran twice counts twice: the queue is empty only when the last one is done.
    wait_for(lambda: count() >= 60 and not names(queue_dir / "work") and not names(queue_dir / "inflight" / "work"))
    times = Counter(int(line) for line in done.read_text().split())
    assert set(times) == set(range(60))
    assert sum(times.values()) <= 62, "only the task that was being worked on at each kill may run twice"
    assert names(queue_dir / "work") == names(queue_dir / "inflight" / "work") == []


def test_a_task_whose_child_dies_is_done_by_another_child(
    connection: Any, queue_dir: Path, worker: Callable[[], subprocess.Popen[bytes]]
) -> None:
    done = queue_dir.parent / "done"
    send_tasks(connection, "die_once", range(2))
    worker()
    wait_for(lambda: done.exists() and sorted(done.read_text().split()) == ["0", "1"])
    wait_for(lambda: not names(queue_dir / "inflight" / "work"))


def test_a_worker_that_is_asked_to_end_finishes_its_task_and_returns_the_others(
    connection: Any, queue_dir: Path, worker: Callable[[], subprocess.Popen[bytes]]
) -> None:
    done = queue_dir.parent / "done"
    send_tasks(connection, "note", range(100))
    process = worker()
    wait_for(lambda: done.exists() and len(done.read_text().split()) >= 5)
    process.send_signal(signal.SIGTERM)
    process.wait(timeout=30)
    finished = [int(line) for line in done.read_text().split()]
    assert len(finished) == len(set(finished)) < 100
    assert len(names(queue_dir / "work")) == 100 - len(finished)
    assert names(queue_dir / "inflight" / "work") == []

"""The production broker: the settings that REDIS_URL brings, against a real server.

Database 15 of it is used, and only when that is empty.
"""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from celery import Celery
from django.conf import settings

from tests.shop.commands import REPO

redis = pytest.importorskip("redis")
pytestmark = pytest.mark.redis


@pytest.fixture
def url() -> Iterator[str]:
    base = settings.TEST_REDIS_URL
    address = f"{base.split('?')[0]}?db=15" if base.startswith("unix:") else f"{base.rsplit('/', 1)[0]}/15"
    server = redis.Redis.from_url(address)
    if server.dbsize():
        pytest.skip(f"{address} is not empty")
    yield address
    server.flushdb()
    server.close()


def test_a_production_worker_takes_and_acknowledges_what_is_sent(url: str, tmp_path: Path) -> None:
    server = redis.Redis.from_url(url)
    sender = Celery(
        set_as_current=False, broker=url.replace("unix://", "redis+socket://").replace("?db", "?virtual_host")
    )
    for number in range(20):
        sender.send_task("celery.accumulate", args=[number], queue="work", ignore_result=True)
    sender.close()
    assert server.llen("work") == 20
    environment = os.environ | {"REDIS_URL": url, "DATA_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "shop.settings"}
    celery = [sys.executable, "-m", "celery", "-A", "shop"]
    with (tmp_path / "worker.log").open("wb") as log:
        worker = subprocess.Popen(
            [*celery, "worker", "-Q", "work", "-c", "1", "-n", "redis-test@%h"],
            cwd=REPO,
            env=environment,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
    try:
        end = time.monotonic() + 60
        while server.llen("work") or server.hlen("unacked"):
            assert worker.poll() is None, (tmp_path / "worker.log").read_text()
            assert time.monotonic() < end, "not worked off"
            time.sleep(0.2)
        done = subprocess.run(
            [*celery, "inspect", "ping", "--timeout", "10"], cwd=REPO, env=environment, capture_output=True, text=True
        )
        assert "pong" in done.stdout, done.stdout + done.stderr
        worker.send_signal(signal.SIGTERM)
        assert worker.wait(timeout=30) == 0
    finally:
        server.close()
        if worker.poll() is None:
            os.killpg(worker.pid, signal.SIGKILL)
            worker.wait()

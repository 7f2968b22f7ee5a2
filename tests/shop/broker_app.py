"""A small Celery application over the file broker, run as a worker in a process of its own by test_broker."""

import os
import time
from pathlib import Path
from typing import TextIO

from celery import Celery
from celery.signals import celeryd_init

from shop.broker import take_over

QUEUE_DIR = Path(os.environ["TEST_QUEUE_DIR"])
OUT = QUEUE_DIR.parent / "done"
HELD: list[TextIO] = []

app = Celery("broker_app", broker="filesystem://")
app.conf.update(
    broker_transport="shop.broker:Transport",
    broker_transport_options={"queue_dir": str(QUEUE_DIR), "polling_interval": 0.05},
    task_default_queue="work",
    task_ignore_result=True,
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    worker_prefetch_multiplier=1,
    worker_lost_wait=0.5,
    worker_enable_remote_control=False,
    broker_connection_retry_on_startup=True,
)


@celeryd_init.connect(weak=False)
def hold_queue(**_kwargs: object) -> None:
    HELD.append(take_over(QUEUE_DIR, "work"))


@app.task(name="note")
def note(number: int) -> None:
    """Leave a mark that survives the end of the process, as a service's committed row does."""
    time.sleep(0.05)
    with OUT.open("a") as handle:
        handle.write(f"{number}\n")


@app.task(name="die_once")
def die_once(number: int) -> None:
    """Kill the child that works on it, the first time only."""
    flag = QUEUE_DIR.parent / f"died-{number}"
    if not flag.exists():
        flag.touch()
        os.kill(os.getpid(), 9)
    note(number)

"""A Celery broker made of files, for one machine without a server: nothing is lost when a process is killed.

Below `queue_dir` each queue is a folder, each message one file whose name sorts by the time it was sent:

    <queue>/<name>.msg            waiting
    inflight/<queue>/<name>.msg   claimed by the only worker of that queue
    broken/<queue>/<name>.msg     could not be read; kept for a look, never tried again

A message is written to a dot-file and renamed, so that no reader sees half of it. A claim is a rename, which only one
claimer can win. It is unlinked when the worker acknowledges or rejects it. A name that ends in `.again.msg` was claimed
before.

A queue has no more than one worker at a time; its pool may have many children. A worker starts with `take_over`, which
waits until the one before it and its children are gone, and moves back what that one had claimed.
"""

import fcntl
import json
import logging
import os
import re
import time
import uuid
from collections import deque
from pathlib import Path
from queue import Empty
from typing import Any, TextIO

from kombu.exceptions import ChannelError
from kombu.transport import virtual

logger = logging.getLogger(__name__)

SUFFIX = ".msg"
AGAIN = ".again.msg"
DRAFT_MAX_AGE_SECONDS = 3600
RESERVED = {"inflight", "broken"}


def _checked(queue: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9._@-]*", queue) or queue in RESERVED:
        raise ChannelError(f"{queue!r} cannot be the name of a queue: it is used as the name of a folder")
    return queue


def _move_back(claimed: Path, ready: Path) -> None:
    """Return a claimed message to its queue, marked as claimed before."""
    name = claimed.name if claimed.name.endswith(AGAIN) else claimed.name.removesuffix(SUFFIX) + AGAIN
    ready.mkdir(parents=True, exist_ok=True)
    claimed.rename(ready / name)


def recover(queue_dir: Path, queue: str) -> int:
    """Move what a dead worker had claimed back to the queue; the number of messages.

    Call it only while the queue has no worker: `take_over` does. Drafts of killed senders are removed once they are an
    hour old.
    """
    ready = queue_dir / _checked(queue)
    claimed = sorted((queue_dir / "inflight" / queue).glob(f"*{SUFFIX}"))
    for path in claimed:
        _move_back(path, ready)
    for draft in ready.glob(".*"):
        if time.time() - draft.stat().st_mtime > DRAFT_MAX_AGE_SECONDS:
            draft.unlink(missing_ok=True)
    return len(claimed)


def take_over(queue_dir: Path, queue: str, wait_seconds: float = 20) -> TextIO:
    """Become the only worker of a queue and recover it. The queue is held until the file returned is closed.

    Children that are forked later share the hold, so a pool child that outlives its killed parent keeps it as well.
    Raises ChannelError when another worker still holds the queue after `wait_seconds`.
    """
    queue_dir.mkdir(parents=True, exist_ok=True)
    hold = (queue_dir / f"{_checked(queue)}.lock").open("a")
    end = time.monotonic() + wait_seconds
    while True:
        try:
            fcntl.flock(hold, fcntl.LOCK_EX | fcntl.LOCK_NB)
            break
        except BlockingIOError:
            if time.monotonic() >= end:
                hold.close()
                raise ChannelError(f"queue {queue!r} in {queue_dir} has another worker; end it first") from None
            time.sleep(0.1)
    count = recover(queue_dir, queue)
    if count:
        logger.warning("queue %s: %d message(s) of a worker that was killed are tried again", queue, count)
    return hold


class QoS(virtual.QoS):
    """Tells the channel when a message is done with."""

    channel: "Channel"

    def ack(self, delivery_tag: str) -> None:
        super().ack(delivery_tag)
        self.channel.done(delivery_tag)

    def reject(self, delivery_tag: str, requeue: bool = False) -> None:
        super().reject(delivery_tag, requeue=requeue)
        self.channel.done(delivery_tag)


class Channel(virtual.Channel):
    """See the module."""

    QoS = QoS

    def __init__(self, connection: Any, **kwargs: Any) -> None:
        super().__init__(connection, **kwargs)
        self.root = Path(connection.client.transport_options["queue_dir"])
        self._listed: dict[str, deque[str]] = {}
        self._claimed: dict[str, Path] = {}
        self._owner = os.getpid()

    def _ready(self, queue: str) -> Path:
        folder = self.root / _checked(queue)
        folder.mkdir(parents=True, exist_ok=True)
        return folder

    def _put(self, queue: str, message: dict[str, Any], **kwargs: Any) -> None:
        folder = self._ready(queue)
        name = f"{time.time_ns():020d}-{uuid.uuid4().hex}{SUFFIX}"
        draft = folder / f".{name}"
        try:
            draft.write_text(json.dumps(message), encoding="utf-8")
            draft.replace(folder / name)
        except OSError as error:
            draft.unlink(missing_ok=True)
            raise ChannelError(f"cannot write a message to {folder}: {error}") from error

    def _get(self, queue: str, timeout: float | None = None) -> dict[str, Any]:
        """Claim the oldest message that can be read. Raises queue.Empty when none is waiting."""
        while True:
            path = self._claim(queue)
            try:
                payload: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
                properties = payload["properties"]
                tag = properties["delivery_tag"]
                properties["delivery_info"]["redelivered"] = path.name.endswith(AGAIN)
            except (ValueError, KeyError, TypeError) as error:
                self._set_aside(queue, path, error)
                continue
            self._claimed[tag] = path
            return payload

    def _claim(self, queue: str) -> Path:
        ready, inflight = self._ready(queue), self.root / "inflight" / queue
        listed = self._listed.setdefault(queue, deque())
        if not listed:
            listed.extend(sorted(n for n in os.listdir(ready) if n.endswith(SUFFIX) and not n.startswith(".")))
        inflight.mkdir(parents=True, exist_ok=True)
        while listed:
            name = listed.popleft()
            try:
                return (ready / name).rename(inflight / name)
            except FileNotFoundError:
                continue  # purged since the folder was listed
        raise Empty

    def _set_aside(self, queue: str, path: Path, error: Exception) -> None:
        broken = self.root / "broken" / queue
        broken.mkdir(parents=True, exist_ok=True)
        path.rename(broken / path.name)
        logger.error("message %s cannot be read (%s) and was moved to %s", path.name, error, broken)

    def done(self, delivery_tag: str) -> None:
        """Forget a message that was acknowledged, rejected or already moved back."""
        path = self._claimed.pop(delivery_tag, None)
        if path is not None:
            path.unlink(missing_ok=True)

    def _restore(self, message: virtual.Message) -> None:
        """Return a claimed message to its queue: the worker ends, or lost the child that worked on it."""
        if os.getpid() != self._owner:
            return  # a forked child ends; the message is its parent's
        path = self._claimed.pop(str(message.delivery_tag), None)
        if path is not None and path.exists():
            _move_back(path, self.root / path.parent.name)

    def basic_get(self, queue: str, no_ack: bool = False, **kwargs: Any) -> Any:
        message = super().basic_get(queue, no_ack=no_ack, **kwargs)
        if message is not None and no_ack:
            self.done(str(message.delivery_tag))
        return message

    def basic_consume(self, queue: str, no_ack: bool, callback: Any, consumer_tag: Any, **kwargs: Any) -> Any:
        def unacknowledged(message: Any) -> Any:
            self.done(message.delivery_tag)
            return callback(message)

        return super().basic_consume(queue, no_ack, unacknowledged if no_ack else callback, consumer_tag, **kwargs)

    def _purge(self, queue: str) -> int:
        names = [name for name in os.listdir(self._ready(queue)) if name.endswith(SUFFIX)]
        for name in names:
            (self._ready(queue) / name).unlink(missing_ok=True)
        return len(names)

    def _size(self, queue: str) -> int:
        return sum(n.endswith(SUFFIX) and not n.startswith(".") for n in os.listdir(self._ready(queue)))


class Transport(virtual.Transport):
    """Celery setting: broker_url "filesystem://", broker_transport "shop.broker:Transport"."""

    Channel = Channel
    # What is declared is the same for every connection of a process; messages themselves live in the folder.
    global_state = virtual.BrokerState()
    implements = virtual.Transport.implements.extend(asynchronous=False, exchange_type=frozenset(["direct"]))
    driver_type = "filesystem"
    driver_name = "run-in-book"
    default_port = 0

    def __init__(self, client: Any, **kwargs: Any) -> None:
        super().__init__(client, **kwargs)
        self.state = self.global_state

    def driver_version(self) -> str:
        return "1"

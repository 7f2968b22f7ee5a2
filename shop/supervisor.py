"""Keep a few child processes running, and end them all together. Knows nothing of what they do.

Nothing here may load polars or start a thread: the children are started from this process.
"""

import logging
import os
import signal
import subprocess
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from types import FrameType

logger = logging.getLogger(__name__)

HEALTHY_SECONDS = 60.0  # a child that ran this long starts anew without a pause
LONGEST_PAUSE_SECONDS = 30.0


@dataclass
class Child:
    """One process to keep running. Each has a session of its own, so that a Ctrl-C reaches the supervisor only."""

    name: str
    command: list[str]
    environment: dict[str, str]
    process: subprocess.Popen[bytes] | None = None
    started_at: float = 0.0
    start_at: float = 0.0
    pause: float = field(default=0.0)

    def start(self) -> None:
        self.process = subprocess.Popen(  # noqa: S603 - commands of our own, no shell
            self.command, env=os.environ | self.environment, stdin=subprocess.DEVNULL, start_new_session=True
        )
        self.started_at = time.monotonic()

    def signal_group(self, number: int) -> None:
        """Send a signal to the child's whole group; no harm when it is gone."""
        if self.process is not None:
            try:
                os.killpg(self.process.pid, number)
            except ProcessLookupError:
                pass

    def tend(self) -> None:
        """Start the child when its time has come; when it ended, clear away what it left and plan the next start."""
        if self.process is None:
            if time.monotonic() >= self.start_at:
                self.start()
            return
        code = self.process.poll()
        if code is None:
            return
        self.signal_group(signal.SIGKILL)
        lived = time.monotonic() - self.started_at
        self.pause = 0.0 if lived > HEALTHY_SECONDS else min(max(1.0, 2 * self.pause), LONGEST_PAUSE_SECONDS)
        self.start_at = time.monotonic() + self.pause
        self.process = None
        logger.error(
            "%s ended with code %s after %.0f s; it is started again in %.0f s", self.name, code, lived, self.pause
        )


class Supervisor:
    """Run children until SIGINT or SIGTERM."""

    def __init__(self, children: list[Child], grace_seconds: float = 20.0) -> None:
        self.children = children
        self.grace_seconds = grace_seconds
        self._signals = 0

    def _on_signal(self, number: int, frame: FrameType | None) -> None:
        self._signals += 1

    def run(self, ready: Callable[[], bool]) -> None:
        """Block until asked to end; every child is gone when this returns.

        `ready` is called every round until it returns True.
        """
        announced = False
        before = {number: signal.signal(number, self._on_signal) for number in (signal.SIGINT, signal.SIGTERM)}
        try:
            while not self._signals:
                for child in self.children:
                    child.tend()
                announced = announced or ready()
                time.sleep(0.2)
        finally:
            self._end()
            for number, handler in before.items():
                signal.signal(number, handler)

    def _end(self) -> None:
        """Ask politely, then, after the grace or at a second signal, not."""
        running = [child for child in self.children if child.process is not None]
        for child in running:
            if child.process is not None and child.process.poll() is None:
                child.process.terminate()
        asked = self._signals
        end = time.monotonic() + self.grace_seconds
        while time.monotonic() < end and self._signals <= max(asked, 1):
            if all(child.process is None or child.process.poll() is not None for child in running):
                break
            time.sleep(0.1)
        for child in running:
            child.signal_group(signal.SIGKILL)
            if child.process is not None:
                child.process.wait()

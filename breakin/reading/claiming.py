"""Which worker reads a recording, how far it has come, and which readings were left over.

The row is the truth: WAITING is asked for, READING is somebody's since `started_at`. That moment is the token of the
claim: whoever finds another one there has been overtaken and stops.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta

from django.db.models import F, Q
from django.utils.translation import gettext_noop as _

from breakin.models import ReadState, RecordingRead

LOST_AFTER = timedelta(minutes=15)  # longer than any task may take
UNQUEUED_AFTER = timedelta(minutes=1)
MOST_ATTEMPTS = 3
LEFT_OVER_AT_ONCE = 20
STALE_AT_ONCE = 200  # a night's share, some minutes of work
EVERY_S = 0.5  # at most two rows a second are written about progress


class Overtaken(Exception):
    """This reading is somebody else's by now, or was asked for anew: nothing of it is kept."""


def ask(recording_id: int, now: datetime, **more: object) -> None:
    """Have a recording read, again where it was read before. What it said stands until then.

    more : further columns of the row, for example the channel map that was just confirmed.
    """
    RecordingRead.objects.filter(pk=recording_id).update(
        state=ReadState.WAITING, asked_at=now, started_at=None, step="", done=0, total=0, attempts=0, **more
    )


def claim(recording_id: int, now: datetime, *, again: bool = False) -> RecordingRead | None:
    """Take a recording that waits, for this worker alone; None when it does not wait.

    again : the message came a second time because its first worker died; then a claim that stands is that worker's.
    """
    free = Q(state=ReadState.WAITING) | Q(state=ReadState.READING, started_at__lte=now - LOST_AFTER)
    if again:
        free |= Q(state=ReadState.READING, started_at__lt=now)
    taken = RecordingRead.objects.filter(free, pk=recording_id).update(
        state=ReadState.READING,
        started_at=now,
        step=_("opening the file"),
        done=0,
        total=0,
        attempts=F("attempts") + 1,
    )
    if not taken:
        return None
    return RecordingRead.objects.select_related("recording__aircraft__home", "channel_map").get(pk=recording_id)


class Progress:
    """Says how far the reading is, at most twice a second, in a transaction of its own.

    Called with (done, total) it can be handed to the reader. `clock` gives seconds that only ever rise.
    """

    def __init__(self, recording_id: int, token: datetime, *, clock: Callable[[], float] = time.monotonic) -> None:
        self.mine = RecordingRead.objects.filter(pk=recording_id, state=ReadState.READING, started_at=token)
        self.clock = clock
        self.words = ""
        self.written_at: float | None = None

    def step(self, words: str) -> None:
        """What is being done now.

        Raises
        ------
        Overtaken : the claim is gone.
        """
        self.words = words
        self(0, 0)

    def __call__(self, done: int, total: int) -> None:
        now = self.clock()
        if self.written_at is not None and now - self.written_at < EVERY_S:
            return
        self.written_at = now
        if not self.mine.update(step=self.words[:80], done=done, total=total):
            raise Overtaken


def left_over(now: datetime) -> list[int]:
    """Recordings whose message or whose worker was lost, a bounded share; marked as asked for anew.

    Those that broke off too often are refused instead: a file that kills its reader must not do so for ever.
    """
    unqueued = Q(state=ReadState.WAITING, asked_at__lte=now - UNQUEUED_AFTER)
    broken_off = Q(state=ReadState.READING, started_at__lte=now - LOST_AFTER)
    RecordingRead.objects.filter(broken_off, attempts__gte=MOST_ATTEMPTS).update(
        state=ReadState.REFUSED,
        finished_at=now,
        step="",
        problem={
            "what": f"Reading this file broke off {MOST_ATTEMPTS} times",
            "row": None,
            "column": None,
            "mend": "The file is kept as it came. Tell the shop, which can have it read again.",
        },
    )
    late = RecordingRead.objects.filter(unqueued | broken_off)
    found = list(late.order_by("asked_at").values_list("pk", flat=True)[:LEFT_OVER_AT_ONCE])
    asked = {"state": ReadState.WAITING, "asked_at": now, "started_at": None}
    return [pk for pk in found if late.filter(pk=pk).update(**asked)]


def ask_stale(now: datetime, version: int, seats_moved: Iterable[int] = (), limit: int = STALE_AT_ONCE) -> list[int]:
    """Recordings that an earlier version read or refused, and those whose engines were others; now asked for anew."""
    settled = RecordingRead.objects.filter(state__in=(ReadState.READ, ReadState.REFUSED, ReadState.ASKS))
    stale = settled.filter(Q(version__lt=version) | Q(pk__in=list(seats_moved)))
    found = list(stale.order_by("-recording__uploaded_at").values_list("pk", flat=True)[:limit])
    for recording_id in found:
        ask(recording_id, now)
    return found

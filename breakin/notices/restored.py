"""After a restore: what had not been sent when the backup was made may have been sent since."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from breakin.models import Message, MessageState, Notice, NoticeState
from breakin.notices.claiming import PENDING


def hold_unsent(sender: Any, taken_at: datetime, **_: Any) -> str:
    """Receiver of shop.backups.restored: nothing from before goes out by itself. Says how many a person must look at.

    What is still due is found again by its finding or due item, which stay on the board.
    """
    why = f"Held: restored from the backup of {taken_at:%Y-%m-%d %H:%M} UTC, may have been sent after it."
    with transaction.atomic():
        count = Notice.objects.filter(state=NoticeState.WAITING).update(state=NoticeState.HELD, why_not_sent=why)
        Message.objects.filter(state__in=PENDING).update(
            state=MessageState.DEAD, last_error=why, lease=None, lease_until=None, retry_at=None
        )
    return f"{count} notice(s) that had not been sent are held; see the notices page and tell people yourself."

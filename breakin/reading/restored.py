"""After a restore: what was worked out from a recording while its backup ran is worked out again."""

from __future__ import annotations

from typing import Any

from django.core.files.storage import default_storage
from django.utils import timezone

from breakin.models import ReadState, RecordingRead
from breakin.reading.claiming import ask


def ask_for_what_is_missing(sender: Any, **_: Any) -> str:
    """Receiver of shop.backups.restored: recordings that were being read, or whose table is not there, wait again."""
    now = timezone.now()
    rows = RecordingRead.objects.exclude(state=ReadState.WAITING).values_list("pk", "state", "table")
    gone = [
        pk for pk, state, table in rows if state == ReadState.READING or (table and not default_storage.exists(table))
    ]
    for pk in gone:
        ask(pk, now)
    return f"{len(gone)} recording(s) are read anew."

"""Time and memory of the notice run: plan and send what a whole fleet has to be told, the mail going nowhere.

    nice .venv/bin/python deploy/bench/notices.py [--builds 10000] [--messages 0] [--work FOLDER]

SQLite always, PostgreSQL where DATABASE_URL names a server or one can be started; in one process. Memory is read after
a tenth of the work and at its end; a tenth of the items told of is the baseline of the time for each. Everything that
waits is sent unless --messages says how much.
"""

import argparse
import resource
import time
from datetime import timedelta
from pathlib import Path
from typing import Any

from common import be_quiet, begin_django, on_postgresql, on_sqlite, postgresql, row, said, work_folder

MOST_MORE_MB = 30
MOST_RATIO = 1.5


def peak_mb() -> float:
    """The most memory that this process ever had [MB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def timed(work: Any) -> tuple[float, float, Any]:
    """(seconds of this process, memory at its peak [MB], what came of it)."""
    start = time.process_time()
    came = work()
    return time.process_time() - start, peak_mb(), came


def measure(messages: int) -> dict[str, Any]:
    from django.conf import settings
    from django.utils import timezone

    from breakin.models import Assessment, Message, Notice
    from breakin.notices.planning import plan
    from breakin.notices.sending import send_due

    settings.EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
    # Noon of tomorrow, so that nobody's quiet hours hold the mail back.
    now = (timezone.now() + timedelta(days=1)).replace(hour=12, minute=0)
    ids = list(Assessment.objects.filter(live=True).order_by("build_id").values_list("build_id", flat=True))
    tenth = len(ids) // 10
    found: dict[str, Any] = {"builds": len(ids)}
    found["plan_tenth"] = timed(lambda: plan(now, ids[:tenth]).new)
    found["plan_rest"] = timed(lambda: plan(now, ids[tenth:]).new)
    found["plan_again"] = timed(lambda: plan(now).new)
    found["items"] = Notice.objects.filter(due_item__isnull=False).values("due_item").distinct().count()
    found["findings"] = Notice.objects.filter(finding__isnull=False).values("finding").distinct().count()
    found["notices"] = Notice.objects.count()
    waiting = Notice.objects.filter(state="waiting").values("recipient", "aircraft").distinct().count()
    few = max(1, (messages or waiting) // 10)
    found["send_tenth"] = timed(lambda: _send(send_due, few, now))
    found["send_rest"] = timed(lambda: _send(send_due, messages - few if messages else None, now))
    found["left"] = Notice.objects.filter(state="waiting").count()
    found["sent"] = Message.objects.filter(state="sent").count()
    return found


def _send(send_due: Any, count: int | None, now: Any) -> int:
    """Send so many messages as the minute does, run by run; all of them without a number."""
    sent = 0
    while count is None or sent < count:
        came = send_due(now, limit=200 if count is None else min(200, count - sent))
        if not (came.sent or came.dropped or came.put_off or came.dead):
            break
        sent += came.sent
    return sent


def report(found: dict[str, Any], kind: str, *, all_of_it: bool) -> None:
    told = f"{found['items']:,} due items and {found['findings']:,} findings of {found['builds']:,} live builds"
    for what, things, of in (("plan", "notices", told), ("send", "messages", "mail to nowhere")):
        (few_s, few_mb, few), (rest_s, rest_mb, rest) = found[f"{what}_tenth"], found[f"{what}_rest"]
        first, later = 1000 * few_s / max(few, 1), 1000 * rest_s / max(rest, 1)
        row(
            f"notice run, {what}, {kind}, {of}",
            f"{few:,} {things} at {first:.2f} ms each, then {rest:,} at {later:.2f}, ratio {later / first:.2f}; memory "
            f"{few_mb:.0f} MB after the tenth, at most {rest_mb:.0f} MB at the end",
            f"ratio ≤ {MOST_RATIO}, + ≤ {MOST_MORE_MB} MB",
            rest > 0 and later <= MOST_RATIO * first and rest_mb - few_mb <= MOST_MORE_MB,
        )
    again_s, again_mb, again = found["plan_again"]
    row(
        f"notice run, plan again, nothing moved, {kind}",
        f"{again_s:.1f} s of one core for {found['builds']:,} builds, {again} new notices; at most {again_mb:.0f} MB",
        "none new",
        again == 0,
    )
    if all_of_it:
        took = found["plan_tenth"][0] + found["plan_rest"][0] + found["send_tenth"][0] + found["send_rest"][0]
        row(
            f"notice run to its end, {kind}, {told}",
            f"{found['notices']:,} notices, {found['sent']:,} messages sent, {took:.0f} s of one core in all; "
            f"{found['left']:,} notices wait for another day or for somebody to wake",
            "to its end",
            found["sent"] > 0,
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--builds", type=int, default=10_000)
    parser.add_argument("--messages", type=int, default=0, help="0: all")
    parser.add_argument("--work", type=Path)
    parser.add_argument("--measure", action="store_true", help=argparse.SUPPRESS)
    given = parser.parse_args()
    be_quiet()
    if given.measure:
        begin_django()
        said(measure(given.messages))
        return
    with work_folder(given.work) as work:
        # A copy: the run writes notices, and other benches want the fleet as it was.
        places = {"SQLite": on_sqlite(work, f"sqlite-{given.builds}")}
        with postgresql() as server:
            if server:
                places["PostgreSQL"] = on_postgresql(server, work, f"postgresql-{given.builds}")
            for kind, whole in places.items():
                place = whole.fleet(given.builds, judged=True).copied(f"notices-{kind.lower()}")
                found = place.run("notices.py", "--measure", "--messages", given.messages)
                report(found, kind, all_of_it=not given.messages)


if __name__ == "__main__":
    main()

"""Is the program alive? For a supervisor or a monitor, without signing in."""

import os
import time

from django.conf import settings
from django.db import DatabaseError
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from shop.models import JobRun

IMPORTED_AT = time.time()


def seconds_since_start() -> float:
    """Age of the web server, which outlives its worker processes; without gunicorn_conf that of this process."""
    return max(0.0, time.time() - float(os.environ.get("WEB_STARTED_AT", IMPORTED_AT)))


@require_safe
@never_cache
def healthz(request: HttpRequest) -> JsonResponse:
    """200 when the database answers and the minutely job ran lately, else 503; which of them is said in JSON.

    A worker can go silent while its process lives, so the row of its last run counts, not the process.
    After a start the job has settings.HEARTBEAT_LIMIT_SECONDS for its first run: "tick" reads "starting" till then.
    """
    limit = settings.HEARTBEAT_LIMIT_SECONDS
    try:
        newest = (
            JobRun.objects.filter(name="tick", finished_at__isnull=False)
            .order_by("-started_at")
            .values_list("finished_at", flat=True)
            .first()
        )
    except DatabaseError:
        return JsonResponse({"status": "fault", "database": "fault", "tick": "not known"}, status=503)
    age = None if newest is None else (timezone.now() - newest).total_seconds()
    if age is not None and age <= limit:
        tick = "ok"
    elif seconds_since_start() <= limit:
        tick = "starting"
    else:
        tick = "late"
    answer = {
        "status": "fault" if tick == "late" else "ok",
        "database": "ok",
        "tick": tick,
        "tick_age_seconds": None if age is None else round(age),
        "tick_limit_seconds": limit,
    }
    return JsonResponse(answer, status=503 if tick == "late" else 200)

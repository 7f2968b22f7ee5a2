"""A closed break-in is taken up again by rule: an event of the same build, with its reason. The file stays."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from breakin.judgement import Judgement
from engines.models import Build, BuildEvent, BuildEventKind, BuildState
from shop.services import audit


def reopen_by_rule(judged: Mapping[int, Judgement], now: datetime) -> list[int]:
    """Reopen those builds whose judgement says so; their ids. An engine that has another open build keeps that one.

    The builds are locked by whoever judges them.
    """
    asked = {pk: one.reopens for pk, one in judged.items() if one.reopens is not None}
    if not asked:
        return []
    builds = Build.objects.filter(pk__in=asked, state=BuildState.CLOSED).order_by("pk")
    busy = set(
        Build.objects.filter(engine__builds__in=asked, state=BuildState.OPEN).values_list("engine_id", flat=True)
    )
    reopened = []
    for build in builds:
        found = asked[build.pk]
        if build.engine_id in busy or found is None:
            continue
        build.state, build.closed_at = BuildState.OPEN, None
        build.save(update_fields=["state", "closed_at"])
        detail = {"rule": found.rule.id, "version": found.rule.version, "occurrence": found.hit.key}
        hours = judged[build.pk].board["hours"]
        BuildEvent.objects.create(
            build=build, kind=BuildEventKind.REOPENED, at=now, hours=hours, reason=found.hit.text, detail=detail,
            recorded_at=now,
        )  # fmt: skip
        audit(by=None, act="reopened", subject=build, now=now, detail=detail)
        busy.add(build.engine_id)
        reopened.append(build.pk)
    return reopened

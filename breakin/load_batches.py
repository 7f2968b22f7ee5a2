"""The facts about lots, read from the book in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict

from django.db.models import Exists, OuterRef, Q

from breakin.batches import BARREL, RING, BatchRow, Lot
from breakin.models import Assessment, Finding, FindingState, FindingVerdict, Phase, Severity, Verdict
from engines.models import BuildState, CylinderPosition

SLOW_RULE = "O11"
# While a build is in one of these, a finding that is gone was taken back by a correction; later it was outlived.
_NOT_SETTLED = frozenset(Phase.values) - {
    Phase.PROVISIONAL,
    Phase.REVIEW,
    Phase.CLOSED,
    Phase.FOLLOW_UP,
    Phase.INCOMPLETE,
}


def batch_rows() -> tuple[BatchRow, ...]:
    """Every build with a ring or barrel lot on record, however it ended, by its id.

    A build is slow once rule O11 called it so, also when it settled later. What a person cleared as a false alarm
    counts for nothing. Lots are read without regard to case and outer blanks.
    """
    lots: dict[int, set[Lot]] = defaultdict(set)
    named = CylinderPosition.objects.filter(~Q(ring_lot="") | ~Q(barrel_lot=""))
    for build, ring, barrel in named.values_list("build_id", "ring_lot", "barrel_lot"):
        for kind, name in ((RING, ring), (BARREL, barrel)):
            if name.strip():
                lots[build].add(Lot(kind, name.strip().upper()))
    standing = {
        build: (state == BuildState.OPEN, phase)
        for build, state, phase in Assessment.objects.filter(build__positions__in=named)
        .distinct()
        .values_list("build_id", "build__state", "phase")
    }
    slow, stops = _found(standing)
    return tuple(
        BatchRow(
            build=build,
            lots=frozenset(lots[build]),
            running=standing.get(build, (False, ""))[0],
            slow=build in slow,
            stops=tuple(stops[build]),
        )
        for build in sorted(lots)
    )


def _found(standing: dict[int, tuple[bool, str]]) -> tuple[set[int], dict[int, list[str]]]:
    """The builds that were slow, and the rules of the Stops of each."""
    false_alarm = FindingVerdict.objects.filter(finding=OuterRef("pk"), verdict=Verdict.FALSE_ALARM)
    rows = Finding.objects.filter(
        Q(severity=Severity.STOP) | Q(rule=SLOW_RULE, severity=Severity.CALL), ~Exists(false_alarm)
    )
    slow: set[int] = set()
    stops: dict[int, list[str]] = defaultdict(list)
    for build, rule, severity, state in rows.order_by("id").values_list("build_id", "rule", "severity", "state"):
        if severity == Severity.STOP:
            stops[build].append(rule)
        else:
            is_open, phase = standing.get(build, (False, ""))
            if state != FindingState.GONE or not (is_open and phase in _NOT_SETTLED):
                slow.add(build)
    return slow, stops

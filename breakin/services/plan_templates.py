"""The shop's plan templates: taken over, copied, revised. A plan that is issued keeps what it was made from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from itertools import pairwise
from typing import Any

from django.db import transaction

from breakin.models import PlanTemplate, StageKind
from breakin.plan_templates import bodies, ensure_templates, newest
from breakin.services.common import audit
from shop.errors import Problem, Refusal
from shop.models import Person

POWER_STAGES = (StageKind.HOUR_1, StageKind.HOUR_2, StageKind.ALTERNATING, StageKind.SETTLE)
BANDS = ("75", "65")


@transaction.atomic
def take_over(*, by: Person, now: datetime) -> list[str]:
    """Put the templates that a shop starts with into the book; returns the names of those that were not in it."""
    missing = [name for name in bodies() if newest(name) is None]
    for name, template in ensure_templates().items():
        if name in missing:
            template.made_at, template.made_by = now, by
            template.save(update_fields=["made_at", "made_by"])
            audit(by=by, act="take_over_template", subject=template, now=now, detail={"name": name})
    return missing


@transaction.atomic
def save_template(
    *,
    by: Person,
    name: str,
    values: Mapping[str, Any],
    copied_from: PlanTemplate | None = None,
    after: int = 0,
    now: datetime,
) -> PlanTemplate:
    """A template under a new name, or the next revision of one.

    Parameters
    ----------
    values : fields of `PlanTemplate`, with `stages`.
    copied_from : what it was made from.
    after : the revision of this name that whoever saves has seen; 0 for a new name.

    Raises
    ------
    Refusal : a name that is missing or taken, numbers that don't fit together; ("conflict") another revision came in
        between.
    """
    name = name.strip()
    if not name:
        raise Refusal.of("name", "The template needs a name. Say what it is for.")
    known = PlanTemplate.objects.select_for_update().filter(name__iexact=name).order_by("-revision").first()
    last = known.revision if known else 0
    if known is not None and not after:
        raise Refusal.of(
            "name", f"There is a template “{known.name}” already. Choose another name, or revise that one."
        )
    if last != after:
        raise Refusal.of("", f"Revision {last} was made since you opened this page. Look at it first.", "conflict")
    problems = check_template(values)
    if problems:
        raise Refusal(problems)
    template = PlanTemplate.objects.create(
        name=known.name if known else name,
        revision=last + 1,
        copied_from=copied_from,
        made_at=now,
        made_by=by,
        **values,
    )
    audit(by=by, act="save_template", subject=template, now=now, detail={"name": name, "revision": last + 1})
    return template


def check_template(values: Mapping[str, Any]) -> list[Problem]:
    """What does not fit together in a template. Each single value was read before."""
    problems: list[Problem] = []

    def rise(names: Sequence[str], say: str) -> None:
        given = [(name, values[name]) for name in names if values.get(name) is not None]
        problems.extend(Problem(high[0], say) for low, high in pairwise(given) if low[1] > high[1])

    rise(("expected_low_h", "expected_high_h"), "The expected hours must rise. Mend one of them.")
    rise(
        ("minimum_h", "expected_high_h"), "A review not before later than the end expected can't be. Mend one of them."
    )
    rise(
        ("accept_qt_h", "watch_qt_h", "alarm_qt_h"),
        "Accepted, watch and alarm rate must rise in this order. Mend them.",
    )
    rise(("ground_note_min", "ground_call_min"), "A call comes after the note. Mend one of the two.")
    rise(("first_oil_from_h", "first_oil_h", "first_oil_until_h"), "Window and hour of the first oil change must rise.")
    problems += _bands(values["credit"], values["low"])
    hours, days, idle = values["follow_up_h"], values["follow_up_days"], values["idle_days"]
    for name, row in (("follow_up_h", hours), ("follow_up_days", days), ("idle_days", idle)):
        if any(high <= low for low, high in pairwise(row)):
            problems.append(Problem(name, "These have to rise from one to the next. Put them in order."))
    if days and len(days) != len(hours):
        problems.append(
            Problem(
                "follow_up_days", f"{len(days)} days for {len(hours)} follow-ups. Give one for each, or none at all."
            )
        )
    if len(idle) != 4:
        problems.append(
            Problem("idle_days", "Four are needed: nudge, chase, call, manager. For example 10, 14, 21, 30.")
        )
    for stage in values["stages"]:
        if stage["kind"] in POWER_STAGES and not stage["minutes"]:
            problems.append(
                Problem(f"s_{stage['kind']}_minutes", "This stage needs its minutes, like 15 at 75, 15 at 65.")
            )
    return problems


def _bands(credit: Mapping[str, Sequence[float]], low: float) -> list[Problem]:
    (low_65, high_65), (low_75, high_75) = credit["65"], credit["75"]
    problems = []
    if not low_65 < high_65:
        problems.append(Problem("band_65_high", "The 65 % band has to end above its beginning."))
    if not low_75 < high_75:
        problems.append(Problem("band_75_high", "The 75 % band has to end above its beginning."))
    if not problems and high_65 > low_75:
        problems.append(
            Problem("band_75_low", "The two bands overlap: minutes would count for both. Move one of them.")
        )
    if not problems and low > low_65:
        problems.append(Problem("low", "Light running has to end at or below the 65 % band. Mend one of them."))
    return problems

"""Enter an engine type, and revise its numbers. A revision is never edited: a build keeps its own."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from breakin.calc.chart import Chart
from breakin.calc.errors import BadChart
from breakin.services.common import audit
from engines.models import EngineType, EngineTypeRevision
from shop.errors import Problem, Refusal
from shop.models import Person


@transaction.atomic
def enter_type(
    *, by: Person, maker: str, designation: str, values: Mapping[str, Any], now: datetime
) -> EngineTypeRevision:
    """A type that is new to the book, with its first revision.

    Parameters
    ----------
    values : fields of `EngineTypeRevision`.

    Raises
    ------
    Refusal : no maker or designation, a designation that is in the book, or numbers that can't be.
    """
    maker, designation = maker.strip(), designation.strip()
    problems = []
    if not maker:
        problems.append(Problem("maker", "The maker is missing. Type it as on the data plate."))
    if not designation:
        problems.append(Problem("designation", "The designation is missing. Type it as on the data plate, no guess."))
    elif EngineType.objects.filter(designation__iexact=designation).exists():
        problems.append(Problem("designation", f"{designation} is in the book already. Revise that one."))
    if problems:
        raise Refusal(problems)
    engine_type = EngineType.objects.create(maker=maker, designation=designation)
    return _keep(by, engine_type, 1, values, now)


@transaction.atomic
def revise_type(
    *, by: Person, engine_type: EngineType, values: Mapping[str, Any], after: int, now: datetime
) -> EngineTypeRevision:
    """The next revision of a type. Builds that are open keep theirs.

    Parameters
    ----------
    after : the revision that whoever revises has seen, 0 for none.

    Raises
    ------
    Refusal : numbers that can't be; ("conflict") another revision came in between.
    """
    engine_type = EngineType.objects.select_for_update().get(pk=engine_type.pk)
    last = engine_type.revisions.order_by("-number").first()
    newest = last.number if last else 0
    if after != newest:
        raise Refusal.of(
            "after",
            f"Revision {newest} was entered since you opened this page. Look at it, then revise again.",
            "conflict",
        )
    return _keep(by, engine_type, newest + 1, values, now)


def _keep(
    by: Person, engine_type: EngineType, number: int, values: Mapping[str, Any], now: datetime
) -> EngineTypeRevision:
    revision = EngineTypeRevision(engine_type=engine_type, number=number, revised_at=now, approved_by=by, **values)
    try:
        revision.full_clean(exclude=["engine_type"])
    except ValidationError as error:
        raise Refusal(
            Problem(name if name != "__all__" else "", message)
            for name, messages in error.message_dict.items()
            for message in messages
        ) from error
    if revision.chart is not None:
        try:
            Chart.from_dict(revision.chart, rated_hp=revision.rated_hp)
        except BadChart as error:
            raise Refusal.of("grid", str(error)) from error
    revision.save()
    audit(
        by=by, act="revise_type", subject=revision, now=now, detail={"type": engine_type.designation, "number": number}
    )
    return revision

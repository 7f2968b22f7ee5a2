"""Enter or correct an inspection: what a page of one does with what was posted."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from uuid import UUID

from django.http import HttpRequest

from breakin.entries import InspectionEntry, parse_inspection
from breakin.entries.inspection_reading import About, RecheckItem
from breakin.services.inspections import about_engine
from engines.models import Engine, Inspection, InspectionKind
from reports.acts.base import NOBODY
from reports.forms.clock_change import add_clock_change
from reports.inspect.form import MORE_ROWS, MOST_ROWS, ROWS, InspectionForm, start
from reports.inspect.parts import Shape
from reports.inspect.telling import Said
from reports.inspect.words import said
from reports.reader import Reader
from shop import access
from shop.errors import ConflictingResend, Refusal
from shop.models import Person

SPARE_ITEMS = 2


@dataclass(frozen=True)
class LastLook:
    """The look before, of the same kind: to be seen beside the one that is entered."""

    inspection: Inspection
    found: tuple[Said, ...]

    @property
    def by_field(self) -> Mapping[str, str]:
        return {each.key: each.text for each in self.found}


def last_look(
    reader: Reader, engine: Engine, kind: str, *, before: datetime | None = None, but: UUID | None = None
) -> LastLook | None:
    """The newest look of this kind that the reader may see, before a moment where one is given."""
    rows = access.visible_to(reader.user, Inspection.objects.current().filter(engine=engine, kind=kind))
    rows = rows.filter(happened_at__lt=before) if before is not None else rows
    rows = rows.exclude(root=but) if but is not None else rows
    row = rows.order_by("-happened_at", "-id").first()
    return LastLook(row, said(kind, row.results, reader.units)) if row is not None else None


def form_of(
    request: HttpRequest,
    reader: Reader,
    engine: Engine,
    kind: InspectionKind,
    now: datetime,
    *,
    last: LastLook | None = None,
    begin: Mapping[str, Any] | None = None,
    auto_id: str = "id_%s",
) -> InspectionForm:
    """The form as posted, or as it begins. A button may ask for more rows; then nothing is judged."""
    about = _with_list_of(last, about_engine(engine))
    posted = request.POST if request.method == "POST" else None
    rows = len(about.recheck) + SPARE_ITEMS if kind == InspectionKind.TORQUE and about.recheck else ROWS
    rows = max(rows, _rows_in(begin or {}))
    if posted is not None:
        told = posted.get("rows", "")
        rows = max(rows, int(told) if told.isdecimal() and len(told) < 4 else 0)
        rows += MORE_ROWS if "more_rows" in posted else 0
    shape = Shape(reader.units, about, min(rows, MOST_ROWS))
    known = last.by_field if last else {}
    initial = {} if posted is not None else {**start(now, reader.zone), **_listed(kind, shape), **(begin or {})}
    form = InspectionForm(kind, shape, posted, initial=initial, last=known, auto_id=auto_id)
    add_clock_change(form, reader.zone)
    return form


def _with_list_of(last: LastLook | None, about: About) -> About:
    """Where the type has no recheck list of its own, the items of the last recheck are the list."""
    if about.recheck or last is None or last.inspection.kind != InspectionKind.TORQUE:
        return about
    items = last.inspection.results.get("items") or []
    return replace(about, recheck=tuple(RecheckItem(each["item"]) for each in items if each.get("item")))


def _listed(kind: str, shape: Shape) -> dict[str, str]:
    """The items of the type's list, so that only values are typed."""
    if kind != InspectionKind.TORQUE:
        return {}
    return {f"item_{row}_item": each.item for row, each in enumerate(shape.about.recheck, start=1)}


def _rows_in(begin: Mapping[str, Any]) -> int:
    numbers = [name.split("_")[1] for name in begin if name.startswith(("spot_", "item_"))]
    return max((int(number) for number in numbers if number.isdecimal()), default=0)


def enter(
    request: HttpRequest,
    reader: Reader,
    form: InspectionForm,
    now: datetime,
    do: Callable[[Person, InspectionEntry], Inspection],
) -> Inspection | None:
    """What the service made of the form; None with the form saying what to mend or to confirm."""
    if not form.is_bound or "more_rows" in request.POST or not form.is_valid():
        return None
    if reader.person is None:
        form.add_error(None, NOBODY)
        return None
    raw, paths = form.raw()
    try:
        asked = {**raw, **form.confirmed(request.POST, paths)}
        entry = parse_inspection(asked, units=reader.units, zone=reader.zone, now=now, about=form.shape.about)
        if form.ask(entry.warnings, paths):
            return None
        return do(reader.person, replace(entry, warnings=()))
    except ConflictingResend:
        form.add_error(
            None, "This form was sent before, with other content, and the first entry stands. Correct that one instead."
        )
    except Refusal as refusal:
        form.refuse(refusal.problems, paths)
    return None

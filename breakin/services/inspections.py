"""Keep an inspection, and close with it what was due. Only a fitting event closes a due item."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from typing import Any

from django.db import IntegrityError, transaction

from breakin.assess import no_longer_asked
from breakin.counts import Steps
from breakin.entries import InspectionEntry, OilEntry, content_hash
from breakin.entries.inspection_reading import About, RecheckItem
from breakin.models import DueItem, DueState, OilEvent
from breakin.services.builds import keep_preservation
from breakin.services.common import (
    audit,
    grade_of,
    is_technician,
    judge,
    live_builds,
    lock_engines,
    type_revision_of,
)
from breakin.services.oil import check_amounts, keep_event
from engines.models import Build, BuildState, Engine, Inspection, InspectionKind
from shop.errors import ConflictingResend, Problem, Refusal
from shop.facts import Source
from shop.models import Person

_ANSWERABLE = (DueState.WAITING, DueState.DUE_SOON, DueState.DUE, DueState.LATE)
_K = InspectionKind
# Which inspections answer a due item of a kind, the usual one first; a kind that is not named here is answered by its
# namesake.
FITTING: dict[str, tuple[InspectionKind, ...]] = {
    "oil_reading": (_K.OIL_CHECK,),
    "oil_filter": (_K.OIL_FILTER,),
    "cut_filter": (_K.OIL_FILTER,),
    "look_metal": (_K.OIL_FILTER, _K.BORESCOPE),
    "look_rings": (_K.BORESCOPE, _K.COMPRESSION),
    "leak": (_K.LEAK, _K.TORQUE),
    "look_cooling": (_K.BAFFLE, _K.TIMING, _K.FUEL_FLOW),
    "look_induction": (_K.INDUCTION, _K.INSTRUMENTS),
    "preservation": (_K.PRESERVATION,),
    "follow_up": (_K.OIL_CHECK,),
    "flight": (),
    "answer": (),
}
# A filter that was not opened tells nothing, so it answers none of these.
_OPENED = ("oil_filter", "cut_filter", "look_metal")
_INSTEAD = {
    "flight": "It closes when the next flight is logged.",
    "answer": "It closes when the owner's answer is entered, as a flight or a correction.",
}


def fitting_kinds(due_item: DueItem) -> tuple[InspectionKind, ...]:
    """The kinds of inspection that close this due item, the usual one first."""
    namesake = (_K(due_item.kind),) if due_item.kind in _K.values else ()
    return FITTING.get(due_item.kind, namesake)


def about_engine(engine: Engine) -> About:
    """What is known of the engine beforehand, for the questions about what a technician types."""
    numbers = type_revision_of(engine)
    if numbers is None:
        return About()
    return About(
        cylinders=numbers.cylinders,
        ff_low_gph=numbers.takeoff_ff_low_gph,
        ff_high_gph=numbers.takeoff_ff_high_gph,
        compensates=numbers.fuel_flow_compensates,
        boosted=numbers.induction != "natural",
        recheck=tuple(_recheck(row) for row in numbers.recheck if isinstance(row, dict) and row.get("item")),
    )


def _recheck(row: dict[str, Any]) -> RecheckItem:
    low, high = (float(row[name]) if row.get(name) is not None else None for name in ("low", "high"))
    return RecheckItem(str(row["item"]), low, high, str(row.get("unit") or "lbf·in"))


def complete_check(
    *,
    by: Person,
    engine: Engine,
    entry: InspectionEntry,
    due_item: DueItem | None = None,
    now: datetime,
    source: str = Source.SHOP,
) -> Inspection:
    """Keep an inspection with its oil events; close `due_item` with it where one is named.

    A filter that was changed and not opened is kept, and leaves the item open.

    Raises
    ------
    Refusal : "forbidden" for anybody but a technician; "conflict" when somebody closed the item before; else what does
        not fit.
    ConflictingResend : the client_id came before with other content.
    """
    try:
        with transaction.atomic():
            return _complete(by, engine, entry, due_item, now, source)
    except IntegrityError:
        kept = resent_inspection(engine, entry)
        if kept is None:
            raise
        return kept


def _complete(
    by: Person, engine: Engine, entry: InspectionEntry, due_item: DueItem | None, now: datetime, source: str
) -> Inspection:
    lock_engines([engine.pk])
    kept = resent_inspection(engine, entry)
    if kept is not None:
        return kept
    if not is_technician(by, now):
        raise Refusal.of("", "An inspection is entered by a technician.", "forbidden")
    builds = live_builds([engine.pk])
    item = _locked_item(due_item, engine, entry.kind)
    check_people_and_oil(engine, entry, now)
    inspection = keep_inspection(by=by, engine=engine, entry=entry, now=now, source=source)
    for event in entry.oil:
        _keep_oil(by, engine, entry, event, now, source)
    if entry.kind == _K.PRESERVATION:
        _keep_preservation(builds, entry)
    steps, closes = Steps(), item is not None and _answers(item, entry)
    if item is not None and closes:
        before = item.state
        item.state, item.closed_at = DueState.DONE, now
        item.closed_by_kind, item.closed_by_root = "inspection", inspection.root
        item.save(update_fields=["state", "closed_at", "closed_by_kind", "closed_by_root"])
        steps.due_moved(item, before)
    detail = {"kind": entry.kind, "result": entry.result, "due_item": item.pk if item else None}
    audit(by=by, act="complete_check", subject=inspection, now=now, detail=detail)
    judge(builds, now, steps)
    if item is not None and closes:
        no_longer_asked(item.build)
    return inspection


def keep_inspection(
    *, by: Person, engine: Engine, entry: InspectionEntry, now: datetime, source: str, **version: Any
) -> Inspection:
    """Write the row. `version` carries root, corrects, correction_reason and grade of a correction."""
    grade = version.pop("grade", None) or grade_of(
        happened_at=entry.happened_at, written_at=entry.written_at, now=now, source=source
    )
    return Inspection.objects.create(
        engine=engine,
        client_id=entry.client_id,
        root=version.pop("root", entry.client_id),
        content_hash=content_hash(entry, about=f"engine {engine.pk}"),
        happened_at=entry.happened_at,
        local_date=entry.local_date(),
        zone=entry.zone,
        written_at=entry.written_at,
        received_at=now,
        entered_by=by,
        source=source,
        grade=grade,
        typed=entry.typed,
        absent=entry.absent,
        note=entry.note,
        kind=entry.kind,
        hours=entry.hours,
        performed_by_id=entry.performed_by_id or by.pk,
        inspector_id=entry.inspector_id,
        result=entry.result,
        results=entry.results,
        **version,
    )


def _keep_preservation(builds: list[Build], entry: InspectionEntry) -> None:
    """A new preservation takes the place of the one that ends."""
    for build in builds:
        if build.state == BuildState.OPEN:
            until = date.fromisoformat(entry.results["expires_on"])
            keep_preservation(build, entry.local_date(), until, entry.results.get("preservative", ""), entry.note)


def resent_inspection(engine: Engine, entry: InspectionEntry) -> Inspection | None:
    """What this form made when it was sent before."""
    kept = Inspection.objects.filter(client_id=entry.client_id).first()
    if kept is not None and kept.content_hash != content_hash(entry, about=f"engine {engine.pk}"):
        raise ConflictingResend(
            "This inspection was received before, with other content. The first one stands. To change it, use “Fix "
            "this entry”; to send another one, start a new form."
        )
    return kept


def _locked_item(due_item: DueItem | None, engine: Engine, kind: str) -> DueItem | None:
    if due_item is None:
        return None
    item = DueItem.objects.select_for_update().get(pk=due_item.pk)
    if item.build.engine_id != engine.pk:
        raise Refusal.of("due_item", "This due item belongs to another engine. Choose the engine it names.")
    if item.state not in _ANSWERABLE:
        when = f" on {item.closed_at:%Y-%m-%d %H:%M} UTC" if item.closed_at else ""
        raise Refusal.of(
            "due_item", f"“{item.title}” is {item.get_state_display()} already{when}. Load the list again.", "conflict"
        )
    fitting = fitting_kinds(item)
    if kind not in fitting:
        labels = ", ".join(each.label for each in fitting)
        instead = _INSTEAD.get(item.kind) or f"It closes with: {labels}."
        raise Refusal.of("kind", f"“{_K(kind).label}” does not close “{item.title}”. {instead}")
    return item


def _answers(item: DueItem, entry: InspectionEntry) -> bool:
    return not (item.kind in _OPENED and entry.kind == _K.OIL_FILTER and entry.results.get("opened") is False)


def check_people_and_oil(engine: Engine, entry: InspectionEntry, now: datetime) -> None:
    """Refuse people who were no technicians that day, and oil that the sump does not hold."""
    problems = []
    for name, person_id in (("performed_by_id", entry.performed_by_id), ("inspector_id", entry.inspector_id)):
        person = Person.objects.filter(pk=person_id).first() if person_id else None
        if person_id and (person is None or not is_technician(person, entry.happened_at)):
            problems.append(
                Problem(name, "This person was no technician of the shop on that day. Choose one from the list.")
            )
    prefix = "reading" if entry.kind == _K.OIL_CHECK else "drain_fill"
    for event in entry.oil:
        problems += [problem.under(prefix) for problem in check_amounts(engine, event)]
    if problems:
        raise Refusal(problems)


def _keep_oil(
    by: Person, engine: Engine, entry: InspectionEntry, event: OilEntry, now: datetime, source: str
) -> OilEvent:
    return keep_event(by=by, engine=engine, entry=placed_at(entry, event), sent=event, now=now, source=source)


def placed_at(entry: InspectionEntry, event: OilEntry) -> OilEntry:
    """What an inspection did with the oil happened when it was done."""
    return replace(event, happened_at=event.happened_at or entry.happened_at)

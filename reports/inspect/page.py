"""One inspection on a page: what was found beside the last look of its kind, its photos, what follows from it."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from breakin.models import DueItem, Finding, FindingState
from breakin.services.inspection_corrections import oil_of
from engines.models import Engine, Inspection, InspectionKind, Photo
from reports.inspect.doing import LastLook, last_look
from reports.inspect.form import SURE_WORDS
from reports.inspect.photos import PhotoLine, photos_of
from reports.inspect.telling import Said
from reports.inspect.words import Change, changes, in_short, said, trend
from reports.oil.page import event_said
from reports.reader import Reader
from shop import access

SHOWN = 200
STILL = (FindingState.OPEN, FindingState.ACKNOWLEDGED)


@dataclass(frozen=True)
class InspectionPage:
    """`words` says whether this reader may read persons and notes. `newest` is the version that holds."""

    inspection: Inspection
    title: str
    found: tuple[Said, ...]
    changes: tuple[Change, ...]
    trend: str
    last: LastLook | None
    last_url: str
    sure: tuple[tuple[str, str], ...]
    oil: tuple[str, ...]
    findings: tuple[Finding, ...]
    closed: tuple[DueItem, ...]
    photos: tuple[PhotoLine, ...]
    last_photos: tuple[PhotoLine, ...]
    words: bool
    newest: bool
    may_correct: bool


def inspection_page(reader: Reader, inspection: Inspection) -> InspectionPage:
    """`inspection` comes from `access.visible_to`."""
    engine, root = inspection.engine, inspection.root
    last = last_look(reader, engine, inspection.kind, before=inspection.happened_at, but=root)
    found = said(inspection.kind, inspection.results, reader.units)
    told = changes(last.found, found) if last else ()
    findings = Finding.objects.filter(build__engine=engine, occurrence__startswith=str(root)).order_by(
        "-severity", "pk"
    )
    closed = DueItem.objects.filter(build__engine=engine, closed_by_root=root).order_by("title")
    newest = getattr(inspection, "corrected_by", None) is None and not inspection.withdrawn
    words = access.words_are_for(reader.user, inspection)
    shown_last = last.inspection if last else None
    return InspectionPage(
        inspection=inspection,
        title=inspection.get_kind_display().capitalize(),
        found=found,
        changes=told,
        trend=trend(told) if last else "",
        last=last,
        last_url=reverse("inspection", args=[shown_last.pk]) if shown_last else "",
        sure=tuple(_sure(inspection)) if words else (),
        oil=_oil(inspection, reader),
        findings=tuple(access.visible_to(reader.user, findings).order_by("-severity", "pk")),
        closed=tuple(access.visible_to(reader.user, closed)),
        photos=photos_of(reader, [root]),
        last_photos=photos_of(reader, [shown_last.root]) if shown_last else (),
        words=words,
        newest=newest,
        may_correct=newest and access.may_now(reader.user, "inspect"),
    )


def _sure(inspection: Inspection) -> list[tuple[str, str]]:
    """(field, reason) of the unusual values that the technician stood by."""
    told = []
    for name, kept in inspection.typed.items():
        if name.startswith("sure.") and isinstance(kept, list) and kept:
            field = name.removeprefix("sure.").removeprefix("results.").replace("_", " ").replace(".", " ")
            told.append((field, SURE_WORDS.get(str(kept[0]), str(kept[0]))))
    return told


def _oil(inspection: Inspection, reader: Reader) -> tuple[str, ...]:
    return tuple(event_said(event, reader.units) for event in oil_of(inspection))


@dataclass(frozen=True)
class KindRow:
    """One kind of inspection on an engine's page: the newest look, how it stands to the one before, and the form."""

    label: str
    url: str
    when: Inspection | None
    short: str
    trend: str
    count: int
    photos: int
    verdict: str
    enter_url: str


def kind_rows(reader: Reader, engine: Engine) -> tuple[KindRow, ...]:
    """Every kind with its newest look, in three queries however many there are."""
    rows = access.visible_to(reader.user, Inspection.objects.current().filter(engine=engine))
    looks: dict[str, list[Inspection]] = {}
    for row in rows.order_by("-happened_at", "-id")[:SHOWN]:
        looks.setdefault(row.kind, []).append(row)
    roots = [found[0].root for found in looks.values()]
    photos = access.visible_to(reader.user, Photo.objects.filter(root__in=roots, withdrawal=None))
    counts: dict[object, int] = {}
    for photo in photos:
        if access.words_are_for(reader.user, photo):
            counts[photo.root] = counts.get(photo.root, 0) + 1
    may = access.may_now(reader.user, "inspect")
    told = (_kind_row(reader, engine, kind, looks.get(kind, []), counts, may) for kind in InspectionKind)
    return tuple(row for row in told if row.when is not None or may)


def _kind_row(
    reader: Reader, engine: Engine, kind: InspectionKind, found: list[Inspection], counts: dict[object, int], may: bool
) -> KindRow:
    newest = found[0] if found else None
    before = found[1] if len(found) > 1 else None
    how = ""
    if newest is not None and before is not None:
        pair = (said(kind, each.results, reader.units) for each in (before, newest))
        how = trend(changes(*pair))
    return KindRow(
        label=kind.label,
        url=reverse("inspection", args=[newest.pk]) if newest else "",
        when=newest,
        short=in_short(kind, newest.results, reader.units) if newest else "",
        trend=how if before else "first of its kind" if newest else "",
        count=len(found),
        photos=counts.get(newest.root, 0) if newest else 0,
        verdict=newest.get_result_display() if newest else "",
        enter_url=reverse("inspection_new", args=[engine.pk, kind.value]) if may else "",
    )

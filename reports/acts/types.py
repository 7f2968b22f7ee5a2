"""The engine types of the shop: all on one page, and each with its numbers, its chart and who is judged by it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.urls import reverse

from breakin.calc.chart import Chart
from breakin.calc.chart_doubts import chart_doubts
from breakin.calc.errors import BadChart
from breakin.entries.chart_grid import ReadChart
from engines.models import Build, BuildState, EngineType, EngineTypeRevision
from reports.acts.chart_picture import ChartPicture, chart_picture
from reports.acts.type_fields import MEASURED, PLAIN
from reports.engine.tables import Table
from reports.quantities import quantity
from reports.reader import Reader
from shop import access

NOT_STATED = "not stated"
SHOWN_BUILDS = 20
_WORDS = (
    ("source", "Document and revision"), ("source_date", "Date of that revision"), ("layout", "Layout"),
    ("cylinders", "Cylinders"), ("numbering", "Where no. 1 sits"), ("cylinder_map", "Map of the cylinders"),
    ("induction", "Induction"), ("fuel_system", "Fuel system"),
    ("fuel_flow_compensates", "Full-throttle fuel flow follows air density"), ("prop_control", "Propeller"),
    ("cooling", "Cooling"), ("dry_sump", "Dry sump"), ("log_only", "Log only"), ("takeoff_ff_at", "The band holds at"),
    ("cht_limit_source", "Document of the head temperature limit"), ("cht_limit_source_date", "Date of its revision"),
    ("recheck", "Recheck list"), ("chart", "Power chart"), ("unusual", "Unusual, and confirmed"),
    ("unusual_reason", "Why it is right"),
)  # fmt: skip


@dataclass(frozen=True)
class TypeRow:
    """One type. `revision` is None where it has no numbers yet.

    chart : what its power chart is, in words. unusable : why it can't be read; empty where it can.
    doubts : each point that leaves its neighbours, as a sentence, the worst first.
    """

    pk: int
    name: str
    maker: str
    revision: EngineTypeRevision | None
    chart: str
    unusable: str = ""
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True)
class TypesPage:
    rows: tuple[TypeRow, ...]
    may_edit: bool

    @property
    def doubtful(self) -> int:
        return sum(1 for row in self.rows if row.doubts or row.unusable)


@dataclass(frozen=True)
class UsedBy:
    """One revision and the builds that keep it: the open ones as (address, words), and how many there are in all."""

    revision: EngineTypeRevision
    open_builds: tuple[tuple[str, str], ...]
    count: int

    @property
    def others(self) -> int:
        return self.count - len(self.open_builds)


@dataclass(frozen=True)
class TypePage:
    kind: EngineType
    row: TypeRow
    numbers: Table | None
    picture: ChartPicture | None
    sentences: tuple[str, ...]
    revisions: tuple[UsedBy, ...]
    may_edit: bool


def types_page(reader: Reader) -> TypesPage:
    """Every type by its designation. Two queries."""
    newest: dict[int, EngineTypeRevision] = {}
    for revision in EngineTypeRevision.objects.order_by("number"):
        newest[revision.engine_type_id] = revision
    return TypesPage(
        rows=tuple(_row(each, newest.get(each.pk)) for each in EngineType.objects.order_by("designation")),
        may_edit=access.may_now(reader.user, "edit_reference"),
    )


def type_page(reader: Reader, kind: EngineType) -> TypePage:
    """One type with its newest numbers. A fixed number of queries."""
    revisions = list(kind.revisions.select_related("approved_by").order_by("-number"))
    newest = revisions[0] if revisions else None
    row = _row(kind, newest)
    picture, sentences = None, row.doubts
    if newest is not None and newest.chart and not row.unusable:
        chart = Chart.from_dict(newest.chart, rated_hp=newest.rated_hp)
        picture = chart_picture(chart, chart_doubts(chart))
    return TypePage(
        kind=kind,
        row=row,
        numbers=_numbers(newest, reader.units) if newest else None,
        picture=picture,
        sentences=sentences,
        revisions=_used(kind, revisions),
        may_edit=access.may_now(reader.user, "edit_reference"),
    )


def _used(kind: EngineType, revisions: list[EngineTypeRevision]) -> tuple[UsedBy, ...]:
    builds = Build.objects.filter(type_revision__engine_type=kind).select_related("engine__engine_type")
    by_revision: dict[int, list[Build]] = {}
    for build in builds.order_by("-opened_at"):
        by_revision.setdefault(build.type_revision_id, []).append(build)
    found = []
    for revision in revisions:
        mine = by_revision.get(revision.pk, [])
        still = [build for build in mine if build.state == BuildState.OPEN][:SHOWN_BUILDS]
        links = tuple((reverse("engine", args=[build.engine_id]), f"{build.number}, {build.engine}") for build in still)
        found.append(UsedBy(revision, links, len(mine)))
    return tuple(found)


def _row(kind: EngineType, revision: EngineTypeRevision | None) -> TypeRow:
    if revision is None:
        return TypeRow(kind.pk, kind.designation, kind.maker, None, "")
    if not revision.chart:
        return TypeRow(kind.pk, kind.designation, kind.maker, revision, "none: power of its flights stays unknown")
    try:
        chart = Chart.from_dict(revision.chart, rated_hp=revision.rated_hp)
    except BadChart as error:
        unusable = " ".join(part for part in (f"{error.where}:", error.what, error.mend) if part)
        return TypeRow(kind.pk, kind.designation, kind.maker, revision, "can't be read", unusable)
    doubts = tuple(doubt.words for doubt in chart_doubts(chart))
    return TypeRow(kind.pk, kind.designation, kind.maker, revision, chart_words(chart), doubts=doubts)


def chart_words(chart: Chart) -> str:
    if chart.kind == "fixed_pitch":
        shape = f"fixed pitch, {len(chart.points)} rows"
    else:
        shape = f"{len(chart.rpm)} engine speeds by {len(chart.map_inhg)} manifold pressures"
    return f"{shape}. {chart.source.rstrip('.')}, revision {chart.revision}"


# --- numbers as a table ----------------------------------------------------------------------------------------------


def _numbers(revision: EngineTypeRevision, units: str) -> Table:
    rows = tuple((label, text) for label, text in told(revision, units) if text != NOT_STATED)
    unsaid = [label for label, text in told(revision, units) if text == NOT_STATED]
    caption = (
        f"Revision {revision.number}. Not stated: {', '.join(unsaid).lower()}." if unsaid else "All that is stated"
    )
    return Table(caption, ("What", "Value"), rows)


def changes(old: EngineTypeRevision | None, values: Mapping[str, Any], units: str) -> Table:
    """What a revision with these values would say, beside what the one before it says where that differs."""
    new = EngineTypeRevision(**values)
    before = dict(told(old, units)) if old else {}
    rows = tuple((label, before.get(label, ""), text) for label, text in told(new, units) if text != before.get(label))
    if old is None:
        stated = tuple((label, text) for label, _, text in rows if text != NOT_STATED)
        return Table("What would be kept", ("What", "Value"), stated)
    return Table(f"What differs from revision {old.number}", ("What", "Now", "After"), rows)


def told(revision: EngineTypeRevision, units: str) -> list[tuple[str, str]]:
    """(label, value in the reader's units) of every number of a revision, in the order of the form."""
    words = [(label, _text(revision, name)) for name, label in _WORDS]
    plain = [(each.label, _plain(getattr(revision, each.name), each.unit)) for each in PLAIN]
    measured = [
        (each.what.label, _measured(getattr(revision, each.name), each.what.kind.value, units)) for each in MEASURED
    ]
    return [*words[:6], *plain, *measured, *words[6:]]


_KIND_NAMES = {
    "volume": "volume", "temperature": "temperature", "oil pressure": "oil_pressure", "fuel flow": "fuel_flow",
    "manifold pressure": "manifold", "altitude": "altitude",
}  # fmt: skip


def _measured(value: float | None, kind: str, units: str) -> str:
    return NOT_STATED if value is None else quantity(value, _KIND_NAMES[kind], units)


def _plain(value: float | None, unit: str) -> str:
    return NOT_STATED if value is None else f"{value:g}\u202f{unit}"


def _text(revision: EngineTypeRevision, name: str) -> str:
    value = getattr(revision, name)
    if name == "chart":
        if not value:
            return "none"
        return chart_words(Chart.from_dict(value, rated_hp=revision.rated_hp)) + f" ({_sum_of(value)})"
    if name == "recheck":
        return "; ".join(str(row.get("item")) for row in value or []) or NOT_STATED
    if name == "unusual":
        return " ".join(value or []) or NOT_STATED
    if name == "cylinder_map":
        rows = revision.mapped_rows
        return ", then ".join(" ".join("-" if n is None else str(n) for n in row) for row in rows) or NOT_STATED
    if value is None or value == "":
        return NOT_STATED
    if isinstance(value, bool):
        return "yes" if value else "no"
    shown = getattr(revision, f"get_{name}_display", None)
    return str(shown() if shown else value)


def _sum_of(chart: Mapping[str, Any]) -> str:
    """A number that moves with any point of the chart, so that a changed point shows among the differences."""
    if chart.get("kind") == "fixed_pitch":
        return f"all percentages together {sum(row['pct'] for row in chart['points']):g}"
    return f"all powers together {sum(sum(row) for row in chart['hp']):.10g} hp"


def picture_of(read: ReadChart | None) -> tuple[ChartPicture | None, tuple[str, ...]]:
    """The picture of a chart that was just pasted, and the sentences of its doubtful points."""
    if read is None or read.drawn is None:
        return None, ()
    return chart_picture(read.drawn, [doubt for doubt, _ in read.doubts]), tuple(words for _, words in read.doubts)

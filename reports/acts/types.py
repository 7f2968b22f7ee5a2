"""The engine types of the shop with the numbers they have now, and what in their power charts looks mistyped."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from breakin.calc.chart import Chart
from breakin.calc.chart_doubts import chart_doubts
from breakin.calc.errors import BadChart
from engines.models import EngineType, EngineTypeRevision
from reports.reader import Reader


@dataclass(frozen=True)
class TypeRow:
    """One type. `revision` is None where it has no numbers yet.

    chart : what its power chart is, in words. unusable : why it can't be read; empty where it can.
    doubts : each point that leaves its neighbours, as a sentence, the worst first.
    """

    name: str
    maker: str
    revision: EngineTypeRevision | None
    chart: str
    unusable: str = ""
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True)
class TypesPage:
    """The page. `add` and `revise` are addresses, empty where the reader may not."""

    rows: tuple[TypeRow, ...]
    add: str
    revise: str

    @property
    def doubtful(self) -> int:
        return sum(1 for row in self.rows if row.doubts or row.unusable)


def types_page(reader: Reader) -> TypesPage:
    """Every type by its designation. Two queries."""
    newest: dict[int, EngineTypeRevision] = {}
    for revision in EngineTypeRevision.objects.order_by("number"):
        newest[revision.engine_type_id] = revision
    may = reader.user.is_staff
    return TypesPage(
        rows=tuple(_row(each, newest.get(each.pk)) for each in EngineType.objects.order_by("designation")),
        add=_address(reader, "enginetype") if may else "",
        revise=_address(reader, "enginetyperevision") if may else "",
    )


def _address(reader: Reader, model: str) -> str:
    return reverse(f"admin:engines_{model}_add") if reader.user.has_perm(f"engines.add_{model}") else ""


def _row(kind: EngineType, revision: EngineTypeRevision | None) -> TypeRow:
    if revision is None:
        return TypeRow(kind.designation, kind.maker, None, "")
    if not revision.chart:
        return TypeRow(kind.designation, kind.maker, revision, "none: power of its flights stays unknown")
    try:
        chart = Chart.from_dict(revision.chart, rated_hp=revision.rated_hp)
    except BadChart as error:
        unusable = " ".join(part for part in (f"{error.where}:", error.what, error.mend) if part)
        return TypeRow(kind.designation, kind.maker, revision, "can't be read", unusable)
    doubts = tuple(doubt.words for doubt in chart_doubts(chart))
    return TypeRow(kind.designation, kind.maker, revision, _words(chart), doubts=doubts)


def _words(chart: Chart) -> str:
    if chart.kind == "fixed_pitch":
        shape = f"fixed pitch, {len(chart.points)} rows"
    else:
        shape = f"{len(chart.rpm)} engine speeds by {len(chart.map_inhg)} manifold pressures"
    return f"{shape}. {chart.source.rstrip('.')}, revision {chart.revision}"

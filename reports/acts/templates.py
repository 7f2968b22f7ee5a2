"""The shop's plan templates: the list, one of them with its numbers in words, and what differs between two."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Q

from breakin.models import OilKind, PlanTemplate, StageKind
from breakin.plan_templates import SOURCE, bodies
from engines.models import BuildState
from reports.acts.template_form import LISTS, MATERIALS, NUMBERS, minutes_words
from reports.engine.header import oil_rate_plain
from reports.engine.tables import Table
from reports.quantities import quantity
from reports.reader import Reader
from shop import access

NOT_SAID = "not said"
_STAGE = (
    ("minutes", "minutes"), ("cap_h", "ends in any case at"), ("rpm", "planned rpm"), ("climb_to_ft", "climb to"),
    ("altitude_max_ft", "highest altitude"), ("mixture", "mixture"), ("cowl_flaps", "cowl flaps"),
    ("aboard", "who may be aboard"), ("advice", "advice"),
)  # fmt: skip


@dataclass(frozen=True)
class TemplateRow:
    """One template as the list shows it. plans : issued from any of its revisions for builds that are open."""

    template: PlanTemplate
    practice: bool
    plans: int


@dataclass(frozen=True)
class TemplatesPage:
    """missing : names of those that a shop starts with and that are not in the book yet."""

    rows: tuple[TemplateRow, ...]
    missing: tuple[str, ...]
    may_edit: bool


@dataclass(frozen=True)
class TemplatePage:
    """newest : the revision that is issued today. differs : what differs from what it was copied from."""

    template: PlanTemplate
    newest: PlanTemplate
    practice: bool
    numbers: Table
    differs: Table | None
    revisions: tuple[tuple[PlanTemplate, int], ...]
    may_edit: bool


def templates_page(reader: Reader) -> TemplatesPage:
    """The newest revision of each. Two queries."""
    newest: dict[str, PlanTemplate] = {}
    plans: dict[str, int] = {}
    for template in _counted():
        newest.setdefault(template.name, template)
        plans[template.name] = plans.get(template.name, 0) + template.open_plans
    return TemplatesPage(
        rows=tuple(TemplateRow(row, is_practice(row), plans[name]) for name, row in sorted(newest.items())),
        missing=tuple(sorted(set(bodies()) - set(newest))),
        may_edit=access.may_now(reader.user, "edit_reference"),
    )


def template_page(reader: Reader, template: PlanTemplate) -> TemplatePage:
    revisions = list(_counted().filter(name=template.name).select_related("made_by"))
    origin = template.copied_from
    return TemplatePage(
        template=template,
        newest=revisions[0],
        practice=is_practice(template),
        numbers=Table("What it says", ("What", "Value"), tuple(told(template, reader.units))),
        differs=differences(origin, template, reader.units) if origin else None,
        revisions=tuple((row, row.open_plans) for row in revisions),
        may_edit=access.may_now(reader.user, "edit_reference"),
    )


def _counted() -> Any:
    held = Count("plans__build", filter=Q(plans__build__state=BuildState.OPEN), distinct=True)
    return PlanTemplate.objects.annotate(open_plans=held).order_by("name", "-revision")


def is_practice(template: PlanTemplate) -> bool:
    return template.source.startswith(SOURCE[:30])


def differences(old: PlanTemplate, new: PlanTemplate, units: str) -> Table:
    """What the new one says otherwise, beside what the old one says. No row where nothing differs."""
    before, after = dict(told(old, units)), dict(told(new, units))
    labels = [*after, *(label for label in before if label not in after)]
    rows = tuple(
        (label, before.get(label, NOT_SAID), after.get(label, NOT_SAID))
        for label in labels
        if before.get(label, NOT_SAID) != after.get(label, NOT_SAID)
    )
    return Table(f"What differs from “{old}”, revision {old.revision}", ("What", "There", "Here"), rows)


def draft(values: Mapping[str, Any]) -> PlanTemplate:
    """A template with these values, not kept."""
    return PlanTemplate(**values)


def told(template: PlanTemplate, units: str) -> list[tuple[str, str]]:
    """(what, its value in words) of every number of a template, in the order of the form."""
    rates = [oil_rate_plain(getattr(template, name), units) for name in ("accept_qt_h", "watch_qt_h", "alarm_qt_h")]
    bands = {
        f"band_{band}_{end}": row[at] for band, row in template.credit.items() for at, end in enumerate(("low", "high"))
    }
    numbers = [
        (label, f"{bands[name] if name in bands else getattr(template, name):g}\u202f{unit}")
        for name, label, unit, *_ in NUMBERS
    ]
    lists = [(label, ", ".join(f"{each:g}" for each in getattr(template, name)) or "none") for name, label, *_ in LISTS]
    return [
        ("For", template.variant),
        ("Follows", f"{template.source}, {template.source_revision}"),
        ("Hours", "follow from the slowest finish" if template.hours_by_finish else "as said here"),
        ("Rates", "follow from the engine type" if template.rates_by_type else "as said here"),
        *numbers,
        ("Oil loss: accepted, watch, alarm", ", ".join(rates)),
        ("Kind of oil", str(OilKind(template.oil_kind).label) if template.oil_kind else NOT_SAID),
        *((f"Most {label} in a filter", template.filter_table.get(name, "no line")) for name, label in MATERIALS),
        *lists,
        *(row for stage in template.stages for row in _stage(stage, units)),
    ]


def _stage(stage: Mapping[str, Any], units: str) -> list[tuple[str, str]]:
    named = str(StageKind(stage["kind"]).label).capitalize()
    return [(f"{named}: {label}", text) for name, label in _STAGE if (text := _part(stage, name, units))]


def _part(stage: Mapping[str, Any], name: str, units: str) -> str:
    value = stage.get(name)
    if value in (None, "", []):
        return ""
    if name == "minutes":
        return minutes_words(value)
    if name == "cap_h":
        return f"{value:g}\u202fh"
    if name == "rpm":
        return f"{value:,.0f}\u202frpm"
    if name == "climb_to_ft":
        above = "above sea level" if stage.get("climb_reference") == "sea" else "above the field"
        return f"{quantity(value, 'altitude', units)} {above}"
    return quantity(value, "altitude", units) if name == "altitude_max_ft" else str(value)

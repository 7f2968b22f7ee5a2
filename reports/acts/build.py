"""The form that opens a build: the engine, the work, what sits at each cylinder position, the plan."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar

from django import forms
from django.db import transaction

from breakin.calc.units import Kind
from breakin.entries.ranges import Range
from breakin.entries.sheet import Sheet
from breakin.models import PlanTemplate, RunInPlan
from breakin.plan_templates import bodies, ensure_templates, template_name_for
from breakin.services.accessories import done_with_engine
from breakin.services.build_checks import PositionEntry
from breakin.services.builds import open_build
from breakin.services.engines import enter_engine
from breakin.services.plans import issue_plan
from engines.models import Build, BuildKind, Engine, EngineTypeRevision, Finish
from reports.acts.accessories import acts_in, field_of, with_engine_fields
from reports.acts.base import ActForm, had, person_field, read_decimal, text_field
from reports.forms.fields import NumberField
from shop.access import STAFF, TECHNICIANS
from shop.forms import Chips
from shop.models import Person, Role

NEW, KNOWN = "new", "known"
SUGGESTED, NO_PLAN = "suggested", "none"
# Work on single cylinders: the others stay as they are, unless said otherwise.
SINGLE = (BuildKind.CYLINDER, BuildKind.RINGS)
TOTAL = Range("Total time", Kind.HOURS, 0, 40_000, 0, 20_000)
SINCE_OVERHAUL = Range("Time since overhaul", Kind.HOURS, 0, 40_000, 0, 4000)
# The service knows what a gap or an angle can be; here it only has to be a number.
GAP_IN, HONE_DEG = (0.0, 10.0), (0.0, 360.0)
DISTURBED = (("", "by the work"), ("yes", "yes"), ("no", "no"))
COLUMNS = {
    "disturbed": "New or re-honed",
    "finish": "Finish",
    "ring_lot": "Ring lot",
    "ring_facing": "Ring facing",
    "ring_gap": "Ring gap",
    "piston": "Piston",
    "bore": "Bore",
    "hone_angle": "Hone angle",
    "barrel_lot": "Barrel lot",
    "barrel_serial": "Barrel serial",
}
PARTS = tuple(COLUMNS)
FOR_ALL = ("finish", "ring_lot", "ring_facing", "piston", "bore", "hone_angle", "barrel_lot")


class BuildForm(ActForm):
    """One build of one engine of a known type. `rows` are the cylinder positions as the table shows them."""

    groups: tuple[tuple[str, tuple[str, ...]], ...] = (
        ("Engine", ("serial", "known", "total_time_h", "time_since_overhaul_h")),
        (
            "Work",
            ("number", "kind", "opened_date", "opened_time", "builder", "inspector", "owner", "assembly_lube", "note"),
        ),
    )
    places: ClassVar[dict[str, str]] = {
        "engine": "serial",
        "opened_at": "opened_date",
        "positions": "p1_disturbed",
        "template": "plan",
    }

    def __init__(self, *args: Any, revision: EngineTypeRevision, **kwargs: Any) -> None:
        self.revision = revision
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.fields["serial"] = text_field("Serial number", 40, "As on the data plate.")
        self.fields["known"] = forms.ChoiceField(
            label="This serial number is",
            choices=((NEW, "new to this book"), (KNOWN, "in the book already")),
            required=False,
            widget=Chips,
        )
        self.fields["total_time_h"] = NumberField(label="Total time at this build", unit="h", help_text="Never falls.")
        self.fields["time_since_overhaul_h"] = NumberField(label="Time since overhaul at this build", unit="h")
        self.fields["number"] = text_field("Build number", 20, "The shop's own.")
        self.fields["kind"] = forms.ChoiceField(
            label="Kind of work", choices=BuildKind.choices, required=False, widget=Chips
        )
        self.moment("opened", "Opened")
        self.fields["builder"] = person_field("Built by", TECHNICIANS)
        self.fields["inspector"] = person_field("Inspected by", (Role.SIGNATORY,), "Somebody else than the builder.")
        self.fields["owner"] = person_field("Looked after by", STAFF, "Who in the shop keeps an eye on it.")
        self.fields["assembly_lube"] = text_field("Assembly lube", 80, "What the parts were put together with.")
        self.fields["note"] = text_field("Note", 4000, rows=2)
        for name, field in _position("all", blank="choose").items():
            self.fields[name] = field
        for number in range(1, self.revision.cylinders + 1):
            self.fields |= _position(str(number), blank="as above")
        self.fields["inspector_override"] = text_field(
            "Chrome-faced rings in a chrome bore: the inspector's reason",
            400,
            "Only where the supplier's instructions allow them. Name the inspector above.",
        )
        self.fields["plan"] = forms.ChoiceField(label="Run-in plan", required=False, choices=_plan_choices())
        self.carried = with_engine_fields(self._engine_named())
        self.fields |= self.carried
        if self.carried:
            self.groups = (*self.groups, ("Accessories keep their own clocks", tuple(self.carried)))

    def _engine_named(self) -> Engine | None:
        """The engine in the book that the serial number names, as far as it was typed."""
        serial = str((self.data if self.is_bound else self.initial).get("serial") or "").strip()
        rows = Engine.objects.filter(engine_type=self.revision.engine_type, serial__iexact=serial)
        return rows.first() if serial else None

    @property
    def for_all(self) -> list[tuple[str, forms.BoundField | None]]:
        """The first row: None where there is nothing that all have in common."""
        return [(COLUMNS[part], self[f"all_{part}"] if part in FOR_ALL else None) for part in PARTS]

    @property
    def rows(self) -> Iterator[tuple[int, list[tuple[str, forms.BoundField]]]]:
        """(number, [(head of the column, field), ...]) of each cylinder position."""
        for number in range(1, self.revision.cylinders + 1):
            yield number, [(COLUMNS[part], self[f"p{number}_{part}"]) for part in PARTS]

    def place_of(self, field: str) -> str:
        """positions.0.finish -> p1_finish"""
        if field.startswith("accessory."):
            return field_of(field)
        head, _, rest = field.partition(".")
        if head == "positions" and rest:
            index, _, part = rest.partition(".")
            part = part.removesuffix("_in").removesuffix("_deg")
            return f"p{int(index) + 1}_{part}" if part != "number" else f"p{int(index) + 1}_finish"
        return super().place_of(field)

    def read(self, sheet: Sheet) -> None:
        self.engine = self._read_engine(sheet)
        sheet.need("number", "The build number", "Type the shop's own number.")
        sheet.need("kind", "The kind of work", "Choose it.")
        self.opened_at = self.read_moment(sheet, "opened", "Opened")
        self.total_h = sheet.quantity("total_time_h", TOTAL)
        self.since_overhaul_h = sheet.quantity("time_since_overhaul_h", SINCE_OVERHAUL)
        if sheet.given("inspector_override") and not sheet.raw.get("inspector"):
            sheet.problem("inspector", "Whose reason is it? Name the inspector who lets these rings stay.")
        self.hone_of_all = read_decimal(sheet, "all_hone_angle", "Hone angle of all cylinders, in degrees", *HONE_DEG)
        if self.carried and not any(name in self.data for name in self.carried):
            sheet.ask(
                "accessories",
                "This engine carries accessories with clocks of their own. Were they done together with it? Unless you "
                "say so below, their hours go on.",
            )
        self.positions = [self._read_position(sheet, number) for number in range(1, self.revision.cylinders + 1)]
        if sheet.raw.get("plan") != NO_PLAN:
            ask_about_oil(sheet, "plan", {each.finish for each in self.positions if each.disturbed and each.finish})

    def _read_engine(self, sheet: Sheet) -> Engine | None:
        serial, known = sheet.text("serial", "Serial number", 40), sheet.get("known")
        if not serial:
            sheet.problem("serial", "The serial number is missing. It stands on the data plate.")
            return None
        engine = Engine.objects.filter(engine_type=self.revision.engine_type, serial__iexact=serial).first()
        if known is None:
            sheet.problem("known", f"Is {serial} new to this book, or in it already? Choose one.")
        elif known == KNOWN and engine is None:
            kind = self.revision.engine_type
            sheet.problem(
                "serial", f"There is no {kind} with serial {serial}. Check the number, or say that it is new."
            )
        elif known == NEW and engine is not None:
            sheet.problem("serial", f"{engine} is in the book already. Say so below, or check the number.")
        return engine

    def _read_position(self, sheet: Sheet, number: int) -> PositionEntry:
        own = {part: str(sheet.raw.get(f"p{number}_{part}") or "").strip() for part in PARTS}
        single = sheet.raw.get("kind") in SINGLE
        disturbed = own["disturbed"] == "yes" or (own["disturbed"] != "no" and not single)
        if disturbed:
            # What holds for all is about the cylinders that this build is about.
            own |= {part: own[part] or str(sheet.raw.get(f"all_{part}") or "").strip() for part in FOR_ALL}
        return PositionEntry(
            number=number,
            disturbed=disturbed,
            finish=own["finish"],
            barrel_serial=own["barrel_serial"],
            barrel_lot=own["barrel_lot"],
            bore=own["bore"],
            ring_lot=own["ring_lot"],
            ring_facing=own["ring_facing"],
            ring_gap_in=read_decimal(sheet, f"p{number}_ring_gap", f"Cylinder {number}, ring gap in inches", *GAP_IN),
            hone_angle_deg=self._hone(sheet, number, disturbed=disturbed),
            piston=own["piston"],
        )

    def _hone(self, sheet: Sheet, number: int, *, disturbed: bool) -> float | None:
        own = f"p{number}_hone_angle"
        if sheet.given(own):
            return read_decimal(sheet, own, f"Cylinder {number}, hone angle in degrees", *HONE_DEG)
        return self.hone_of_all if disturbed else None


def ask_about_oil(sheet: Sheet, field: str, finishes: Collection[str]) -> None:
    """Mixed finishes may want different oils: whoever issues the plan says that the suppliers' instructions agree."""
    if len(finishes) > 1:
        names = " and ".join(sorted(Finish(each).label for each in finishes if each in Finish.values))
        sheet.ask(
            field,
            f"The finishes are mixed: {names}. The slowest governs the hours. Do the instructions of every cylinder's "
            "supplier name the oil of this plan? Where they differ, ask the suppliers first.",
        )


@dataclass(frozen=True)
class Opened:
    """plan is None where the build starts without one."""

    build: Build
    plan: RunInPlan | None


@transaction.atomic
def open_from(form: BuildForm, by: Person, now: datetime) -> Opened:
    """Open the build of a valid form: enter the engine where it is new, and issue the plan that was chosen.

    Raises
    ------
    Refusal : with every problem found. Nothing is kept then.
    """
    typed = form.cleaned_data
    engine = form.engine or enter_engine(by=by, engine_type=form.revision.engine_type, serial=typed["serial"], now=now)
    build = open_build(
        by=by,
        engine=engine,
        number=typed["number"],
        kind=typed["kind"],
        positions=form.positions,
        opened_at=had(form.opened_at),
        builder=typed["builder"],
        inspector=typed["inspector"],
        owner=typed["owner"],
        inspector_override=typed["inspector_override"],
        assembly_lube=typed["assembly_lube"],
        note=typed["note"],
        total_time_h=form.total_h,
        time_since_overhaul_h=form.since_overhaul_h,
        now=now,
    )
    done_with_engine(
        by=by, engine=engine, acts=acts_in(typed), done_on=had(form.opened_at).date(), total_time_h=form.total_h,
        words=f"With build {build.number}.", now=now,
    )  # fmt: skip
    chosen = typed["plan"] or SUGGESTED
    if chosen == NO_PLAN:
        return Opened(build, None)
    name = template_name_for(build) if chosen == SUGGESTED else chosen
    return Opened(build, issue_plan(by=by, build=build, template=template_named(name), now=now))


def template_names() -> list[str]:
    """The shop's templates, and those it starts with even before they were used once."""
    return sorted({*bodies(), *PlanTemplate.objects.values_list("name", flat=True)})


def template_named(name: str) -> PlanTemplate:
    """The template of this name; one of those the shop starts with is entered at its first use."""
    known = PlanTemplate.objects.filter(name=name).first()
    return known or ensure_templates()[name]


def _plan_choices() -> list[tuple[str, str]]:
    return [
        (SUGGESTED, "the one that fits the work and the slowest finish"),
        (NO_PLAN, "none yet: it is issued later"),
        *[(name, name) for name in template_names()],
    ]


def _position(which: str, *, blank: str) -> dict[str, forms.Field]:
    """The fields of one cylinder position, or ("all") of what all have in common."""
    prefix, of = ("all_", "All cylinders") if which == "all" else (f"p{which}_", f"Cylinder {which}")
    fields: dict[str, forms.Field] = {
        "finish": forms.ChoiceField(label=f"{of}: finish", required=False, choices=[("", blank), *Finish.choices]),
        "ring_lot": text_field(f"{of}: ring lot", 40),
        "piston": text_field(f"{of}: piston part", 40),
        "hone_angle": NumberField(label=f"{of}: hone angle", unit="°"),
        "ring_facing": text_field(f"{of}: ring facing", 40),
        "bore": text_field(f"{of}: bore", 16),
        "barrel_lot": text_field(f"{of}: barrel lot", 40),
    }
    if which != "all":
        fields["disturbed"] = forms.ChoiceField(label=f"{of}: new or re-honed", required=False, choices=DISTURBED)
        fields["ring_gap"] = NumberField(label=f"{of}: ring gap", unit="in")
        fields["barrel_serial"] = text_field(f"{of}: barrel serial", 40)
    return {f"{prefix}{name}": field for name, field in fields.items()}

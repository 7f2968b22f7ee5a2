"""Forms about accessories with clocks of their own: a new one, what was done to one, and done with the engine."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, ClassVar

from django import forms

from breakin.calc.units import Kind
from breakin.entries.ranges import Range
from breakin.entries.sheet import Sheet
from breakin.models import Assessment
from breakin.services import accessories
from breakin.services.accessories import AccessoryEntry, terms_of, watched
from engines.models import RESETTING_ACTS, Accessory, AccessoryAct, AccessoryEvent, AccessoryKind, Engine
from reports.acts.base import ActForm, day_field, had, read_day, text_field
from reports.forms.fields import NumberField
from shop.forms import Chips
from shop.models import Person

TOTAL = Range("Total time of the engine", Kind.HOURS, 0, 40_000, 0, 20_000)
OWN = Range("Hours it had behind it", Kind.HOURS, 0, 20_000, 0, 3000)
INTERVAL = Range("Interval in hours", Kind.HOURS, 0.1, 20_000, 10, 3000)
WITH_ENGINE = "accessory_"
GO_ON = "no, its clock goes on"
# Above the total time in the book by more than this: a flight is missing, or a figure is wrong.
AHEAD_H = 1.0


class EventForm(ActForm):
    """What was done to one accessory, and what holds from then on."""

    groups: tuple[tuple[str, tuple[str, ...]], ...] = (
        ("What was done", ("act", "done_on", "total_time_h", "own_hours_h", "done_by", "words")),
        ("What holds from then on", ("interval_h", "interval_months", "source", "part")),
    )
    acts: ClassVar[tuple[AccessoryAct, ...]] = tuple(AccessoryAct)
    what: ClassVar[str] = "What was done"

    def __init__(self, *args: Any, engine: Engine, **kwargs: Any) -> None:
        self.engine = engine
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.fields["act"] = forms.ChoiceField(
            label=self.what, choices=[(act.value, act.label) for act in self.acts], required=False, widget=Chips
        )
        self.fields["done_on"] = day_field("On")
        self.fields["total_time_h"] = NumberField(
            label="Total time of the engine then", unit="h", help_text="Not the time since its overhaul."
        )
        self.fields["own_hours_h"] = NumberField(
            label="Hours of its interval that it had behind it then", unit="h",
            help_text="Empty for a new or overhauled one: it begins at 0.",
        )  # fmt: skip
        self.fields["done_by"] = text_field("Done by", 120, "A person or a firm.")
        self.fields["words"] = text_field("Words", 4000, "What was found. The shop alone reads them.", rows=2)
        self.fields["interval_h"] = NumberField(
            label="Due after",
            unit="h",
            help_text="From the maker's current instructions. Empty where hours don't limit it.",
        )
        self.fields["interval_months"] = NumberField(
            label="Or after",
            unit="months",
            help_text="Empty where no date limits it. With both, whichever comes first.",
        )
        self.fields["source"] = text_field("Where that stands", 200, "The maker's document and its revision.")
        self.fields["part"] = text_field("Part or serial number", 80)

    def read(self, sheet: Sheet) -> None:
        sheet.need("act", self.what, "Choose one.")
        self.done_on = read_day(sheet, "done_on", "On")
        self.total = sheet.quantity("total_time_h", TOTAL)
        self.own = sheet.quantity("own_hours_h", OWN)
        self.interval_h = sheet.quantity("interval_h", INTERVAL)
        self.interval_months = sheet.whole("interval_months", "Or after, in months", 1, 600)
        in_book = total_in_book(self.engine)
        if self.total is not None and in_book is not None and self.total > in_book + AHEAD_H:
            sheet.ask(
                "total_time_h",
                f"{self.total:g} h is above {in_book:.1f} h, the engine's total time in the book today. Is a flight "
                "missing there, and this figure right?",
            )

    @property
    def entry(self) -> AccessoryEntry:
        typed = self.cleaned_data
        return AccessoryEntry(
            act=typed["act"], done_on=had(self.done_on), interval_h=self.interval_h,
            interval_months=self.interval_months, source=typed["source"], total_time_h=self.total, own_hours_h=self.own,
            part=typed["part"], done_by=typed["done_by"], words=typed["words"],
        )  # fmt: skip


class AccessoryForm(EventForm):
    """An accessory that is new to the book, with when it was last done."""

    groups = (
        ("What it is", ("kind", "name", "part")),
        ("When it was last done", ("act", "done_on", "total_time_h", "own_hours_h", "done_by", "words")),
        ("When it is due again", ("interval_h", "interval_months", "source")),
    )
    acts = RESETTING_ACTS
    what = "Last done"

    def ask_for(self) -> None:
        self.fields["kind"] = forms.ChoiceField(
            label="Kind", choices=AccessoryKind.choices, required=False, widget=Chips
        )
        self.fields["name"] = text_field(
            "Which one", 40, "For example left, or the name of another kind. Customers read it."
        )
        super().ask_for()

    def read(self, sheet: Sheet) -> None:
        sheet.need("kind", "The kind", "Choose what it is.")
        super().read(sheet)


def total_in_book(engine: Engine) -> float | None:
    """Total time of the engine as its newest judgement has it [h]."""
    row = Assessment.objects.filter(engine=engine).order_by("-build__opened_at").first()
    found = row.detail.get("accessories") if row else None
    return found.get("total_time_h") if isinstance(found, dict) else None


def enter_from(form: AccessoryForm, by: Person, now: datetime) -> Accessory:
    typed = form.cleaned_data
    return accessories.enter_accessory(
        by=by, engine=form.engine, kind=typed["kind"], name=typed["name"], entry=form.entry, now=now
    )


def event_from(form: EventForm, accessory: Accessory, by: Person, now: datetime) -> AccessoryEvent:
    return accessories.record_event(by=by, accessory=accessory, entry=form.entry, now=now)


def as_it_holds(accessory: Accessory) -> dict[str, Any]:
    """What the form of an event begins with: the interval and the part as they are."""
    terms = terms_of(accessory)
    return {
        "interval_h": f"{terms.interval_h:g}" if terms.interval_h is not None else "",
        "interval_months": str(terms.interval_months or ""),
        "source": terms.source,
        "part": terms.part,
    }


class TakeBackForm(ActForm):
    """An entry that was wrong."""

    def ask_for(self) -> None:
        self.reason("Why is it wrong?", "It stays readable, with this reason.")

    def read(self, sheet: Sheet) -> None:
        sheet.need("reason", "The reason", "Say in a few words why.")


# --- beside a build or an installation ------------------------------------------------------------------------------


def with_engine_fields(engine: Engine | None) -> dict[str, forms.Field]:
    """For each accessory of an engine the question whether it was done together with it: usually not."""
    choices = [("", GO_ON), *((act.value, f"yes, {act.label}") for act in RESETTING_ACTS)]
    return {
        f"{WITH_ENGINE}{each.pk}": forms.ChoiceField(
            label=f"{each.label}: was it done with the engine?", choices=choices, required=False, widget=Chips
        )
        for each in (watched(engine) if engine else ())
    }


def acts_in(typed: Mapping[str, Any]) -> dict[int, str]:
    """accessory id -> what was done to it, of those that were."""
    return {
        int(name.removeprefix(WITH_ENGINE)): act for name, act in typed.items() if name.startswith(WITH_ENGINE) and act
    }


def field_of(problem: str) -> str:
    """accessory.3 -> accessory_3"""
    return problem.replace("accessory.", WITH_ENGINE)

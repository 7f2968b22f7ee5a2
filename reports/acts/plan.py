"""The form that issues the run-in plan of a build."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar

from django import forms
from django.utils.crypto import constant_time_compare, salted_hmac

from breakin.calc.units import Kind
from breakin.entries.ranges import Range
from breakin.entries.sheet import Sheet
from breakin.models import OilKind, PlanTemplate, RunInPlan, StageKind
from breakin.plan_templates import bodies, template_name_for
from breakin.services.plans import issue_plan, proposal, what_would_change
from engines.models import Build
from reports.acts.base import ActForm, text_field
from reports.acts.build import ask_about_oil, template_named, template_names
from reports.acts.what_if import Compared, compared
from reports.engine.header import Fact, plan_facts
from reports.forms.fields import NumberField, QuantityField
from reports.quantities import quantity
from shop.errors import Refusal
from shop.forms import Chips
from shop.models import Person

RATES = (("accept_qt_h", "Accepted loss"), ("watch_qt_h", "Watch rate"), ("alarm_qt_h", "Alarm rate"))
HOURS = (
    ("expected_low_h", "Expected from"),
    ("expected_high_h", "Expected until"),
    ("minimum_h", "Review not before"),
)
A_RATE = {name: Range(f"{label} of oil in one hour", Kind.VOLUME, 0, 10, 0.02, 3) for name, label in RATES}
AN_HOUR = {name: Range(label, Kind.HOURS, 0, 400, 1, 100) for name, label in HOURS}
PLANNED_RPM = Range("Planned rpm", Kind.SPEED_RPM, 500, 6500, 1800, 6000)


class PlanForm(ActForm):
    """A template and what differs from it. A field that is left empty follows engine type, finish and template."""

    groups = (
        ("Plan", ("template", "reason")),
        ("Different from it, where the maker's instruction says so", tuple(name for name, _ in (*RATES, *HOURS))),
        ("", ("oil_kind", "rpm", "source", "source_revision")),
    )
    places: ClassVar[dict[str, str]] = {}

    def __init__(self, *args: Any, build: Build, newest: RunInPlan | None, **kwargs: Any) -> None:
        self.build, self.newest = build, newest
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.on_page["after"] = self.newest.revision if self.newest else 0
        self.fields["after"] = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)
        self.fields["looked"] = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)
        self.on_page["looked"] = ""
        self.fields["template"] = forms.ChoiceField(
            label="Template",
            choices=[("", "choose"), *[(name, name) for name in template_names()]],
            required=False,
            help_text="All are in the table below, with their numbers.",
        )
        if self.newest is not None:
            self.reason("Why is it issued again?", "It is kept with the new revision.")
        for name, label in RATES:
            hint = "In one hour. Empty: by the engine type." if name == "accept_qt_h" else ""
            self.fields[name] = QuantityField(Kind.VOLUME, self.units, label=f"{label}, an hour", help_text=hint)
        for name, label in HOURS:
            hint = "Empty: by the slowest finish fitted." if name == "expected_low_h" else ""
            self.fields[name] = NumberField(label=label, unit="h", help_text=hint)
        self.fields["oil_kind"] = forms.ChoiceField(
            label="Kind of oil",
            choices=[("", "as the template"), *OilKind.choices],
            required=False,
            widget=Chips,
        )
        self.fields["rpm"] = NumberField(label="Planned rpm of all stages", unit="rpm", help_text="Empty: not planned.")
        self.fields["source"] = text_field(
            "Document that the plan follows", 400, "Empty: as the template says.", rows=2
        )
        self.fields["source_revision"] = text_field("Its revision", 80)

    def read(self, sheet: Sheet) -> None:
        sheet.need("template", "The template", "Choose one; the table below says what each is for.")
        read = {
            **{name: sheet.quantity(name, what) for name, what in A_RATE.items()},
            **{name: sheet.quantity(name, what) for name, what in AN_HOUR.items()},
            "rpm": sheet.quantity("rpm", PLANNED_RPM),
            "oil_kind": sheet.get("oil_kind"),
            "source": sheet.text("source", "Document", 400),
            "source_revision": sheet.text("source_revision", "Its revision", 80),
        }
        fitted = self.build.positions.filter(disturbed=True).exclude(finish="")
        ask_about_oil(sheet, "oil_kind", set(fitted.values_list("finish", flat=True)))
        if sheet.given("source") and not sheet.given("source_revision"):
            sheet.problem("source_revision", "Which revision or date of that document? It changes with time.")
        self.overrides = {name: value for name, value in read.items() if value not in (None, "")}

    @property
    def mark(self) -> str:
        """What this form asks for, as one mark that only the server makes: it stands on the page of the look alone."""
        template, after = self.cleaned_data.get("template"), self.on_page["after"]
        asked = [self.build.pk, template, after, sorted(self.overrides.items())]
        return salted_hmac("what a plan would change", repr(asked), algorithm="sha256").hexdigest()

    @property
    def needs_a_look(self) -> bool:
        """Has the reader not seen what this plan, as it stands now, would change? A first plan changes nothing.

        No where another revision came in between: issuing says so.
        """
        if (self.cleaned_data.get("after") or 0) != self.on_page["after"]:
            return False
        looked = self.cleaned_data.get("looked") or ""
        return (self.newest is not None or bool(looked)) and not constant_time_compare(looked, self.mark)


def preview_of(form: PlanForm, now: datetime) -> Compared | None:
    """What the plan of this form would change; None where something is to be mended or confirmed first."""
    if not form.is_valid() or form.asked:
        return None
    try:
        template = _template(form.cleaned_data["template"])
        found = what_would_change(form.build, template, form.overrides, now)
    except Refusal as refusal:
        form.refuse(refusal.problems)
        return None
    form.on_page["looked"] = form.mark
    return compared(f"build {form.build.number}", found, form.units)


def issue_from(form: PlanForm, by: Person, now: datetime) -> RunInPlan:
    """Issue the plan of a valid form.

    Raises
    ------
    Refusal : see `issue_plan`; also where another revision came in between.
    """
    typed = form.cleaned_data
    return issue_plan(
        by=by,
        build=form.build,
        template=template_named(typed["template"]),
        overrides=form.overrides,
        reason=typed.get("reason", ""),
        after=typed.get("after") or 0,
        now=now,
    )


@dataclass(frozen=True)
class TemplateRow:
    """A template as the page lists it."""

    name: str
    variant: str
    oil_kind: str
    altitude: str
    mixture: str
    source: str
    suggested: bool


@dataclass(frozen=True)
class PlanPage:
    """current and proposed : facts of the plan that holds, and of the one that the suggested template would give."""

    suggested: str
    current: Sequence[Fact]
    proposed: Sequence[Fact]
    rows: tuple[TemplateRow, ...]


def plan_page(build: Build, newest: RunInPlan | None, units: str) -> PlanPage:
    suggested = template_name_for(build)
    drafts = {name: _draft(build, name, newest) for name in template_names()}
    return PlanPage(
        suggested=suggested,
        current=plan_facts(newest, units) if newest else (),
        proposed=plan_facts(drafts[suggested], units) if suggested in drafts else (),
        rows=tuple(_row(name, plan, name == suggested, units) for name, plan in drafts.items()),
    )


def _draft(build: Build, name: str, newest: RunInPlan | None) -> RunInPlan:
    """The plan that this template would give, not kept."""
    template = _template(name)
    return RunInPlan(
        build=build, template=template, revision=newest.revision + 1 if newest else 1, **proposal(build, template)
    )


def _template(name: str) -> PlanTemplate:
    """The template of this name, not kept where the shop has not used it yet."""
    return PlanTemplate.objects.filter(name=name).first() or PlanTemplate(name=name, **bodies()[name])


def _row(name: str, plan: RunInPlan, suggested: bool, units: str) -> TemplateRow:
    assert plan.template is not None  # noqa: S101 - drafted from it
    cruise: dict[str, Any] = next((each for each in plan.template.stages if each.get("kind") == StageKind.HOUR_1), {})
    most = plan.build.type_revision.altitude_cap_ft or cruise.get("altitude_max_ft")
    return TemplateRow(
        name=name,
        variant=plan.variant,
        oil_kind=plan.get_oil_kind_display(),
        altitude=quantity(most, "altitude", units) if most else "not limited",
        mixture=str(cruise.get("mixture") or "not said"),
        source=f"{plan.source}, {plan.source_revision}",
        suggested=suggested,
    )

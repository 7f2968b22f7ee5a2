"""The form of a delivery plan: where home is, the first two hours, the ferry."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from breakin.calc.units import Kind, display_unit, from_canonical
from breakin.entries.delivery import NAME, NOTE, DeliveryEntry, read_delivery
from breakin.entries.sheet import Sheet
from breakin.models import DeliveryPlan
from breakin.services.delivery import plan_delivery
from engines.models import Aircraft
from reports.acts.base import ActForm, had, text_field
from reports.forms.fields import NumberField, QuantityField
from shop.forms import Chips
from shop.models import Person, Place, Role, Shop

# Over its field a first hour is often planned this high [ft]: common practice, no source.
_USUAL_ABOVE_FIELD_FT = 3000.0
_HOURS = ("field", "elevation", "oat", "altitude", "pilot")


class DeliveryForm(ActForm):
    """Read by `breakin.entries.delivery`; `after` is the revision that the page showed."""

    groups = (
        (gettext_lazy("Where it goes"), ("home",)),
        (gettext_lazy("Hour 1"), tuple(f"hour_1_{name}" for name in _HOURS)),
        (gettext_lazy("Hour 2"), tuple(f"hour_2_{name}" for name in _HOURS)),
        (
            gettext_lazy("The ferry home"),
            (
                "ferried",
                "ferry_after",
                "ferry_altitude",
                "ferry_time",
                "ferry_distance",
                "ferry_speed",
                "ferry_pilot",
            ),
        ),
        (gettext_lazy("Agreed"), ("note",)),
    )

    def __init__(self, *args: Any, aircraft: Aircraft, after: int, **kwargs: Any) -> None:
        self.aircraft, self.after = aircraft, after
        self.entry: DeliveryEntry | None = None
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.on_page["after"] = self.after
        self.fields["after"] = forms.IntegerField(required=False, min_value=0, widget=forms.HiddenInput)
        self._place("home", _("Home"), _("Where it is at home once it is handed over."))
        for number in (1, 2):
            self._hour(number)
        self.fields["ferried"] = forms.ChoiceField(
            label=_("Is it flown home within or after these hours?"),
            choices=(("yes", _("yes, it is ferried")), ("no", _("no"))),
            required=False,
            widget=Chips,
        )
        self.fields["ferry_after"] = NumberField(
            label=_("Hours flown before the ferry"), unit="h", help_text=_("0 is before any, 2 is after both.")
        )
        self.fields["ferry_altitude"] = QuantityField(
            Kind.ALTITUDE, self.units, label=_("Ferry altitude"), help_text=_("Above the sea.")
        )
        self.fields["ferry_time"] = NumberField(
            label=_("Time in the air"),
            unit="min",
            help_text=_("Minutes or h:mm. Empty: from distance and ground speed."),
        )
        self.fields["ferry_distance"] = NumberField(label=_("Distance"), unit="NM")
        self.fields["ferry_speed"] = NumberField(label=_("Ground speed"), unit="kt")
        self._pilot("ferry_pilot", _("Who flies the ferry"))
        self.fields["note"] = text_field(_("Agreed with the customer"), NOTE, _("Shown to the customer, too."), rows=2)

    def _place(self, name: str, label: str, help_text: str) -> None:
        self.fields[name] = text_field(label, NAME, help_text)
        self.fields[name].widget.attrs["list"] = "places"

    def _hour(self, number: int) -> None:
        at = f"hour_{number}_"
        as_first = "" if number == 1 else _("Empty: as in hour 1.")
        self._place(f"{at}field", _("Field"), as_first)
        self.fields[f"{at}elevation"] = QuantityField(
            Kind.ALTITUDE, self.units, label=_("Its elevation"), help_text=_("Empty: as on file.")
        )
        self.fields[f"{at}oat"] = QuantityField(
            Kind.TEMPERATURE, self.units, label=_("Temperature expected at the field"), help_text=_("Empty: not known.")
        )
        self.fields[f"{at}altitude"] = QuantityField(
            Kind.ALTITUDE, self.units, label=_("Altitude"), help_text=as_first or _("Above the sea.")
        )
        self._pilot(f"{at}pilot", _("Who flies hour %(number)d") % {"number": number})

    def _pilot(self, name: str, label: str) -> None:
        self.fields[name] = forms.ModelChoiceField(
            pilots_for(self.aircraft), label=label, required=False, empty_label=_("not decided")
        )

    def read(self, sheet: Sheet) -> None:
        on_file = {place.name.casefold(): place.elevation_ft for place in Place.objects.all()}
        self.entry = read_delivery(sheet, on_file)


def pilots_for(aircraft: Aircraft) -> QuerySet[Person]:
    """Who may fly it: the shop's break-in pilots, whoever is assigned to it, and the people of its holder."""
    mine = Q(memberships__customer__holdings__aircraft=aircraft, memberships__until__isnull=True)
    mine &= Q(memberships__customer__holdings__until__isnull=True)
    assigned = Q(assignments__aircraft=aircraft, assignments__until__isnull=True)
    shops = Q(shop_roles__role=Role.BREAK_IN_PILOT, shop_roles__until__isnull=True)
    found = Person.objects.filter(mine | assigned | shops).values("pk")
    return Person.objects.filter(pk__in=found).order_by("name", "id")


def delivery_from(form: DeliveryForm, by: Person, now: datetime) -> DeliveryPlan:
    typed = form.cleaned_data
    return plan_delivery(
        by=by,
        aircraft=form.aircraft,
        entry=had(form.entry),
        pilots=(typed["hour_1_pilot"], typed["hour_2_pilot"] or typed["hour_1_pilot"]),
        ferry_pilot=typed["ferry_pilot"],
        after=typed["after"] or 0,
        now=now,
    )


def beginning(aircraft: Aircraft, shop: Shop | None, plan: DeliveryPlan | None, units: str) -> dict[str, Any]:
    """What the form begins with: the plan that holds, else the first two hours from the shop's own field."""
    if plan is None:
        field = shop.place if shop else aircraft.home
        altitude = (field.elevation_ft + _USUAL_ABOVE_FIELD_FT) // 500 * 500
        start: dict[str, Any] = {"home": aircraft.home.name, "hour_1_field": field.name, "ferry_after": "2"}
        if field.pk == aircraft.home_id:
            start["ferried"] = "no"
        return {**start, **_amount("hour_1_altitude", altitude, Kind.ALTITUDE, units)}
    start = {"home": plan.home, "ferried": "yes" if plan.ferried else "no", "note": plan.note}
    for hour in plan.hours.all():
        at = f"hour_{hour.number}_"
        start |= {f"{at}field": hour.field, f"{at}pilot": hour.pilot_id}
        start |= _amount(f"{at}elevation", hour.elevation_ft, Kind.ALTITUDE, units)
        start |= _amount(f"{at}altitude", hour.altitude_ft, Kind.ALTITUDE, units)
        start |= _amount(f"{at}oat", hour.oat_degf, Kind.TEMPERATURE, units)
    if plan.ferried:
        start |= _amount("ferry_altitude", plan.ferry_altitude_ft, Kind.ALTITUDE, units)
        start |= {"ferry_pilot": plan.ferry_pilot_id, "ferry_time": f"{plan.ferry_min:g}"}
        start |= {"ferry_after": f"{plan.ferry_after_h:g}"}
        start |= {name: f"{value:g}" for name, value in (("ferry_distance", plan.ferry_nm),
                  ("ferry_speed", plan.ferry_kt)) if value is not None}  # fmt: skip
    return start


def _amount(name: str, value: float | None, kind: Kind, units: str) -> dict[str, Any]:
    if value is None:
        return {}
    unit = display_unit(kind, units)
    return {name: {"value": f"{from_canonical(value, unit, kind):.0f}", "unit": unit}}

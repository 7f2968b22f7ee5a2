"""Forms of the shop's own record: the shop, an airfield, oneself, an aircraft with its holder."""

from __future__ import annotations

from datetime import datetime, time
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from django import forms
from django.db import transaction

from breakin.calc.units import Kind
from breakin.entries.ranges import Range
from breakin.entries.sheet import Sheet
from breakin.services.aircraft import enter_aircraft
from engines.models import Aircraft
from reports.acts.base import ActForm, day_field, had, read_day, read_needed, text_field
from reports.forms.fields import QuantityField
from shop.forms import CheckChips, Chips
from shop.models import Customer, Person, Place, Role, Shop, Units, User
from shop.profile import enter_oneself, save_place, save_profile
from shop.services import create_customer

ELEVATION = Range("Elevation", Kind.ALTITUDE, -1500, 14_500, -200, 7000)
_ELEVATION_MEND = "Take it from the chart of the field: power and density altitude follow from it."
_ZONE_HINT = "By its name, like Etc/GMT+6 or Europe/Zurich."


def zone_field(label: str, hint: str = _ZONE_HINT) -> forms.Field:
    """A time zone by its name; the page offers the names in a list."""
    widget = forms.TextInput({"list": "zones", "autocomplete": "off"})
    return forms.CharField(label=label, help_text=hint, required=False, max_length=64, widget=widget)


class PlaceForm(ActForm):
    """An airfield."""

    def __init__(self, *args: Any, place: Place | None, **kwargs: Any) -> None:
        self.place = place
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.fields["name"] = text_field("Name", 80, "As pilots call the field.")
        self.fields["elevation_ft"] = QuantityField(Kind.ALTITUDE, self.units, label="Elevation")
        self.fields["zone"] = zone_field("Time zone")

    def read(self, sheet: Sheet) -> None:
        sheet.need("name", "The name", "Type it as pilots call the field.")
        self.elevation = read_needed(sheet, "elevation_ft", ELEVATION, _ELEVATION_MEND)
        sheet.need("zone", "The time zone", "Its days and times are shown by it.")


def place_from(form: PlaceForm, by: Person, now: datetime) -> Place:
    typed = form.cleaned_data
    return save_place(
        by=by,
        name=typed["name"],
        elevation_ft=had(form.elevation),
        zone=typed["zone"].strip(),
        place=form.place,
        now=now,
    )


def place_as_it_is(place: Place | None) -> dict[str, Any]:
    if place is None:
        return {}
    elevation = {"value": f"{place.elevation_ft:g}", "unit": "ft"}
    return {"name": place.name, "elevation_ft": elevation, "zone": place.zone}


class ProfileForm(ActForm):
    """The shop: what stands in mails, on the card and in close-out files."""

    groups = (
        ("The shop", ("name", "phone", "mail")),
        ("Its place", ("place_name", "elevation_ft", "zone")),
    )

    def ask_for(self) -> None:
        self.fields["name"] = text_field("Name", 120, "As it stands in mails, on the card and in close-out files.")
        self.fields["phone"] = text_field("Phone", 40, "The number that a pilot with a Stop is told to call.")
        self.fields["mail"] = text_field("Mail", 254, "Where answers to the shop's mails go. Empty: they go nowhere.")
        self.fields["place_name"] = text_field("Field", 80, "A name that is in the book is that field.")
        self.fields["elevation_ft"] = QuantityField(Kind.ALTITUDE, self.units, label="Elevation")
        self.fields["zone"] = zone_field("Time zone", f"{_ZONE_HINT} Close-out files are dated by it.")

    def read(self, sheet: Sheet) -> None:
        sheet.need("name", "The shop's name", "It stands in mails and on the card.")
        sheet.need("phone", "The phone", "A pilot with a Stop is told to call it.")
        sheet.need("place_name", "The field", "Type where the shop is.")
        self.elevation = read_needed(sheet, "elevation_ft", ELEVATION, _ELEVATION_MEND)
        sheet.need("zone", "The time zone", "Close-out files are dated by it.")


def profile_from(form: ProfileForm, by: Person, now: datetime) -> Shop:
    typed = form.cleaned_data
    return save_profile(
        by=by, name=typed["name"], phone=typed["phone"], mail=typed["mail"], place_name=typed["place_name"],
        elevation_ft=had(form.elevation), zone=typed["zone"].strip(), now=now,
    )  # fmt: skip


def profile_as_it_is(shop: Shop | None) -> dict[str, Any]:
    if shop is None:
        return {}
    place = place_as_it_is(shop.place)
    return {"name": shop.name, "phone": shop.phone, "mail": shop.mail, **place, "place_name": place["name"]} | {
        "name": shop.name
    }


class OneselfForm(ActForm):
    """Whoever signed in first says who that is."""

    def ask_for(self) -> None:
        self.fields["name"] = text_field("Your name", 80, "As the shop calls you.")
        self.fields["phone"] = text_field("Your phone", 40)
        self.fields["zone"] = zone_field("Your time zone")
        self.fields["unit_system"] = forms.ChoiceField(
            label="Units that you read", choices=Units.choices, required=False, widget=Chips
        )
        self.fields["roles"] = forms.MultipleChoiceField(
            label="Your roles beside manager", required=False, widget=CheckChips,
            help_text="A technician signs inspections and fills; a manager alone does not.",
            choices=[choice for choice in Role.choices if choice[0] not in (Role.MANAGER, Role.BREAK_IN_PILOT)],
        )  # fmt: skip

    def read(self, sheet: Sheet) -> None:
        sheet.need("name", "Your name", "Type how the shop calls you.")
        sheet.need("zone", "Your time zone", "Your days begin and end by it.")
        sheet.need("unit_system", "The units that you read", "Choose them; they can be changed later.")


def oneself_from(form: OneselfForm, user: User, now: datetime) -> Person:
    typed = form.cleaned_data
    return enter_oneself(
        user=user, name=typed["name"], phone=typed["phone"], zone=typed["zone"].strip(), units=typed["unit_system"],
        roles=typed["roles"], now=now,
    )  # fmt: skip


class AircraftForm(ActForm):
    """An aircraft with its home and its holder, who may be new to the book."""

    groups = (
        ("Aircraft", ("registration", "description", "home")),
        ("Who holds it", ("customer", "new_customer", "new_customer_phone", "since")),
    )
    places: ClassVar[dict[str, str]] = {"name": "new_customer"}

    def ask_for(self) -> None:
        self.fields["registration"] = text_field("Registration", 12)
        self.fields["description"] = text_field("Description", 80, "Type and colour, as the shop says it.")
        self.fields["home"] = forms.ModelChoiceField(
            Place.objects.all(), label="Home field", required=False, empty_label="choose",
            help_text="A field that is missing is entered under Places first.",
        )  # fmt: skip
        self.fields["customer"] = forms.ModelChoiceField(
            Customer.objects.all(), label="Customer", required=False, empty_label="a new one, named below"
        )
        self.fields["new_customer"] = text_field("New customer", 120, "Owner, club, school or firm.")
        self.fields["new_customer_phone"] = text_field("Phone of the new customer", 40)
        self.fields["since"] = day_field("Holds it since", "From the beginning of that day, on your clock.")

    def read(self, sheet: Sheet) -> None:
        sheet.need("registration", "The registration", "Type it as on the aircraft.")
        sheet.need("home", "The home field", "Choose it; a missing one is entered under Places.")
        day = read_day(sheet, "since", "Holds it since")
        self.since = datetime.combine(day, time(), ZoneInfo(self.zone)) if day else None
        if bool(sheet.raw.get("customer")) == sheet.given("new_customer"):
            sheet.problem("customer", "Who holds it? Choose a customer, or name a new one: one of the two.")


@transaction.atomic
def aircraft_from(form: AircraftForm, by: Person, now: datetime) -> Aircraft:
    """Enter the aircraft of a valid form, and its holder where that one is new.

    Raises
    ------
    Refusal : with what can't be. Nothing is kept then.
    """
    typed = form.cleaned_data
    customer = typed["customer"] or create_customer(
        by=by, name=typed["new_customer"], phone=typed["new_customer_phone"], now=now
    )
    return enter_aircraft(
        by=by, registration=typed["registration"], home=typed["home"], customer=customer, since=had(form.since),
        description=typed["description"], now=now,
    )  # fmt: skip

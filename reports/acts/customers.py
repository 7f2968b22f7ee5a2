"""Forms about a customer and the people who belong to it, and the pages they stand on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.conf import settings
from django.db.models import Prefetch, Q

from breakin.entries.sheet import Sheet
from engines.models import Holding
from reports.acts.base import ActForm, text_field
from reports.acts.profile_forms import zone_field
from shop import access
from shop.customers import change_customer, change_person_of, changes_of, members_now
from shop.forms import Chips
from shop.models import Customer, CustomerMember, Person, ShopRole, Units
from shop.services import create_customer

PAGE = 100
CHANGES_SHOWN = 30


class CustomerForm(ActForm):
    """A customer: what the shop calls it and where it is reached."""

    def ask_for(self) -> None:
        self.fields["name"] = text_field("Name", 120, "Owner, club, school or firm.")
        self.fields["phone"] = text_field("Phone", 40, "Called where no person of it has a number.")

    def read(self, sheet: Sheet) -> None:
        sheet.need("name", "The name", "Type what the shop calls this customer.")


class CustomerPersonForm(ActForm):
    """Somebody who belongs to a customer."""

    def ask_for(self) -> None:
        self.fields["name"] = text_field("Name", 80)
        self.fields["phone"] = text_field("Phone", 40)
        self.fields["language"] = forms.ChoiceField(
            label="Language", choices=settings.LANGUAGES, required=False, widget=Chips,
            help_text="Of this person's pages, cards and mails.",
        )  # fmt: skip
        self.fields["units"] = forms.ChoiceField(
            label="Units", choices=Units.choices, required=False, widget=Chips,
            help_text="How numbers are shown, and read where no unit is chosen. What was written down stays.",
        )  # fmt: skip
        self.fields["zone"] = zone_field("Time zone")

    def read(self, sheet: Sheet) -> None:
        sheet.need("name", "The name", "Type how the shop calls this person.")
        sheet.need("language", "The language", "Choose it.")
        sheet.need("units", "The units", "Choose them.")
        sheet.need("zone", "The time zone", "This person's days begin and end by it.")


def customer_from(form: CustomerForm, customer: Customer | None, by: Person, now: datetime) -> Customer:
    typed = form.cleaned_data
    if customer is None:
        return create_customer(by=by, name=typed["name"], phone=typed["phone"], now=now)
    return change_customer(by=by, customer=customer, name=typed["name"], phone=typed["phone"], now=now)


def person_from(form: CustomerPersonForm, customer: Customer, person: Person, by: Person, now: datetime) -> Person:
    return change_person_of(by=by, customer=customer, person=person, now=now, **form.cleaned_data)


def person_as_it_is(person: Person) -> dict[str, Any]:
    return {name: getattr(person, name) for name in ("name", "phone", "language", "units", "zone")}


@dataclass(frozen=True)
class CustomerRow:
    pk: int
    name: str
    phone: str
    people: str
    aircraft: str


@dataclass(frozen=True)
class Customers:
    rows: tuple[CustomerRow, ...]
    q: str
    next_after: int


def customers(now: datetime, *, q: str, after: int) -> Customers:
    """A page of customers by name; `q` is the beginning of a name, `after` how many were shown before."""
    holds = Q(until__isnull=True) | Q(until__gt=now)
    members = CustomerMember.objects.filter(holds).select_related("person").order_by("person__name")
    held = Holding.objects.filter(holds).select_related("aircraft").order_by("aircraft__registration")
    rows = list(
        Customer.objects.filter(name__istartswith=q)
        .prefetch_related(Prefetch("members", members, to_attr="belong"), Prefetch("holdings", held, to_attr="hold"))
        .order_by("name", "id")[after : after + PAGE + 1]
    )
    return Customers(
        rows=tuple(
            CustomerRow(
                row.pk,
                row.name,
                row.phone,
                ", ".join(each.person.name for each in row.belong),  # type: ignore[attr-defined]
                ", ".join(each.aircraft.registration for each in row.hold),  # type: ignore[attr-defined]
            )
            for row in rows[:PAGE]
        ),
        q=q,
        next_after=after + PAGE if len(rows) > PAGE else 0,
    )


@dataclass(frozen=True)
class MemberRow:
    """Somebody who belongs to the customer; `may_change` is false for who works for the shop as well."""

    person: Person
    role: str
    first_contact: bool
    may_change: bool


@dataclass(frozen=True)
class Change:
    at: datetime
    by: str
    words: tuple[str, ...]


def members_of(customer: Customer, now: datetime) -> tuple[MemberRow, ...]:
    rows = list(members_now(customer, now).order_by("-first_contact", "person__name"))
    held = ShopRole.objects.filter(Q(until__isnull=True) | Q(until__gt=now), since__lte=now, role__in=access.STAFF)
    staff = set(held.filter(person__in=[row.person_id for row in rows]).values_list("person_id", flat=True))
    return tuple(
        MemberRow(row.person, row.get_role_display(), row.first_contact, row.person_id not in staff) for row in rows
    )


def history_of(customer: Customer, members: tuple[MemberRow, ...]) -> tuple[Change, ...]:
    """The last changes with what stood there before."""
    found = changes_of(customer, [each.person for each in members])[:CHANGES_SHOWN]
    return tuple(
        Change(
            row.at,
            row.actor.name if row.actor else "",
            tuple(
                f"{name}: “{was}” became “{then}”" if was else f"{name}: “{then}”"
                for name, (was, then) in sorted(row.detail.get("changed", {}).items())
            ),
        )
        for row in found
    )

"""What the shop changes about a customer and the people who belong to it, each change with what stood there before."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.db.models import Q

from shop.errors import Problem, Refusal
from shop.models import AuditEvent, Customer, CustomerMember, Person
from shop.services import audit, is_staff

# What the shop may say of a person for him. The address of mail belongs to the login and is changed with it.
OF_A_PERSON = frozenset({"name", "phone", "language", "units", "zone"})


@transaction.atomic
def change_customer(*, by: Person, customer: Customer, name: str, phone: str, now: datetime) -> Customer:
    """Another name or phone of a customer. Sealed files and mails that went out keep what they said.

    Raises
    ------
    Refusal : no name, one too long, or ("conflict") the name of another customer.
    """
    customer = Customer.objects.select_for_update().get(pk=customer.pk)
    name, phone = name.strip(), phone.strip()
    if not name:
        raise Refusal.of("name", "The customer's name is missing. Type it.")
    if Customer.objects.filter(name__iexact=name).exclude(pk=customer.pk).exists():
        raise Refusal.of("name", f"There is another customer “{name}”. Add a place to one of the names.", "conflict")
    _change(by, customer, {"name": name, "phone": phone}, "change_customer", now)
    return customer


@transaction.atomic
def change_person_of(*, by: Person, customer: Customer, person: Person, now: datetime, **details: Any) -> Person:
    """How the shop reaches and addresses somebody who belongs to a customer.

    Parameters
    ----------
    details : any of `OF_A_PERSON`. Units and zone change what is shown and how new numbers are read; what was written
        down before stays as it was.

    Raises
    ------
    Refusal : no name; a zone, units or a language that there are not; somebody who does not belong to this customer
        today, or who works for the shop and changes his details himself.
    """
    unknown = sorted(set(details) - OF_A_PERSON)
    if unknown:
        raise TypeError(f"not for the shop to change: {unknown}")
    person = Person.objects.select_for_update().get(pk=person.pk)
    if not members_now(customer, now).filter(person=person).exists():
        raise Refusal.of("", f"{person.name} does not belong to {customer.name} today. Look again.", "conflict")
    if is_staff(person, now) and person.pk != by.pk:
        raise Refusal.of("", f"{person.name} works for the shop and changes these details under My details.")
    details = {name: value.strip() for name, value in details.items()}
    if not details.get("name", person.name):
        raise Refusal.of("name", "The name is missing. Type how the shop calls this person.")
    _change(by, person, details, "change_person", now)
    return person


def members_now(customer: Customer, now: datetime) -> models.QuerySet[CustomerMember]:
    """Who belongs to a customer at a moment."""
    return CustomerMember.objects.filter(
        Q(until__isnull=True) | Q(until__gt=now), customer=customer, since__lte=now
    ).select_related("person")


def changes_of(customer: Customer, people: list[Person]) -> models.QuerySet[AuditEvent]:
    """What was changed about a customer and these people, newest first."""
    of_people = Q(subject=Person._meta.label, subject_id__in=[str(each.pk) for each in people])
    of_customer = Q(subject=Customer._meta.label, subject_id=str(customer.pk))
    found = AuditEvent.objects.filter(of_people | of_customer, act__in=["change_customer", "change_person"])
    return found.select_related("actor").order_by("-at", "-id")


def _change(by: Person, row: Customer | Person, values: dict[str, str], act: str, now: datetime) -> None:
    before = {name: getattr(row, name) for name, value in values.items() if getattr(row, name) != value}
    for name in before:
        setattr(row, name, values[name])
    try:
        row.full_clean(validate_unique=False, validate_constraints=False)
    except ValidationError as error:
        raise Refusal(
            Problem(name, message) for name, messages in error.message_dict.items() for message in messages
        ) from None
    if before:
        row.save(update_fields=sorted(before))
        changed = {name: [was, values[name]] for name, was in before.items()}
        audit(by=by, act=act, subject=row, now=now, detail={"changed": changed})

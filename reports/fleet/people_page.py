"""The people whom the shop deals with: roles, customers, and whether they can sign in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Prefetch, Q

from shop.models import CustomerMember, Person, ShopRole

PAGE = 100


@dataclass(frozen=True)
class PersonRow:
    name: str
    roles: str
    customers: str
    email: str
    phone: str
    signs_in: str
    last: datetime | None


@dataclass(frozen=True)
class People:
    rows: tuple[PersonRow, ...]
    q: str
    shown: int
    next_after: int


def people(now: datetime, *, q: str, after: int) -> People:
    """A page of people by name; `q` is the beginning of a name, `after` how many were shown before."""
    holds = Q(until__isnull=True) | Q(until__gt=now)
    rows = (
        Person.objects.filter(name__istartswith=q)
        .select_related("user")
        .prefetch_related(
            Prefetch("shop_roles", ShopRole.objects.filter(holds), to_attr="held"),
            Prefetch("memberships", CustomerMember.objects.filter(holds).select_related("customer"), to_attr="belongs"),
        )
        .order_by("name", "id")[after : after + PAGE + 1]
    )
    found = list(rows)
    return People(
        rows=tuple(_row(person) for person in found[:PAGE]),
        q=q,
        shown=min(len(found), PAGE),
        next_after=after + PAGE if len(found) > PAGE else 0,
    )


def _row(person: Person) -> PersonRow:
    roles: list[ShopRole] = person.held  # type: ignore[attr-defined]
    belongs: list[CustomerMember] = person.belongs  # type: ignore[attr-defined]
    members = [
        f"{member.customer.name} ({member.get_role_display()}{', first contact' if member.first_contact else ''})"
        for member in belongs
    ]
    user = person.user
    signs_in = "no login" if user is None else "yes" if user.has_usable_password() else "invited, no password yet"
    if user is not None and not user.is_active:
        signs_in = "login closed"
    return PersonRow(
        name=person.name,
        roles=", ".join(sorted(role.get_role_display() for role in roles)),
        customers=", ".join(members),
        email=person.email or "no e-mail: use the phone",
        phone=person.phone,
        signs_in=signs_in,
        last=user.last_login if user else None,
    )

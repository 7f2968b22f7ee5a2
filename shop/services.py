"""What the shop does with its people: the audit trail, customers, invitations, keys to the programming interface."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, models, transaction
from django.db.models import Q

from shop.access import STAFF, TECHNICIANS
from shop.accounts import invitation_path
from shop.errors import Problem, Refusal
from shop.models import (
    ApiToken,
    AuditEvent,
    Customer,
    CustomerMember,
    MemberRole,
    Person,
    Role,
    ShopRole,
    TokenScope,
    User,
)

OWN_DETAILS = frozenset({"phone", "language", "units", "zone", "quiet_from", "quiet_until"})
_TOKEN_BYTES = 32
_TOKEN_PREFIX = "rib_"  # noqa: S105 - tells a reader of a log what the string is


def audit(
    *, by: Person | None, act: str, subject: models.Model, now: datetime, detail: dict[str, Any] | None = None
) -> AuditEvent:
    """Write down who did what to which row. One for each act of a service, in its transaction."""
    return AuditEvent.objects.create(
        at=now,
        actor=by,
        act=act,
        subject=subject._meta.label,
        subject_id=str(subject.pk),
        detail=detail or {},
    )


def roles_of(person: Person, at: datetime) -> frozenset[str]:
    """The roles that the person held in the shop at that moment."""
    held = person.shop_roles.filter(Q(until__isnull=True) | Q(until__gt=at), since__lte=at)
    return frozenset(held.values_list("role", flat=True))


def is_technician(person: Person, at: datetime) -> bool:
    return bool(roles_of(person, at) & TECHNICIANS)


def is_staff(person: Person, at: datetime) -> bool:
    return bool(roles_of(person, at) & STAFF)


@transaction.atomic
def create_customer(*, by: Person, name: str, phone: str = "", now: datetime) -> Customer:
    """A new customer.

    Raises
    ------
    Refusal : no name, or a customer of this name exists.
    """
    name = name.strip()
    if not name:
        raise Refusal.of("name", "The customer's name is missing. Type it.")
    if Customer.objects.filter(name__iexact=name).exists():
        raise Refusal.of(
            "name", f"There is a customer “{name}” already. Open that one, or add a place to the name.", "conflict"
        )
    customer = Customer.objects.create(name=name, phone=phone.strip())
    audit(by=by, act="create_customer", subject=customer, now=now)
    return customer


@transaction.atomic
def add_member(
    *, by: Person, customer: Customer, person: Person, role: str, first_contact: bool = False, now: datetime
) -> CustomerMember:
    """The person flies or owns for the customer from now on. Harmless when that holds already in the same role."""
    if role not in MemberRole.values:
        raise Refusal.of("role", f"“{role}” is not a role at a customer. Choose one of {', '.join(MemberRole.values)}.")
    Customer.objects.select_for_update().get(pk=customer.pk)
    member = CustomerMember.objects.filter(customer=customer, person=person, until__isnull=True).first()
    if member and (member.role, member.first_contact) == (role, first_contact):
        return member
    if member:
        # The old period is closed, not edited: who was what when stays readable.
        member.until = now
        member.save(update_fields=["until"])
    member = CustomerMember.objects.create(
        customer=customer, person=person, role=role, first_contact=first_contact, since=now
    )
    audit(by=by, act="add_member", subject=member, now=now, detail={"role": role})
    return member


@transaction.atomic
def give_role(*, by: Person, person: Person, role: str, now: datetime) -> ShopRole:
    """The person holds a role in the shop from now on. Harmless when that holds already."""
    if role not in Role.values:
        raise Refusal.of("role", f"“{role}” is not a role in the shop. Choose one of {', '.join(Role.values)}.")
    held = ShopRole.objects.filter(person=person, role=role, until__isnull=True).first()
    if held:
        return held
    given = ShopRole.objects.create(person=person, role=role, since=now)
    audit(by=by, act="give_role", subject=given, now=now, detail={"role": role})
    return given


def invite(
    *,
    by: Person,
    person: Person | None = None,
    name: str = "",
    email: str = "",
    customer: Customer | None = None,
    role: str,
    language: str = "",
    now: datetime,
) -> tuple[Person, str]:
    """Let somebody sign in: a person with a user who has no password yet.

    Parameters
    ----------
    person : somebody known; else `name` and `email` of somebody new.
    customer : with it `role` is one at that customer, without it one in the shop.
    language : of the invitation and of the person's pages; "" leaves it as it is.

    Returns
    -------
    the person, and the path under which the password is chosen. The caller mails it.

    Raises
    ------
    Refusal : no usable address, an address that belongs to somebody else, an unknown role.
    """
    try:
        with transaction.atomic():
            person = _invited_person(person, name.strip(), email.strip(), now)
            if language:
                person.language = language
                person.save(update_fields=["language"])
            if customer is None:
                give_role(by=by, person=person, role=role, now=now)
            else:
                add_member(by=by, customer=customer, person=person, role=role, now=now)
            audit(by=by, act="invite", subject=person, now=now, detail={"role": role})
    except IntegrityError as error:
        raise Refusal.of(
            "email", f"Somebody was invited at {email} at the same moment. Look again.", "conflict"
        ) from error
    assert person.user is not None  # noqa: S101 - made above
    return person, invitation_path(person.user)


def _invited_person(person: Person | None, name: str, email: str, now: datetime) -> Person:
    email = email or (person.email if person else "")
    try:
        validate_email(email)
    except ValidationError:
        raise Refusal.of("email", f"“{email}” is not an e-mail address. Without one, nobody can sign in.") from None
    user = User.objects.filter(email__iexact=email).first()
    owner = Person.objects.filter(user=user).first() if user else None
    if person is None:
        if owner is not None and name and owner.name != name:
            raise Refusal.of("email", f"{email} belongs to somebody else here. Choose that person, or another address.")
        if owner is None and not name:
            raise Refusal.of("name", "The name is missing. Type how the shop calls this person.")
        person = owner or Person(name=name, email=email)
    elif owner is not None and owner.pk != person.pk:
        raise Refusal.of("email", f"{email} belongs to somebody else here. Choose another address.")
    elif person.user is not None and user is None:
        raise Refusal.of("email", f"{person.name} signs in with {person.user.email}. Use that address.")
    if user is None:
        user = User(email=User.objects.normalize_email(email), date_joined=now)
        user.set_unusable_password()
        user.save()
    person.user = user
    person.email = person.email or email
    person.save()
    return person


@transaction.atomic
def create_token(
    *, user: User, name: str, scope: str, expires: datetime | None = None, now: datetime
) -> tuple[ApiToken, str]:
    """A token for the programming interface, and its secret. The secret is shown once; only its SHA-256 is kept.

    Raises
    ------
    Refusal : no name, an unknown scope, or an end that lies in the past.
    """
    if not name.strip():
        raise Refusal.of("name", "Give the token a name, so that you know later what uses it.")
    if scope not in TokenScope.values:
        raise Refusal.of("scope", f"“{scope}” is not a scope. Choose one of {', '.join(TokenScope.values)}.")
    if expires is not None and expires <= now:
        raise Refusal.of("expires", "The token would end in the past. Choose a later day.")
    secret = _TOKEN_PREFIX + secrets.token_urlsafe(_TOKEN_BYTES)
    token = ApiToken.objects.create(
        user=user, name=name.strip(), scope=scope, expires_at=expires, created_at=now, sha256=token_hash(secret)
    )
    audit(
        by=Person.objects.filter(user=user).first(), act="create_token", subject=token, now=now, detail={"scope": scope}
    )
    return token, secret


def token_hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def token_for(secret: str, now: datetime) -> ApiToken | None:
    """The token behind a secret that is still good; marks its use."""
    token = (
        ApiToken.objects.select_related("user__person")
        .filter(sha256=token_hash(secret), revoked_at__isnull=True)
        .first()
    )
    if token is None or not token.user.is_active or (token.expires_at is not None and token.expires_at <= now):
        return None
    if token.last_used_at is None or now - token.last_used_at >= timedelta(hours=1):
        # To the hour is enough to see what is in use; a write for every reading request would be too much.
        ApiToken.objects.filter(pk=token.pk).update(last_used_at=now)
    return token


@transaction.atomic
def revoke_token(*, by: Person | None, token: ApiToken, now: datetime) -> None:
    """The token opens nothing any more. Harmless when it was revoked before."""
    if ApiToken.objects.filter(pk=token.pk, revoked_at__isnull=True).update(revoked_at=now):
        audit(by=by, act="revoke_token", subject=token, now=now)


@transaction.atomic
def end_tour(*, person: Person, now: datetime) -> None:
    """The person has read the tour, or left it: it is not offered at sign-in again. Harmless when that was done."""
    if Person.objects.filter(pk=person.pk, toured_at__isnull=True).update(toured_at=now):
        audit(by=person, act="end_tour", subject=person, now=now)


@transaction.atomic
def change_details(*, person: Person, now: datetime, **details: Any) -> Person:
    """A person changes how the shop reaches and addresses him.

    Parameters
    ----------
    details : any of `phone`, `language`, `units`, `zone`, `quiet_from`, `quiet_until`. Units and zone change what is
        shown and how new numbers are read; what was written down before stays as it was.

    Raises
    ------
    Refusal : a zone, units or a language that there are not.
    """
    unknown = sorted(set(details) - OWN_DETAILS)
    if unknown:
        raise TypeError(f"not for a person to change: {unknown}")
    person = Person.objects.select_for_update().get(pk=person.pk)
    changed = [name for name, value in details.items() if getattr(person, name) != value]
    for name in changed:
        setattr(person, name, details[name])
    try:
        person.full_clean(validate_unique=False, validate_constraints=False)
    except ValidationError as error:
        raise Refusal(
            Problem(name, message) for name, messages in error.message_dict.items() for message in messages
        ) from None
    if changed:
        person.save(update_fields=changed)
        audit(by=person, act="change_details", subject=person, now=now, detail={"changed": sorted(changed)})
    return person

"""Who may see what, and who may do what: the one place that decides.

Seeing hangs on periods. A customer holds an aircraft from one moment to another; a person belongs to a customer, or is
assigned to an aircraft as break-in pilot, for a period; an engine sits in an aircraft for a period. A person sees a
fact when all the periods that lead from the person to the fact cover the moment of the fact. Whoever holds the aircraft
now also sees the earlier facts of the engine in it: the technical ones, without persons, words and photos (`is_own`).

A model says once, in `ACCESS`, where its aircraft or engine and its moment are; the querysets come in as arguments, so
this module knows none of the models above it. Not visible reads as "not found" (404); visible but not allowed to do
something is `PermissionDenied` (403).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, TypeVar, cast

from django.core.exceptions import PermissionDenied
from django.db.models import BooleanField, Exists, F, Model, OuterRef, Q, QuerySet, Value
from django.utils import timezone

if TYPE_CHECKING:
    from django.contrib.auth.models import AnonymousUser

    from shop.models import Person, User

M = TypeVar("M", bound=Model)

TECHNICIANS = frozenset({"build_technician", "line_technician", "signatory"})
STAFF = TECHNICIANS | {"manager"}

# What one has to be to do it. "own" stands for whoever holds, flies or is assigned to the aircraft today, "assigned"
# for its break-in pilot or instructor alone.
ACTS: dict[str, frozenset[str]] = {
    "see_board": STAFF,
    "see_today": STAFF,
    "see_notices": STAFF,
    "see_priors": STAFF,
    "see_build_sheet": STAFF,
    "see_exposure": frozenset({"manager"}),
    "see_lots": frozenset({"manager", "build_technician"}),
    "see_rules": STAFF,
    "edit_reference": frozenset({"manager"}),
    "change_customer": STAFF,
    "adopt_prior": frozenset({"manager"}),
    "invite": frozenset({"manager"}),
    "import_fleet": frozenset({"manager"}),
    "transfer": frozenset({"manager"}),
    "open_build": frozenset({"manager", "build_technician"}),
    "issue_plan": frozenset({"manager", "build_technician"}),
    "merge_flights": STAFF,
    "install": frozenset({"manager"}) | TECHNICIANS,
    "plan_delivery": STAFF | {"assigned"},
    "log_flight": STAFF | {"own"},
    "take_card": STAFF | {"own"},
    "add_oil": STAFF | {"own"},
    "drain_fill": TECHNICIANS,
    "upload_recording": STAFF | {"own"},
    "add_photo": STAFF | {"own"},
    "map_recording": STAFF | {"own"},
    "match_recording": STAFF | {"own"},
    "correct": STAFF | {"own"},
    "inspect": TECHNICIANS,
    "acknowledge": STAFF,
    "log_call": STAFF,
    "write_to_holder": STAFF,
    "settle_mail": STAFF,
    "clear_finding": STAFF,
    "clear_stop": TECHNICIANS,
    "waive": frozenset({"manager"}),
    "propose_close": STAFF,
    "close_build": frozenset({"manager"}),
}


class Unscoped(TypeError):
    """The model does not say how it hangs on an aircraft or an engine."""


@dataclass(frozen=True)
class Path:
    """Where a model keeps its aircraft or engine ("" = it is one itself), and the moment or period that counts.

    `at` names the moment of a fact. `since` and `until` name a period, of which any part counts. With neither, the
    row is no moment but a thing: seen by whoever held its aircraft at any time, or with `current` only by whoever
    holds it today.
    `customer_flag` names a boolean that hides the row from everybody outside the shop when it is false.
    """

    aircraft: str | None = None
    engine: str | None = None
    at: str | None = None
    since: str | None = None
    until: str | None = None
    current: bool = False
    customer_flag: str | None = None


def person_of(user: User | AnonymousUser) -> Person | None:
    """The person behind a signed-in user, or None."""
    return getattr(user, "person", None) if user.is_authenticated else None


def staff_roles(user: User | AnonymousUser) -> set[str]:
    """The roles a user holds in the shop today, without the break-in pilot's. Kept on the user for the request."""
    if not user.is_authenticated or not user.is_active:
        return set()
    cached: set[str] | None = getattr(user, "_staff_roles", None)
    if cached is None:
        person = person_of(user)
        held = (
            set(person.shop_roles.filter(_holds("", timezone.now())).values_list("role", flat=True))
            if person
            else set()
        )
        cached = (held & STAFF) | ({"manager"} if user.is_superuser else set())
        user._staff_roles = cached  # type: ignore[attr-defined]
    return cached


def is_staff_member(user: User | AnonymousUser) -> bool:
    return bool(staff_roles(user))


def visible_to(user: User | AnonymousUser, rows: QuerySet[M]) -> QuerySet[M]:
    """The rows that this user may see, each annotated with `is_own`.

    `is_own` is true for the shop and for whoever held or flew the aircraft at the moment of the row. It is false for
    the technical facts that a later holder sees: show no persons, words or photos of those.

    Raises
    ------
    Unscoped : the model has no ACCESS.
    """
    path = getattr(rows.model, "ACCESS", None)
    if not isinstance(path, Path):
        raise Unscoped(f"{rows.model.__name__} does not say how it hangs on an aircraft or an engine.")
    if is_staff_member(user):
        return _marked(rows, Value(True, output_field=BooleanField()))
    person = person_of(user)
    if person is None or not user.is_active:
        return rows.none()
    every = rows.model._default_manager.filter(pk=OuterRef("pk"))
    own = Exists(every.filter(_reaches(path, person, at=_moment(path))))
    later = Exists(every.filter(_reaches(path, person, at=timezone.now())))
    # The two look at each row; the first filter, which they imply, lets the database begin at the person.
    seen = _marked(rows.filter(_ever_near(path, person)), own).filter(Q(own) | Q(later))
    return seen.filter(**{path.customer_flag: True}) if path.customer_flag else seen


def _marked(rows: QuerySet[M], is_own: Value | Exists) -> QuerySet[M]:
    return cast("QuerySet[M]", rows.annotate(is_own=is_own))


def may_now(user: User | AnonymousUser, act: str, aircraft: Model | None = None) -> bool:
    """May this user do `act` today, on this aircraft where it is about one?"""
    needed = ACTS[act]
    if needed & staff_roles(user):
        return True
    if aircraft is None:
        return False
    if "assigned" in needed and assigned_now(user, aircraft):
        return True
    return "own" in needed and holds_now(user, aircraft)


def require(user: User | AnonymousUser, act: str, aircraft: Model | None = None) -> None:
    """Raise PermissionDenied unless the user may do `act` today."""
    if not may_now(user, act, aircraft):
        raise PermissionDenied(f"This is for: {', '.join(sorted(who_may(act)))}.")


def who_may(act: str) -> set[str]:
    """The roles that may do `act`, in words."""
    words = {"own": "owner or pilot of the aircraft", "assigned": "break-in pilot of the aircraft"}
    return {words.get(role, role.replace("_", " ")) for role in ACTS[act]}


def holds_now(user: User | AnonymousUser, aircraft: Model) -> bool:
    """Does the user hold, fly or look after this aircraft today?"""
    person = person_of(user)
    if person is None or not user.is_active:
        return False
    mine = _person_has("", person, timezone.now())
    return type(aircraft)._default_manager.filter(mine, pk=aircraft.pk).exists()


def assigned_now(user: User | AnonymousUser, aircraft: Model) -> bool:
    """Is the user assigned to this aircraft today, as its break-in pilot or instructor?"""
    person = person_of(user)
    if person is None or not user.is_active:
        return False
    assigned = Q(assignments__person=person) & _holds("assignments__", timezone.now())
    return type(aircraft)._default_manager.filter(assigned, pk=aircraft.pk).exists()


def held_now(user: User | AnonymousUser, aircraft: QuerySet[M]) -> QuerySet[M]:
    """Of these aircraft, those that the user holds, flies or looks after today; all of them for the shop."""
    if is_staff_member(user):
        return aircraft
    person = person_of(user)
    if person is None or not user.is_active:
        return aircraft.none()
    near = aircraft.model._default_manager.filter(_ever_near(Path(aircraft=""), person))
    return aircraft.filter(pk__in=near.filter(_person_has("", person, timezone.now())).values("pk"))


At = datetime | F | tuple[F, F] | None


def _moment(path: Path) -> At:
    if path.current:
        return timezone.now()
    if path.at:
        return F(path.at)
    if path.since and path.until:
        return F(path.since), F(path.until)
    return None


def _holds(prefix: str, at: At) -> Q:
    """The period at `prefix` covers the moment, overlaps the period, or (None) stands at all."""
    if at is None:
        return Q(**{f"{prefix}since__isnull": False})
    start = at[0] if isinstance(at, tuple) else at
    open_or_later = Q(**{f"{prefix}until__isnull": True}) | Q(**{f"{prefix}until__gt": start})
    if isinstance(at, tuple):
        end = at[1]
        # An open period (its end is NULL) overlaps everything that ends after it starts.
        return open_or_later & (Q(**{f"{prefix}since__lte": end}) | Q(**{f"{_name(end)}__isnull": True}))
    return open_or_later & Q(**{f"{prefix}since__lte": start})


def _name(field: F) -> str:
    return str(field.name)  # type: ignore[attr-defined]


def _person_has(to_aircraft: str, person: Person, at: At) -> Q:
    """The person belongs to the holder of the aircraft, or is assigned to it, at that moment."""
    holding = f"{to_aircraft}holdings__"
    member = f"{holding}customer__members__"
    assigned = f"{to_aircraft}assignments__"
    by_holding = Q(**{f"{member}person": person}) & _holds(holding, at) & _holds(member, at)
    by_assignment = Q(**{f"{assigned}person": person}) & _holds(assigned, at)
    return by_holding | by_assignment


def _reaches(path: Path, person: Person, at: At) -> Q:
    if path.aircraft is not None:
        return _person_has(f"{path.aircraft}__" if path.aircraft else "", person, at)
    if path.engine is None:
        raise Unscoped("An access path needs an aircraft or an engine.")
    installed = f"{path.engine}__installations__" if path.engine else "installations__"
    return _holds(installed, at) & _person_has(f"{installed}aircraft__", person, at)


def _ever_near(path: Path, person: Person) -> Q:
    """The aircraft, or the engine by any installation, was the person's at any time: a wider net, quickly drawn."""
    to, way = (path.engine, "aircraft__installations__engine") if path.aircraft is None else (path.aircraft, "aircraft")
    held = person.memberships.order_by().values(f"customer__holdings__{way}")
    assigned = type(person)._default_manager.filter(pk=person.pk).order_by().values(f"assignments__{way}")
    # One set, not two in an OR: PostgreSQL then begins at the few things of the person.
    return Q(**{f"{to or 'pk'}__in": held.union(assigned)})


def words_are_for(user: User | AnonymousUser, row: Any) -> bool:
    """May the user read persons, words and photos of this row? Rows come from `visible_to`."""
    return bool(getattr(row, "is_own", False)) or is_staff_member(user)

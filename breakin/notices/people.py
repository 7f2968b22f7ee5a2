"""Whom an aircraft and its engines concern now: the holder's people, the assigned pilots, the shop's own."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import OuterRef, Q, QuerySet, Subquery

from breakin.models import Flight, Message, MessageState, OilEvent
from engines.models import Aircraft, Build, Holding, Installation, PilotAssignment
from shop.models import CustomerMember, MemberRole, Person, Role, ShopRole


@dataclass(frozen=True)
class Crew:
    """The people around one aircraft now. `contacts` is who is called first, `members` everybody of the holder."""

    contacts: tuple[Person, ...] = ()
    members: tuple[Person, ...] = ()
    assigned: tuple[Person, ...] = ()

    def flies(self, person_id: int) -> bool:
        """May this person still be told about the aircraft as one who holds, flies or looks after it?"""
        return any(person.pk == person_id for person in (*self.members, *self.assigned))


@dataclass(frozen=True)
class Staff:
    """The shop's people who act on notices now."""

    technicians: tuple[Person, ...] = ()
    managers: tuple[Person, ...] = ()

    def includes(self, person_id: int) -> bool:
        return any(person.pk == person_id for person in (*self.technicians, *self.managers))


@dataclass(frozen=True)
class Seat:
    """Where the engine of a build sits now."""

    aircraft: Aircraft
    position: str


@dataclass
class Concerned:
    """People and places of a set of builds, looked up in a fixed number of queries."""

    staff: Staff
    seats: dict[int, Seat] = field(default_factory=dict)
    crews: dict[int, Crew] = field(default_factory=dict)

    def seat(self, build: Build) -> Seat | None:
        return self.seats.get(build.engine_id)

    def crew(self, build: Build) -> Crew:
        seat = self.seat(build)
        return self.crews.get(seat.aircraft.pk, Crew()) if seat else Crew()


def holds(now: datetime, prefix: str = "") -> Q:
    """The period covers this moment."""
    ended = Q(**{f"{prefix}until__isnull": True}) | Q(**{f"{prefix}until__gt": now})
    return ended & Q(**{f"{prefix}since__lte": now})


def concerned(builds: Iterable[Build], now: datetime) -> Concerned:
    """Who is concerned by these builds at this moment."""
    sits = Installation.objects.filter(holds(now), engine__in={build.engine_id for build in builds})
    seats = {row.engine_id: Seat(row.aircraft, row.position) for row in sits.select_related("aircraft")}
    return Concerned(_staff(now), seats, _crews({seat.aircraft.pk for seat in seats.values()}, now))


def _staff(now: datetime) -> Staff:
    found: dict[str, list[Person]] = defaultdict(list)
    rows = ShopRole.objects.filter(holds(now), role__in=[Role.LINE_TECHNICIAN, Role.MANAGER])
    for row in rows.select_related("person").order_by("person__name", "person_id"):
        found[row.role].append(row.person)
    return Staff(tuple(found[Role.LINE_TECHNICIAN]), tuple(found[Role.MANAGER]))


def _crews(aircraft_ids: set[int], now: datetime) -> dict[int, Crew]:
    holders = dict(
        Holding.objects.filter(holds(now), aircraft__in=aircraft_ids).values_list("aircraft_id", "customer_id")
    )
    members: dict[int, list[CustomerMember]] = defaultdict(list)
    for member in _in_order(CustomerMember.objects.filter(holds(now), customer__in=set(holders.values()))):
        members[member.customer_id].append(member)
    assigned: dict[int, list[Person]] = defaultdict(list)
    for row in PilotAssignment.objects.filter(holds(now), aircraft__in=aircraft_ids).select_related("person"):
        assigned[row.aircraft_id].append(row.person)
    return {
        pk: Crew(
            _contacts(members[holders[pk]] if pk in holders else []),
            tuple(member.person for member in (members[holders[pk]] if pk in holders else [])),
            tuple(assigned[pk]),
        )
        for pk in aircraft_ids
    }


def _in_order(rows: QuerySet[CustomerMember]) -> QuerySet[CustomerMember]:
    return rows.select_related("person").order_by("person__name", "person_id")


def _contacts(members: list[CustomerMember]) -> tuple[Person, ...]:
    """First contacts; where none is named, the owners; where there is none, everybody: somebody has to be told."""
    first = [member for member in members if member.first_contact]
    owners = [member for member in members if member.role == MemberRole.OWNER]
    return tuple(member.person for member in (first or owners or members))


UNANSWERED_MESSAGES = 2
TIME_TO_READ = timedelta(days=1)
LOOK_BACK = timedelta(days=90)


def silent(people: set[int], now: datetime) -> set[int]:
    """Who of these gave no sign, neither signed in nor logged anything, since two messages: the phone is left."""
    moments = (now - LOOK_BACK, now - TIME_TO_READ)
    read = Message.objects.filter(recipient__in=people, state=MessageState.SENT, sent_at__range=moments)
    sent: dict[int, list[datetime]] = defaultdict(list)
    for recipient, at in read.order_by("-sent_at").values_list("recipient_id", "sent_at"):
        if at is not None:
            sent[recipient].append(at)
    waiting = {who: times[UNANSWERED_MESSAGES - 1] for who, times in sent.items() if len(times) >= UNANSWERED_MESSAGES}
    signs = _signs_of(set(waiting))
    return {who for who, second in waiting.items() if not any(sign and sign > second for sign in signs[who])}


def _signs_of(people: set[int]) -> dict[int, tuple[datetime | None, ...]]:
    """When each of them last signed in, logged a flight and sent an oil event."""
    if not people:
        return {}
    flown = Flight.objects.filter(entered_by=OuterRef("pk")).order_by("-received_at").values("received_at")[:1]
    oiled = OilEvent.objects.filter(entered_by=OuterRef("pk")).order_by("-received_at").values("received_at")[:1]
    rows = Person.objects.filter(pk__in=people).annotate(flown=Subquery(flown), oiled=Subquery(oiled))
    return {row[0]: row[1:] for row in rows.values_list("pk", "user__last_login", "flown", "oiled")}

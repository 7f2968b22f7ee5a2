"""The rule of who is told what, in one place: planning writes what it says, sending asks it "still due?".

Common practice in the trade for the ladder and its recipients, no published source: the pilot is nudged, the
technicians chase, a person phones, the manager is told last; a Stop goes to everybody at once.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Exists, OuterRef, Q, QuerySet

from breakin.models import (
    DueItem,
    DueState,
    Finding,
    FindingState,
    Flight,
    Notice,
    NoticeLevel,
    NoticeState,
    Severity,
    ShopNote,
)
from breakin.notices.people import Concerned, Crew, concerned, silent
from breakin.notices.quiet import first_moment
from engines.models import Holding
from shop.models import Person

LADDER = (NoticeLevel.NUDGE, NoticeLevel.CHASE, NoticeLevel.CALL, NoticeLevel.MANAGER)
OPEN_DUE = (DueState.WAITING, DueState.DUE_SOON, DueState.DUE, DueState.LATE)
STANDING = (FindingState.OPEN, FindingState.ACKNOWLEDGED)
WORKING_HOURS = (8, 18)  # on Monday to Friday, the shop's clock
UNANSWERED_AFTER = timedelta(hours=1)  # of working time, then a Stop goes to the manager once more
NOTE_LASTS = timedelta(days=14)  # a message that could not be told for so long is told by mail no more
NOTE_HEADLINE = "A message from the shop"
KEY_LENGTH = 200

Subject = Finding | DueItem | ShopNote


@dataclass(frozen=True)
class Telling:
    """One thing to tell one person.

    by_phone : he has no e-mail, or did not answer by it. phone_for : whom this person is to phone about it.
    """

    subject: Subject
    level: NoticeLevel
    person: Person
    by_phone: bool
    phone_for: Person | None = None

    @property
    def key(self) -> str:
        ends = f"{self.level}:{self.person.pk}:{'phone' if self.by_phone else 'email'}"
        if self.phone_for is not None:
            ends += f":for-{self.phone_for.pk}"
        subject = f"{self.subject.build_id}:{_about(self.subject)}"
        if len(subject) + len(ends) + 1 > KEY_LENGTH:
            subject = f"{self.subject.build_id}:{hashlib.sha256(subject.encode()).hexdigest()}"
        return f"{subject}:{ends}"


def _about(subject: Subject) -> str:
    if isinstance(subject, ShopNote):
        return f"note:{subject.pk}"
    return f"{'finding' if isinstance(subject, Finding) else 'due'}:{subject.rule}:{subject.occurrence}"


def open_notes(now: datetime) -> QuerySet[ShopNote]:
    """What the shop wrote lately to whoever still holds the aircraft."""
    still = Holding.objects.filter(
        Q(until__isnull=True) | Q(until__gt=now), aircraft=OuterRef("aircraft"), customer=OuterRef("customer")
    )
    rows = ShopNote.objects.filter(Exists(still), at__gt=now - NOTE_LASTS, at__lte=now)
    return rows.select_related("build__engine__engine_type")


def open_findings() -> QuerySet[Finding]:
    """Findings of which somebody is to be told: every standing Stop, and calls that nobody has taken up."""
    stops = Finding.objects.filter(severity=Severity.STOP, state__in=STANDING)
    calls = Finding.objects.filter(severity=Severity.CALL, state=FindingState.OPEN)
    return (stops | calls).select_related("build__engine__engine_type")


def open_due_items() -> QuerySet[DueItem]:
    """Due items that have reached a step of the ladder."""
    reached = DueItem.objects.filter(state__in=OPEN_DUE, escalation__in=LADDER)
    return reached.select_related("build__engine__engine_type")


def wanted(build_ids: Iterable[int], now: datetime) -> dict[str, Notice]:
    """The notices that these builds call for now, unsaved, by their key."""
    ids = list(build_ids)
    subjects: list[Subject] = [
        *open_findings().filter(build__in=ids),
        *open_due_items().filter(build__in=ids),
        *open_notes(now).filter(build__in=ids),
    ]
    return notices_for(subjects, now)


def notices_for(subjects: list[Subject], now: datetime) -> dict[str, Notice]:
    """The notices, unsaved, that these subjects call for now, by their key."""
    around = concerned({subject.build for subject in subjects}, now)
    pilots = _pilots(subjects)
    quiet = silent({person.pk for crew in around.crews.values() for person in crew.contacts}, now)
    told = (row for subject in subjects for row in _tellings(subject, around, pilots, quiet, now))
    return {telling.key: _notice(telling, around, now) for telling in told}


def _tellings(
    subject: Subject, around: Concerned, pilots: dict[UUID, int], quiet: set[int], now: datetime
) -> Iterator[Telling]:
    """May name a telling twice (an owner who flew himself): its key is the same."""
    crew = around.crew(subject.build)
    for level in _levels(subject, now):
        for person in _recipients(subject, level, around, crew, pilots):
            if person.mail_address:
                yield Telling(subject, level, person, by_phone=False)
            if not person.mail_address or (level == NoticeLevel.NUDGE and person.pk in quiet):
                yield Telling(subject, level, person, by_phone=True)
                if crew.flies(person.pk):
                    callers = (caller for caller in _callers(around) if caller.mail_address)
                    yield from (Telling(subject, level, caller, False, person) for caller in callers)


def _levels(subject: Subject, now: datetime) -> list[NoticeLevel]:
    if isinstance(subject, ShopNote):
        return [NoticeLevel.NOTE]
    if isinstance(subject, DueItem):
        # Every step up to the one that was reached: one that was jumped over is still owed to its people.
        return list(LADDER[: LADDER.index(NoticeLevel(subject.escalation)) + 1])
    if subject.severity == Severity.CALL:
        return [NoticeLevel.CALL]
    unanswered = subject.state == FindingState.OPEN and worked(subject.opened_at, now) >= UNANSWERED_AFTER
    return [NoticeLevel.STOP, *([NoticeLevel.MANAGER] if unanswered else [])]


def _recipients(
    subject: Subject, level: NoticeLevel, around: Concerned, crew: Crew, pilots: dict[UUID, int]
) -> Iterable[Person]:
    staff = around.staff
    if level == NoticeLevel.NOTE:
        return crew.contacts
    if level == NoticeLevel.STOP:
        customers = (*crew.contacts, *crew.assigned) if getattr(subject, "for_customer", True) else ()
        return (*customers, *staff.technicians, *staff.managers)
    if level == NoticeLevel.NUDGE:
        flew = {pilots[root] for root in _roots(subject) if root in pilots}
        return (*crew.contacts, *(person for person in (*crew.members, *crew.assigned) if person.pk in flew))
    if level == NoticeLevel.CHASE:
        return _callers(around)
    if level == NoticeLevel.CALL:
        return (*staff.technicians, *staff.managers)
    return staff.managers


def _callers(around: Concerned) -> tuple[Person, ...]:
    """Who chases and phones: the line technicians, or the managers of a shop that has none."""
    return around.staff.technicians or around.staff.managers


def _roots(subject: Subject) -> list[UUID]:
    if isinstance(subject, ShopNote):
        return []
    return [UUID(str(row["root"])) for row in subject.evidence if row.get("kind") == "flight" and row.get("root")]


def _pilots(subjects: list[Subject]) -> dict[UUID, int]:
    """Who flew the flights that the due items are about, by the root of the flight."""
    roots = {root for subject in subjects if isinstance(subject, DueItem) for root in _roots(subject)}
    if not roots:
        return {}
    rows = Flight.objects.filter(root__in=roots, pilot__isnull=False)
    return dict(rows.order_by("id").values_list("root", "pilot_id"))


def why_by_phone(person: Person) -> str:
    """Why this person is phoned, in words that follow the name."""
    if person.mail_address:
        return "did not answer two messages"
    return "has an address from which mail comes back" if person.email else "has no e-mail"


def _notice(telling: Telling, around: Concerned, now: datetime) -> Notice:
    subject, seat = telling.subject, around.seat(telling.subject.build)
    title = NOTE_HEADLINE if isinstance(subject, ShopNote) else subject.title
    headline, text = title, subject.text
    if telling.phone_for is not None:
        them = telling.phone_for
        reason = why_by_phone(them)
        headline = f"Phone {them.name}: {title}"
        text = f"{them.name} {reason}. Phone {them.phone or '(no number known)'} and say: {subject.text}"
    at_once = telling.level == NoticeLevel.STOP
    return Notice(
        key=telling.key,
        build=subject.build,
        aircraft=seat.aircraft if seat else None,
        finding=subject if isinstance(subject, Finding) else None,
        due_item=subject if isinstance(subject, DueItem) else None,
        note=subject if isinstance(subject, ShopNote) else None,
        level=telling.level,
        recipient=telling.person,
        channel="phone" if telling.by_phone else "email",
        headline=headline[:160],
        text=text,
        state=NoticeState.PHONE if telling.by_phone else NoticeState.WAITING,
        created_at=now,
        not_before=now if at_once or telling.by_phone else first_moment(telling.person, now),
    )


def worked(since: datetime, until: datetime) -> timedelta:
    """How much of the shop's working time lies between two instants; more than two days are not counted out."""
    zone = ZoneInfo(settings.SHOP_TIME_ZONE)
    day, last = since.astimezone(zone).date(), until.astimezone(zone).date()
    total = timedelta(0)
    while day <= last and total < UNANSWERED_AFTER:
        if day.weekday() < 5:
            opens, closes = (datetime.combine(day, time(hour), zone).astimezone(UTC) for hour in WORKING_HOURS)
            total += max(min(until, closes) - max(since, opens), timedelta(0))
        day += timedelta(days=1)
    return total


def describe(subject: Any) -> str:
    """Why a notice of this subject is no longer wanted, in words for the notices page."""
    if isinstance(subject, DueItem) and subject.state not in OPEN_DUE:
        return f"{subject.get_state_display()} before it was sent"
    if isinstance(subject, Finding) and subject.state not in STANDING:
        return f"{subject.get_state_display()} before it was sent"
    if isinstance(subject, Finding) and subject.severity < Severity.STOP and subject.state != FindingState.OPEN:
        return "taken up in the shop before it was sent"
    return "no longer a matter of this person, or no longer at this step"

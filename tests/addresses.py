"""Everybody who may ask and everything that has an address, for the tests that walk every address.

QX-901 was Fay's until the first of June and is Ada's since; Mia is a member of Ada's club, Corin its break-in pilot.
Ben owns another aircraft, Dara is a break-in pilot without an assignment. Tom, Bea, Sig and Cora work for the shop.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from allauth.mfa.totp.internal.auth import TOTP
from django.core.files.base import ContentFile
from django.urls import URLPattern, URLResolver, get_resolver
from django.utils import timezone

from breakin.assess import assess_build
from breakin.models import (
    CloseOutFile,
    DueItem,
    Finding,
    Flight,
    Message,
    Notice,
    OilEvent,
    PlanTemplate,
    ReadState,
    Recording,
    RecordingRead,
    Severity,
)
from breakin.services import closing
from breakin.services.accessories import AccessoryEntry, enter_accessory
from breakin.services.cards import current_card
from engines.models import Accessory, Aircraft, Engine, Holding, PilotAssignment
from shop.models import CustomerMember, Person, Role, User
from shop.services import create_token
from tests import factories
from tests.inspected import inspected, photographed
from tests.reports.recorded import LOOK, recorded_flight

SOLD = datetime(2026, 6, 1, 12, tzinfo=UTC)
FAYS = SOLD - timedelta(days=10)
ADAS = SOLD + timedelta(days=9)
WORDS = "the <script>alert('crocus')</script> rattles & knocks"

ROLES = (
    "anonymous", "owner", "other", "former", "member", "pilot", "pilot_not", "line", "build", "signatory", "manager",
)  # fmt: skip


@dataclass
class Town:
    """users by role; things by the names that addresses use, for what is Ada's."""

    users: dict[str, User | None]
    things: dict[str, int | str]
    aircraft: Aircraft
    engine: Engine


def town() -> Town:
    cast = factories.cast()
    fay, mia = factories.person("Fay"), factories.person("Mia")
    corin, dara = (factories.person(name, role=Role.BREAK_IN_PILOT) for name in ("Corin", "Dara"))
    bea = factories.person("Bea", role=Role.BUILD_TECHNICIAN)
    sig = factories.person("Sig", role=Role.SIGNATORY)
    Holding.objects.filter(aircraft=cast.aircraft_1).update(since=SOLD)
    Holding.objects.create(
        aircraft=cast.aircraft_1, customer=factories.customer("Fay's flying", fay), since=factories.LONG_AGO, until=SOLD
    )
    CustomerMember.objects.create(customer=cast.ada_customer, person=mia, role="club_member", since=factories.LONG_AGO)
    PilotAssignment.objects.create(aircraft=cast.aircraft_1, person=corin, since=factories.LONG_AGO)
    factories.flown(cast.build_1, 1.1, at=FAYS, level_qt=6.5, by=fay, zone="Etc/GMT+6", note="Fay's words")
    people = {
        "owner": cast.ada, "other": cast.ben, "former": fay, "member": mia, "pilot": corin, "pilot_not": dara,
        "line": cast.tom, "build": bea, "signatory": sig, "manager": cast.cora,
    }  # fmt: skip
    users: dict[str, User | None] = {"anonymous": None}
    for role, person in people.items():
        assert person.user is not None
        users[role] = person.user
        if role in ("line", "build", "signatory", "manager"):
            TOTP.activate(person.user, "JBSWY3DPEHPK3PXP")
    return Town(users, _things(cast, cast.ada), cast.aircraft_1, cast.build_1.engine)


def _things(cast: factories.Cast, ada: Person) -> dict[str, int | str]:
    now = timezone.now()
    logged = factories.flown(cast.build_1, 1.2, at=ADAS, level_qt=6.0, by=ada, note=WORDS)
    # Received today, whatever its date: who wrote it may still mend it.
    fresh = factories.flown(cast.build_1, 0.8, at=now - timedelta(hours=3), level_qt=6.0, by=ada, note=WORDS)
    recording = Recording(
        aircraft=cast.aircraft_1, original_name='log";\r\nX-Bad: 1.csv', uploaded_by=ada, uploaded_at=now, note=WORDS,
        sha256="0" * 64, size_bytes=3,
    )  # fmt: skip
    recording.file.save("log.csv", ContentFile(b"a,b"), save=False)
    recording.save()
    RecordingRead.objects.create(recording=recording, state=ReadState.READ, asked_at=now, look=LOOK)
    recorded_flight(cast, recording)
    assert ada.user is not None
    accessory = _accessory(cast)
    look = inspected(cast.build_1, "oil_filter", by=cast.tom, at=ADAS, note=WORDS)
    assess_build(cast.build_1.pk, now)
    return {
        "accessory_id": accessory.pk,
        "entry_id": accessory.events.get().pk,
        "customer_id": cast.ada_customer.pk,
        "person_id": ada.pk,
        "aircraft_id": cast.aircraft_1.pk,
        "build_id": cast.build_1.pk,
        "card_id": current_card(by=ada, build=cast.build_1, now=now).pk,
        "engine_id": cast.build_1.engine_id,
        "place_id": cast.place.pk,
        "template_id": PlanTemplate.objects.get(name="Through-hardened steel").pk,
        "type_id": cast.build_1.engine.engine_type_id,
        "criterion": "hours",
        "file_id": _sealed_file(cast, now).pk,
        "flight_id": fresh.flight.pk,
        "old_flight_id": logged.flight.pk,
        "fays_flight_id": Flight.objects.get(happened_at=FAYS).pk,
        "event_id": OilEvent.objects.filter(flight_root=fresh.flight.root).get().pk,
        "finding_id": _finding(cast, Severity.CALL).pk,
        "stop_id": _finding(cast, Severity.STOP).pk,
        "due_id": _due(cast).pk,
        "recording_id": recording.pk,
        "number": 1,
        "inspection_id": look.pk,
        "kind": "oil_filter",
        "photo_id": photographed(look, by=cast.tom, at=ADAS).pk,
        "shop_photo_id": photographed(look, by=cast.tom, at=ADAS, for_customer=False, colour=(9, 9, 9)).pk,
        "notice_id": _notice(cast).pk,
        "secret": 0,  # of no calendar: whoever guesses finds nothing
        "token_id": create_token(user=ada.user, name=WORDS[:50], scope="read", now=now)[0].pk,
    }


def _accessory(cast: factories.Cast) -> Accessory:
    """Entered while the aircraft was Fay's."""
    entry = AccessoryEntry(
        "replaced", FAYS.date(), None, 24, "maker's manual", done_by="Fay's words", words="Fay's words"
    )
    return enter_accessory(
        by=cast.tom, engine=cast.build_1.engine, kind="magneto", name="left", entry=entry, now=FAYS
    )  # fmt: skip


def _sealed_file(cast: factories.Cast, now: datetime) -> CloseOutFile:
    """A build of the same engine that was closed out and reopened: signed while the aircraft was Ada's."""
    file = factories.closed_out(
        cast.build_1, now=now - timedelta(hours=2), proposer=cast.tom, signer=cast.cora, notes=WORDS
    )
    closing.reopen(by=cast.cora, build=cast.build_1, reason="Smoke.", now=now - timedelta(hours=1))
    return file


def _finding(cast: factories.Cast, severity: Severity) -> Finding:
    return Finding.objects.create(
        build=cast.build_1, rule="X1", occurrence=severity.name, rule_version=1, severity=severity, title="A finding",
        text="It was found.", why="Because.", source="plan", happened_at=ADAS, opened_at=ADAS,
    )  # fmt: skip


def _due(cast: factories.Cast) -> DueItem:
    return DueItem.objects.create(
        build=cast.build_1, rule="X2", occurrence="a", rule_version=1, kind="oil_filter", title="First oil change",
        text="Change it.", state="due", opened_at=ADAS,
    )  # fmt: skip


def _notice(cast: factories.Cast) -> Notice:
    """Sent, with its mail."""
    message = Message.objects.create(
        key="a", recipient=cast.ada, aircraft=cast.aircraft_1, address=cast.ada.email, message_id="<a@example.org>",
        subject="Oil", text="Oil.", state="sent", created_at=ADAS, sent_at=ADAS, attempts=1,
    )  # fmt: skip
    return Notice.objects.create(
        key="a", build=cast.build_1, aircraft=cast.aircraft_1, due_item=DueItem.objects.get(rule="X2"), level="nudge",
        recipient=cast.ada, headline="Oil", text="Oil.", state="sent", created_at=ADAS, not_before=ADAS,
        message=message,
    )  # fmt: skip


@dataclass(frozen=True)
class Address:
    """A name, the arguments it takes, and the whole pattern it hangs at."""

    name: str
    arguments: tuple[str, ...]
    route: str


def every_address() -> list[Address]:
    """What the site answers to, from its own list of patterns."""
    return list(_walk(get_resolver(), "", "", ()))


def _walk(resolver: URLResolver, route: str, namespace: str, arguments: tuple[str, ...]) -> Any:
    for entry in resolver.url_patterns:
        here = route + str(entry.pattern)
        takes = (*arguments, *entry.pattern.regex.groupindex)
        if isinstance(entry, URLPattern):
            named = f"{namespace}{entry.name}" if entry.name else ""
            yield Address(named, takes, here)
        else:
            inner = f"{namespace}{entry.namespace}:" if entry.namespace else namespace
            yield from _walk(entry, here, inner, takes)

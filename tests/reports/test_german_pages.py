"""A pilot whose language is German reads no English on his pages, and a decimal comma in his numbers.

Each message of the catalogues of more than two words is looked for in its English form on every page. What nobody has
marked for translation stands in no catalogue; the commonest English words, which are no German ones, find that.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from html.parser import HTMLParser
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import translation

from breakin import assess
from breakin.models import Flight, OilEvent, ReadState
from engines.models import PilotAssignment
from shop.models import Person, Role
from tests.catalogues import messages
from tests.factories import LONG_AGO, NOW, Cast, flown, person
from tests.reports.recorded import LOOK, recorded_flight, recording

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]

GAPS = re.compile(r"%\(\w+\)[sd]|\{\w+\}|%%")
SPOKEN = ("aria-label", "alt", "title", "placeholder", "data-label", "data-outbox", "data-said", "data-kept-until")
ENGLISH = {"the", "of", "and", "you", "your", "with", "this", "that", "is", "are", "not", "for", "from", "to", "its"}
ENTRANCE = ("login", "password/reset", "password/reset/done", "signup", "inactive")


class Words(HTMLParser):
    """What a page says: its text and the words of its attributes, without scripts and what names itself English."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.said: list[str] = []
        self._mute = 0
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("script", "style"):
            self._mute += 1
        self.said += [value for name, value in attrs if name in SPOKEN and value]

    def handle_endtag(self, tag: str) -> None:
        if tag in ("script", "style"):
            self._mute -= 1

    def handle_data(self, data: str) -> None:
        if not self._mute:
            self.said.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.said).split())


@pytest.fixture(scope="module")
def english() -> list[str]:
    """The stretches of more than two words of every English message that its German one doesn't share."""
    found = set()
    for msgids, said in messages():
        for msgid in msgids:
            for stretch in GAPS.split(msgid):
                stretch = " ".join(stretch.split()).strip(" .,:;")
                if len(stretch.split()) > 2 and not any(stretch in each for each in said):
                    found.add(stretch)
    return sorted(found)


@pytest.fixture
def sunniva(shop: Cast) -> Person:
    """An owner abroad: German, litres and degrees Celsius, an hour or two before Greenwich."""
    shop.ada.language, shop.ada.units, shop.ada.zone = "de", "si", "Europe/Berlin"
    shop.ada.save()
    return shop.ada


@pytest.fixture
def flights(shop: Cast, sunniva: Person) -> Flight:
    """A few flights with their oil, one of them warm enough to be warned about."""
    for number, level in enumerate((8.5, 8.25, 8.25, 8.0)):
        logged = flown(shop.build_1, 1.2, at=NOW.replace(hour=3 + 3 * number), level_qt=level, by=sunniva)
    assess.assess_build(shop.build_1.pk, NOW)
    return logged.flight


def pages(shop: Cast, flight: Flight) -> Iterator[str]:
    aircraft, engine = shop.aircraft_1.pk, shop.build_1.engine_id
    oil = OilEvent.objects.filter(flight_root=flight.root).first()
    yield from ("/portal/", "/portal/tour/", "/account/", "/account/tokens/", "/portal/no-network/")
    yield from (
        f"/portal/aircraft/{aircraft}/{page}" for page in ("", "card/", "cards/", "timer/", "log/", "recordings/")
    )
    yield from (
        f"/portal/flights/{flight.pk}/received/",
        f"/portal/engines/{engine}/oil/",
        f"/flights/{flight.pk}/correct/",
    )
    if oil is not None:
        yield f"/oil/{oil.pk}/correct/"


def recorded_pages(shop: Cast) -> Iterator[str]:
    """A twin's file with a question about its columns, read all the same, of a flight that nobody has logged."""
    held = recording(shop, state=ReadState.ASKS, look=LOOK, version=3, rows=5430, sample_s=1.0,
                     notes=["The clock passed midnight."])  # fmt: skip
    recorded_flight(shop, held, began_at=NOW - timedelta(days=3))
    page = f"/recordings/{held.pk}/"
    yield from (page, f"{page}columns/", f"{page}flights/1/log/", f"{page}flights/1/lines.svg")
    yield f"/portal/aircraft/{shop.aircraft_1.pk}/recordings/"


def left_in(page: str, english: list[str]) -> list[str]:
    text = re.sub("Isle of Man|Port of Spain", "", Words(page).text)  # time zones
    words = {word for word in re.findall(r"[A-Za-zÄÖÜäöüß']+", text) if word in ENGLISH}
    return [stretch for stretch in english if stretch in text] + sorted(words)


def test_every_page_of_the_pilot_is_german_throughout(
    shop: Cast, flights: Flight, sunniva: Person, as_person: Any, english: list[str]
) -> None:
    client = as_person(sunniva)
    left = {}
    for address in pages(shop, flights):
        page = client.get(address).content.decode()
        assert '<html lang="de">' in page, address
        found = left_in(page, english)
        if found:
            left[address] = found
    assert not left, "\n".join(f"{address}: {'; '.join(found)}" for address, found in left.items())


def test_what_a_recording_shows_and_asks_is_german_throughout(
    shop: Cast, flights: Flight, sunniva: Person, as_person: Any, english: list[str]
) -> None:
    client = as_person(sunniva)
    for address in recorded_pages(shop):
        answer = client.get(address)
        assert answer.status_code == 200, address
        page = b"".join(answer).decode().replace("teaching numbers, not for flight", "")  # what the type sheet says
        assert not left_in(page, english), address


def test_the_delivery_plan_is_german_to_the_pilot_who_plans_it(shop: Cast, as_person: Any, english: list[str]) -> None:
    corin = person("Corin", role=Role.BREAK_IN_PILOT, language="de")
    PilotAssignment.objects.create(aircraft=shop.aircraft_1, person=corin, since=LONG_AGO)
    client, address = as_person(corin), f"/shop/aircraft/{shop.aircraft_1.pk}/delivery/"
    typed = {
        "preview": "1", "home": "Saltreach", "hour_1_field": str(shop.place.name), "hour_1_altitude": "3500",
        "hour_1_altitude_unit": "ft", "ferried": "yes", "ferry_time": "170", "ferry_altitude": "9500",
        "ferry_altitude_unit": "ft", "ferry_after": "0",
    }  # fmt: skip
    for answer in (client.get(address), client.post(address, {"preview": "1"}), client.post(address, typed)):
        page = answer.content.decode()
        assert '<html lang="de">' in page
        assert not left_in(page, english)
    assert "Noch nicht festgehalten." in page


@pytest.mark.parametrize("name", ENTRANCE)
def test_pages_before_the_sign_in_speak_the_language_that_was_asked_for(
    name: str, client: Client, english: list[str]
) -> None:
    page = client.get(f"/accounts/{name}/", {"language": "de"}).content.decode()
    assert '<html lang="de">' in page
    assert not left_in(page.replace("English", ""), english)
    assert '<html lang="de">' in client.get(f"/accounts/{name}/").content.decode()  # the cookie keeps it


def test_before_the_sign_in_the_browser_says_which_language_it_likes(client: Client) -> None:
    page = client.get("/accounts/login/", headers={"accept-language": "de-CH,de;q=0.9,en;q=0.5"})
    assert '<html lang="de">' in page.content.decode()
    assert page.headers["Content-Language"] == "de"
    with translation.override("en"):
        other = client.get("/accounts/login/", headers={"accept-language": "fr"})
    assert '<html lang="en">' in other.content.decode()


def test_what_is_wrong_is_said_in_german_beside_the_field(
    shop: Cast, sunniva: Person, as_person: Any, english: list[str]
) -> None:
    client, address = as_person(sunniva), f"/portal/aircraft/{shop.aircraft_1.pk}/log/"
    answer = client.post(address, {"client_id": str(uuid4()), "airborne": "eine Stunde", "e0-blocks": "2"})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Noch nicht gespeichert" in page
    assert "eine Stunde" in page
    assert not left_in(page, english)

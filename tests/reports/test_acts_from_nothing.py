"""From an empty database to an engine on the board, by pages alone: the records, then the acts of the shop."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from breakin import assess
from breakin.models import OilEvent, PlanTemplate, RunInPlan
from engines.models import Aircraft, Build, EngineType, EngineTypeRevision, Holding, Installation
from shop.models import Customer, Person, Place, Shop, User
from tests.factories import NOW
from tests.reports.acts import a_build, an_install, error_at, type_address
from tests.reports.portal_forms import a_flight, log_address
from tests.reports.type_forms import a_type, keep

pytestmark = pytest.mark.django_db


def rows(prefix: str, *filled: dict[str, Any], known: int = 0) -> dict[str, Any]:
    """The management form of an inline and its rows."""
    fields: dict[str, Any] = {f"{prefix}-TOTAL_FORMS": len(filled), f"{prefix}-INITIAL_FORMS": known}
    for number, row in enumerate(filled):
        fields |= {f"{prefix}-{number}-{name}": value for name, value in row.items()}
    return fields


def enter(client: Client, where: str, **fields: Any) -> None:
    answer = client.post(f"/admin/{where}/add/", fields)
    assert answer.status_code == 302, answer.content.decode()


SINCE = {"since_0": "2026-01-01", "since_1": "12:00:00"}


@pytest.fixture
def root() -> Any:
    """The one login that a command makes."""
    client = Client()
    client.force_login(User.objects.create_superuser("tilde@example.org", "a good long password"))
    return client


@pytest.fixture
def today() -> Any:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


def the_records(root: Any) -> None:
    """Place, shop, manager and technician, customer with a pilot, aircraft with its holder, an engine type."""
    enter(root, "shop/place", name="Tellamoor Field", elevation_ft="620", zone="Etc/GMT+6")
    place = Place.objects.get().pk
    enter(root, "shop/shop", name="Wexhollow Engine Works", place=place, phone="555-0199")
    person = {
        "zone": "Etc/GMT+6", "units": "us", "language": "en", "quiet_from": "21:00", "quiet_until": "07:00",
    }  # fmt: skip
    tilde = User.objects.get().pk
    roles = [{"role": "manager", **SINCE}, {"role": "build_technician", **SINCE}]
    enter(root, "shop/person", name="Tilde", user=tilde, **person, **rows("shop_roles", *roles), **rows("memberships"))
    enter(root, "shop/user", email="ines@example.org", is_active="on")
    ines = User.objects.get(email="ines@example.org").pk
    enter(root, "shop/person", name="Ines", user=ines, **person, **rows("shop_roles"), **rows("memberships"))
    member = {"person": Person.objects.get(name="Ines").pk, "role": "owner", "first_contact": "on", **SINCE}
    enter(root, "shop/customer", name="Larkmere Flying Club", phone="555-0101", **rows("members", member))
    holding = {"customer": Customer.objects.get().pk, **SINCE}
    aircraft = {"registration": "QX-903", "home": place}
    enter(root, "engines/aircraft", **aircraft, **rows("holdings", holding), **rows("assignments"))
    assert keep(root, "/shop/types/new/", a_type(designation="TAV-4E")).status_code == 302


def test_from_nothing_to_an_engine_on_the_board(root: Any, today: time_machine.Traveller) -> None:
    assert "This login belongs to nobody yet" in root.get("/shop/").content.decode()
    the_records(root)
    index = root.get("/shop/").content.decode()
    assert "This login belongs to nobody yet" not in index
    assert "Aircraft that nobody holds" not in index

    types = root.get("/shop/builds/new/").content.decode()
    revision = EngineTypeRevision.objects.get()
    assert revision.number == 1
    assert f'href="{type_address(revision)}"' in types
    answer = root.post(type_address(revision), a_build())
    build = Build.objects.get()
    assert answer.headers["location"] == f"/engines/{build.engine_id}/"
    assert RunInPlan.objects.get().template == PlanTemplate.objects.get(name="Nitrided steel")

    waiting = root.get("/shop/").content.decode()
    assert f'href="/shop/engines/{build.engine_id}/install/"' in waiting
    installed = root.post(f"/shop/engines/{build.engine_id}/install/", an_install(filled="8", oil_kind="mineral"))
    assert installed.status_code == 302, installed.content.decode()
    assert Installation.objects.get().aircraft.registration == "QX-903"
    assert OilEvent.objects.get().filled_qt == 8

    aircraft = Aircraft.objects.get()
    pilot: Any = Client()
    pilot.force_login(Person.objects.get(name="Ines").user)
    form = pilot.get(log_address(aircraft))
    sent = a_flight(form, e0_meter_end="813.5")
    assert pilot.post(log_address(aircraft), sent).status_code == 302

    assess.assess_build(build.pk, NOW + timedelta(minutes=1))
    board = root.get("/board/").content.decode()
    assert "QX-903" in board
    assert "Larkmere Flying Club" in board
    assert "1.1" in board


class TestHolders:
    """A sale by the records alone: the old holding ends, the new one begins, in one save."""

    def change(self, root: Any, *held: dict[str, Any], known: int = 0) -> Any:
        plane = Aircraft.objects.get()
        fields = {"registration": plane.registration, "home": plane.home_id, **rows("assignments")}
        return root.post(
            f"/admin/engines/aircraft/{plane.pk}/change/", {**fields, **rows("holdings", *held, known=known)}
        )

    def old(self, **more: str) -> dict[str, Any]:
        holding = Holding.objects.get()
        return {"id": holding.pk, "customer": holding.customer_id, **SINCE, **more}

    def test_is_one_act(self, root: Any) -> None:
        the_records(root)
        buyer = Customer.objects.create(name="Saltreach Charter").pk
        sold = {"until_0": "2026-06-01", "until_1": "12:00:00"}
        bought = {"customer": buyer, "since_0": "2026-06-01", "since_1": "12:00:00"}

        assert self.change(root, self.old(**sold), bought, known=1).status_code == 302
        assert [str(each.customer) for each in Holding.objects.order_by("since")] == [
            "Larkmere Flying Club",
            "Saltreach Charter",
        ]

    def test_two_at_once_are_refused_in_words(self, root: Any) -> None:
        the_records(root)
        buyer = Customer.objects.create(name="Saltreach Charter").pk
        bought = {"customer": buyer, "since_0": "2026-06-01", "since_1": "12:00:00"}

        answer = self.change(root, self.old(), bought, known=1)
        assert "would hold it at the same time" in answer.content.decode()
        alone = root.post("/admin/engines/holding/add/", {"aircraft": Aircraft.objects.get().pk, **bought})
        assert "Larkmere Flying Club holds QX-903 since 2026-01-01. End that holding first" in alone.content.decode()
        assert "holding_one_now" not in alone.content.decode()
        assert Holding.objects.count() == 1

    def test_one_that_ends_before_it_begins_is_refused(self, root: Any) -> None:
        the_records(root)

        answer = self.change(root, self.old(until_0="2025-06-01", until_1="12:00:00"), known=1)
        assert "It ends before it begins." in answer.content.decode()
        assert "holding_period" not in answer.content.decode()


def test_a_type_without_numbers_is_named_where_it_is_missed(root: Any) -> None:
    enter(root, "engines/enginetype", maker="Tavish (invented)", designation="TAV-4C")

    assert "No numbers yet for TAV-4C" in root.get("/shop/").content.decode()
    assert "No engine type has numbers yet." in root.get("/shop/builds/new/").content.decode()
    assert root.get(f"/shop/builds/new/?type={EngineType.objects.get().pk}").status_code == 404


def test_a_login_without_a_person_signs_for_nothing(root: Any, today: time_machine.Traveller) -> None:
    the_records(root)
    Person.objects.filter(name="Tilde").update(user=None)

    answer = root.post(type_address(EngineTypeRevision.objects.get()), a_build())
    assert answer.status_code == 422
    assert "This login belongs to no person" in answer.content.decode()
    assert not error_at(answer, "serial")
    assert not Build.objects.exists()
    assert Shop.objects.count() == 1

"""From an empty database to a card with settings from the pasted chart, by pages alone and without the records."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from django.core import mail
from django.test import Client

from breakin import assess
from breakin.calc.chart import Chart
from breakin.calc.chart_power import map_rpm_percent
from breakin.models import PlanTemplate, RunInPlan
from engines.models import Aircraft, Build, EngineTypeRevision, Holding
from reports.invitations import send_invitation
from shop.models import Customer, MemberRole, Person, Place, Role, Shop, User
from tests import factories
from tests.factories import NOW, Cast
from tests.reports.acts import a_build, an_install, error_at, type_address, value_of
from tests.reports.type_forms import a_type, keep, posted_again

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]
# Sea-level grid of an invented 180-hp engine: 65 % is 117 hp, 75 % is 135 hp.
GRID = (
    "rpm\\MP\t18\t20\t22\t24\t26\t28.5\n"
    "2100\t71\t83.7\t98.4\t110\t121\t136\n"
    "2300\t77.3\t91\t107\t119.3\t131\t147\n"
    "2450\t82\t96.4\t113.5\t126.4\t139\t156\n"
    "2700\t89.6\t105.5\t124\t138.3\t152\t171"
)


def text(answer: Any) -> str:
    said = re.sub(r"<[^>]+>", " ", answer.content.decode().replace("\u202f", " ").replace("\u2009", " "))
    return " ".join(said.split())


@pytest.fixture
def root() -> Any:
    """The one login that a command makes."""
    client = Client()
    client.force_login(User.objects.create_superuser("tilde@example.org", "a good long password"))
    return client


ME = {"name": "Tilde", "phone": "555-0101", "zone": "Etc/GMT+6", "unit_system": "us", "roles": ["build_technician"]}
SHOP = {
    "name": "Wexhollow Engine Works", "phone": "555-0199", "mail": "desk@example.org", "place_name": "Tellamoor Field",
    "elevation_ft": "620", "elevation_ft_unit": "ft", "zone": "Etc/GMT+6",
}  # fmt: skip
AIRCRAFT = {
    "registration": "qx-903", "description": "white over blue", "new_customer": "Larkmere Flying Club",
    "new_customer_phone": "555-0102", "since": "2026-01-01",
}  # fmt: skip


def test_from_an_empty_book_to_a_card_with_settings_from_the_pasted_chart(root: Any) -> None:
    assert root.get("/").headers["location"] == "/shop/first/"
    assert text(root.get("/shop/first/")).count(": not yet") == 7

    assert root.post("/shop/first/me/", ME).status_code == 302
    assert root.post("/shop/profile/", SHOP).headers["location"] == "/shop/first/"
    assert keep(root, "/shop/types/new/", a_type(designation="TAV-4E", grid=GRID)).status_code == 302
    root.post("/shop/templates/take/")
    nitrided = PlanTemplate.objects.get(name="Nitrided steel")
    copy = f"/shop/templates/{nitrided.pk}/copy/"
    typed = posted_again(root.get(copy)) | {
        "name": "House nitrided", "source_kind": "document", "source": "Instruction 7", "source_revision": "C",
        "s_hour_1_rpm": "2450",
    }  # fmt: skip
    assert keep(root, copy, typed).status_code == 302
    home = Place.objects.get()
    assert root.post("/shop/aircraft/new/", AIRCRAFT | {"home": home.pk}).status_code == 302
    invited = {"name": "Ines", "email": "ines@example.org", "role": "owner", "customer": Customer.objects.get().pk}
    assert root.post("/people/invite/", invited).status_code == 302
    assert text(root.get("/shop/first/")).count(": not yet") == 1
    assert root.get("/").headers["location"] == "/shop/first/"

    opened = root.post(type_address(EngineTypeRevision.objects.get()), a_build(plan="House nitrided"))
    build = Build.objects.get()
    assert opened.status_code == 302
    plan = RunInPlan.objects.get()
    assert (plan.source, plan.template.name if plan.template else "") == ("Instruction 7", "House nitrided")
    installed = root.post(f"/shop/engines/{build.engine_id}/install/", an_install(filled="8", oil_kind="mineral"))
    assert installed.status_code == 302, installed.content.decode()
    assert root.get("/").headers["location"] == "/board/"
    assert text(root.get("/shop/first/")).count(": not yet") == 0

    assess.assess_build(build.pk, NOW)
    pilot = Client()
    pilot.force_login(Person.objects.get(name="Ines").user)  # type: ignore[arg-type]
    card = text(pilot.get(f"/portal/aircraft/{Aircraft.objects.get().pk}/card/"))
    setting = re.search(r"What to set \[inHg\].*? 2000 ft [\d.]+ ([\d.]+) ", card)
    assert setting, card
    chart = Chart.from_dict(EngineTypeRevision.objects.get().chart or {}, rated_hp=180)
    rpm, pressure, altitude = (np.array([value]) for value in (2450.0, float(setting[1]), 2000.0))
    assert map_rpm_percent(chart, rpm, pressure, altitude, None)[0][0] == pytest.approx(75, abs=0.3)
    assert "Wexhollow Engine Works" in card
    assert "555-0199" in card


class TestOneself:
    def test_the_first_login_becomes_a_person_with_its_roles_once(self, root: Any) -> None:
        root.post("/shop/first/me/", ME)
        root.post("/shop/first/me/", ME | {"name": "Another"})
        tilde = Person.objects.get()
        held = set(tilde.shop_roles.values_list("role", flat=True))
        assert (tilde.name, tilde.zone, held) == ("Tilde", "Etc/GMT+6", {Role.MANAGER, Role.BUILD_TECHNICIAN})

    @pytest.mark.parametrize(("field", "typed"), [("name", ""), ("zone", "Mars/North"), ("unit_system", "")])
    def test_what_cannot_be_is_refused_at_its_field(self, root: Any, field: str, typed: str) -> None:
        answer = root.post("/shop/first/me/", ME | {field: typed})
        assert answer.status_code == 422
        assert error_at(answer, field)
        assert not Person.objects.exists()

    def test_nothing_else_is_signed_before(self, root: Any) -> None:
        answer = root.post("/shop/profile/", SHOP)
        assert answer.status_code == 422
        assert "belongs to no person" in answer.content.decode()
        assert not Shop.objects.exists()


class TestProfile:
    @pytest.fixture
    def manager(self, shop: Cast, as_person: Any) -> Any:
        return as_person(shop.cora)

    def test_it_begins_with_what_the_book_has_and_keeps_what_is_changed(self, shop: Cast, manager: Any) -> None:
        page = manager.get("/shop/profile/")
        assert value_of(page, "name") == "Test shop"
        assert value_of(page, "place_name") == "Tellamoor Field"
        assert (
            manager.post("/shop/profile/", SHOP | {"elevation_ft": "200", "elevation_ft_unit": "m"}).status_code == 302
        )
        kept = Shop.objects.get()
        assert (kept.name, kept.mail) == ("Wexhollow Engine Works", "desk@example.org")
        assert kept.place == shop.place
        assert kept.place.elevation_ft == pytest.approx(656.2, abs=0.1)

    def test_another_field_becomes_a_new_place_and_the_old_one_stays(self, shop: Cast, manager: Any) -> None:
        manager.post("/shop/profile/", SHOP | {"place_name": "Dunmarrow", "elevation_ft": "2100"})
        assert Shop.objects.get().place.name == "Dunmarrow"
        assert Place.objects.get(name="Tellamoor Field").elevation_ft == factories.FIELD_ELEVATION_FT

    @pytest.mark.parametrize(
        ("changed", "field"),
        [
            ({"name": ""}, "name"),
            ({"phone": " "}, "phone"),
            ({"mail": "desk at example"}, "mail"),
            ({"place_name": ""}, "place_name"),
            ({"elevation_ft": "high"}, "elevation_ft"),
            ({"elevation_ft": "19000"}, "elevation_ft"),
            ({"zone": "GMT-6"}, "zone"),
        ],
    )
    def test_what_cannot_be_is_refused_and_nothing_is_kept(
        self, manager: Any, changed: dict[str, str], field: str
    ) -> None:
        answer = manager.post("/shop/profile/", SHOP | changed)
        assert answer.status_code == 422
        assert error_at(answer, field)
        assert Shop.objects.get().name == "Test shop"
        assert Place.objects.get().name == "Tellamoor Field"

    def test_mails_go_out_under_its_name_and_answers_come_to_it(self, shop: Cast, manager: Any) -> None:
        manager.post("/shop/profile/", SHOP)
        send_invitation(shop.ada, "/somewhere/", by="Cora")
        sent = mail.outbox[-1]
        assert sent.from_email.startswith("Wexhollow Engine Works <")
        assert sent.reply_to == ["desk@example.org"]

    def test_only_the_manager_opens_it(self, shop: Cast, as_person: Any) -> None:
        client = as_person(shop.tom)
        assert client.get("/shop/profile/").status_code == 403
        assert client.get("/").headers["location"] == "/today/"


class TestFieldsAndAircraft:
    @pytest.fixture
    def manager(self, shop: Cast, as_person: Any) -> Any:
        return as_person(shop.cora)

    def test_a_field_is_entered_once_and_changed(self, shop: Cast, manager: Any) -> None:
        high = {"name": "Quillmesa", "elevation_ft": "6480", "elevation_ft_unit": "ft", "zone": "Etc/GMT+7"}
        manager.post("/shop/places/new/", high)
        again = manager.post("/shop/places/new/", high | {"name": "quillmesa"})
        assert "is in the book already" in error_at(again, "name")
        place = Place.objects.get(name="Quillmesa")
        manager.post(f"/shop/places/{place.pk}/", high | {"elevation_ft": "6490"})
        place.refresh_from_db()
        assert place.elevation_ft == 6490

    def test_an_aircraft_is_held_by_its_customer_from_the_day_that_is_said(self, shop: Cast, manager: Any) -> None:
        manager.post("/shop/aircraft/new/", AIRCRAFT | {"home": shop.place.pk})
        holding = Holding.objects.get(aircraft__registration="QX-903")
        assert holding.customer.name == "Larkmere Flying Club"
        assert f"{holding.since:%Y-%m-%d %H:%M}" == "2026-01-01 06:00"

    @pytest.mark.parametrize(
        ("changed", "field", "said"),
        [
            ({"registration": "QX-901"}, "registration", "is in the book already"),
            ({"registration": ""}, "registration", "Type it as on the aircraft"),
            ({"home": ""}, "home", "Choose it"),
            ({"new_customer": ""}, "customer", "one of the two"),
            ({"new_customer": "ada's flying"}, "new_customer", "There is a customer"),
            ({"since": "2026-09-01"}, "since", "future"),
        ],
    )
    def test_what_cannot_be_keeps_neither_aircraft_nor_customer(
        self, shop: Cast, manager: Any, changed: dict[str, str], field: str, said: str
    ) -> None:
        answer = manager.post("/shop/aircraft/new/", AIRCRAFT | {"home": shop.place.pk} | changed)
        assert answer.status_code == 422
        assert said in error_at(answer, field)
        assert Aircraft.objects.count() == 2
        assert not Customer.objects.filter(name="Larkmere Flying Club").exists()

    def test_an_owner_of_a_customer_is_invited_to_it(self, shop: Cast, manager: Any) -> None:
        invited = {"name": "Ines", "email": "ines@example.org", "role": "owner", "customer": shop.ada_customer.pk}
        manager.post("/people/invite/", invited)
        assert Person.objects.get(name="Ines").memberships.get().role == MemberRole.OWNER

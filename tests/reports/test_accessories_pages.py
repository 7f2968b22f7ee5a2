"""Accessories on their pages: entered, done, taken back, asked about beside a build and an installation."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from breakin import assess
from breakin.models import DueItem
from breakin.services.accessories import AccessoryEntry, enter_accessory
from breakin.services.holding import transfer
from engines.models import Accessory, AccessoryEvent, Build, Engine
from tests import factories
from tests.factories import NOW, Cast
from tests.reports.acts import a_build, an_install, chosen, error_at, value_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]
SECRET = "crocus under the seat"


def typed(**changed: Any) -> dict[str, Any]:
    usual: dict[str, Any] = {
        "kind": "magneto",
        "name": "left",
        "act": "inspected",
        "done_on": "2026-06-01",
        "total_time_h": "980",
        "interval_h": "500",
        "source": "maker's manual, rev. 7",
        "part": "M-1",
        "done_by": SECRET,
    }
    return {name: value for name, value in {**usual, **changed}.items() if value is not None}


def carried(engine: Engine, by: Any) -> Accessory:
    entry = AccessoryEntry("inspected", NOW.date(), 500.0, None, "maker's manual", 980.0, part="M-1")
    return enter_accessory(by=by, engine=engine, kind="magneto", name="left", entry=entry, now=NOW)


@pytest.fixture
def timed(shop: Cast) -> Cast:
    Build.objects.filter(pk=shop.build_1.pk).update(total_time_h=1470.0, time_since_overhaul_h=0.0)
    factories.flown(shop.build_1, 1.2, level_qt=6.0)
    return shop


def test_it_is_entered_shown_with_both_clocks_and_closed_by_its_own_work(timed: Cast, as_person: Any) -> None:
    engine = timed.build_1.engine
    technician = as_person(timed.tom)
    answer = technician.post(f"/shop/engines/{engine.pk}/accessories/", typed())
    assert answer.status_code == 302, answer.content.decode()
    assess.assess_build(timed.build_1.pk, NOW)

    page = technician.get(f"/engines/{engine.pk}/").content.decode()
    section = page[page.index('id="accessories"') :]
    for words in (
        "1471.2\u202fh",
        "1.2\u202fh",
        "Magneto, left",
        "at 1480.0\u202fh total time",
        "8.8\u202fh left",
        SECRET,
    ):
        assert words in section, words
    magneto = Accessory.objects.get()
    listed = technician.get("/today/").content.decode()
    assert f'href="/shop/accessories/{magneto.pk}/"' in listed

    form = technician.get(f"/shop/accessories/{magneto.pk}/")
    assert (value_of(form, "interval_h"), value_of(form, "part")) == ("500", "M-1")
    done = typed(kind=None, name=None, act="replaced", done_on="2026-06-15", total_time_h="1471.2", part="M-2")
    assert technician.post(f"/shop/accessories/{magneto.pk}/", done).status_code == 302
    assess.assess_build(timed.build_1.pk, NOW)
    states = DueItem.objects.filter(kind="accessory").order_by("opened_at", "id").values_list("state", flat=True)
    assert sorted(states) == ["done", "waiting"]

    wrong = AccessoryEvent.objects.get(act="replaced")
    assert technician.post(f"/shop/accessories/entries/{wrong.pk}/take-back/", {"reason": ""}).status_code == 422
    technician.post(f"/shop/accessories/entries/{wrong.pk}/take-back/", {"reason": "The other engine's."})
    assert "Taken back by Tom" in technician.get(f"/shop/accessories/{magneto.pk}/").content.decode()
    assess.assess_build(timed.build_1.pk, NOW)
    assert list(DueItem.objects.filter(kind="accessory", state="due_soon").values_list("title", flat=True)) == [
        "Magneto, left"
    ]


def test_the_holder_reads_it_and_the_next_one_no_words_of_another_time(timed: Cast, as_person: Any) -> None:
    engine, then = timed.build_1.engine, NOW - timedelta(days=10)
    entry = AccessoryEntry("inspected", then.date(), 500.0, None, "maker's manual", 980.0, done_by=SECRET, words=SECRET)
    enter_accessory(by=timed.tom, engine=engine, kind="magneto", name="left", entry=entry, now=then)
    assess.assess_build(timed.build_1.pk, NOW)
    page = as_person(timed.ada).get(f"/engines/{engine.pk}/").content.decode()
    assert "Magneto, left" in page
    assert SECRET in page
    assert "Enter what was done" not in page
    sold = NOW - timedelta(days=1)
    transfer(by=timed.cora, aircraft=timed.aircraft_1, customer=timed.ben_customer, at=sold, reason="Sold.", now=NOW)
    page = as_person(timed.ben).get(f"/engines/{engine.pk}/").content.decode()
    assert "Magneto, left" in page
    assert SECRET not in page


@pytest.mark.parametrize(
    ("wrong", "field", "words"),
    [
        ({"interval_h": None}, "interval_h", "After how many hours or months"),
        ({"source": None}, "source", "Name the maker's document"),
        ({"interval_h": "soon"}, "interval_h", "soon"),
        ({"act": None}, "act", "is missing"),
        ({"kind": "other", "name": None}, "name", "Type its name"),
        ({"done_on": "2026-08-01"}, "done_on", "future"),
    ],
)
def test_what_is_wrong_is_said_at_its_field_and_stays_typed(
    shop: Cast, as_person: Any, wrong: dict[str, Any], field: str, words: str
) -> None:
    answer = as_person(shop.tom).post(f"/shop/engines/{shop.build_1.engine_id}/accessories/", typed(**wrong))
    assert answer.status_code == 422
    assert words in error_at(answer, field)
    assert value_of(answer, "part") == "M-1"
    assert not Accessory.objects.exists()


def test_a_total_time_beyond_the_book_is_asked_about_first(timed: Cast, as_person: Any) -> None:
    assess.assess_build(timed.build_1.pk, NOW)
    technician, address = as_person(timed.tom), f"/shop/engines/{timed.build_1.engine_id}/accessories/"
    answer = technician.post(address, typed(total_time_h="1500"))
    assert answer.status_code == 422
    assert "above 1471.2 h" in answer.content.decode()
    assert technician.post(address, typed(total_time_h="1500", confirmed=["total_time_h"])).status_code == 302


def test_a_new_build_asks_of_each_and_by_default_its_hours_go_on(shop: Cast, as_person: Any) -> None:
    engine = shop.build_1.engine
    magneto = carried(engine, shop.tom)
    manager, address = as_person(shop.cora), f"/shop/builds/new/?type={engine.engine_type_id}"
    page = manager.get(f"{address}&engine={engine.pk}")
    assert "Magneto, left: was it done with the engine?" in page.content.decode()
    assert chosen(page, f"accessory_{magneto.pk}") == [""]

    job = a_build(serial=engine.serial, known="known", kind="cylinder", p3_disturbed="yes", total_time_h="1200")
    unasked = manager.post(address, job)
    assert unasked.status_code == 422
    assert "carries accessories with clocks of their own" in unasked.content.decode()
    assert manager.post(address, job | {f"accessory_{magneto.pk}": ""}).status_code == 302
    assert magneto.events.count() == 1

    again = a_build(serial=engine.serial, known="known", kind="cylinder", p3_disturbed="yes", number="B-72",
                    total_time_h="1201", opened_time="04:30")  # fmt: skip
    answer = manager.post(address, again | {f"accessory_{magneto.pk}": "overhauled"})
    assert answer.status_code == 302, answer.content.decode()
    newest = magneto.events.latest("id")
    assert (newest.act, newest.total_time_h, newest.words) == ("overhauled", 1201.0, "With build B-72.")


def test_an_installation_asks_of_each_too(shop: Cast, as_person: Any) -> None:
    factories.aircraft("QX-903", shop.ada_customer)
    spare = factories.build(factories.engine(), by=shop.cora, total_time_h=980.0)
    magneto = carried(spare.engine, shop.tom)
    technician, address = as_person(shop.tom), f"/shop/engines/{spare.engine_id}/install/"
    assert "Magneto, left: was it done with the engine?" in technician.get(address).content.decode()
    answer = technician.post(address, an_install(**{f"accessory_{magneto.pk}": "replaced"}))
    assert answer.status_code == 302, answer.content.decode()
    newest = magneto.events.latest("id")
    assert (newest.act, newest.part, newest.words) == ("replaced", "M-1", "Installed in QX-903.")

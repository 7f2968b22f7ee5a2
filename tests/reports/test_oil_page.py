"""Quick oil reading: hold, add, no-go before and after it is saved; the minimum of the POH/AFM always wins."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from breakin.models import OilEvent
from engines.models import Holding, Installation
from tests import factories
from tests.factories import NOW, Cast, flown
from tests.reports.portal_forms import error_at, oil_address, value_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


def a_reading(page: Any, **changed: Any) -> dict[str, Any]:
    sent: dict[str, Any] = {
        "client_id": value_of(page, "client_id"),
        "local_date": value_of(page, "local_date"),
        "local_time": value_of(page, "local_time"),
        "oil_level": "6.5",
        "oil_level_unit": "qt",
        "minutes_since": "overnight",
        "protocol": "good",
        "belly": "none",
        "when": "before",
        **changed,
    }
    return {name: value for name, value in sent.items() if value is not None}


def test_a_reading_is_kept_and_the_answer_stands_on_top(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    page = ada.get(oil_address(shop.build_1))
    assert "No reading yet" in page.content.decode()
    answer = ada.post(oil_address(shop.build_1), a_reading(page), follow=True)
    event = OilEvent.objects.get()
    assert (event.level_qt, event.minutes_since_shutdown, event.when, event.belly_oil) == (6.5, 720, "before", 0)
    text = answer.content.decode()
    assert "Received by the shop 06:00" in text
    assert "Add nothing" in text  # 6.5 qt is above the hold line of an 8-qt sump
    assert f'<meta name="draft-done" content="oil-{shop.build_1.engine_id}">' in text


@pytest.mark.parametrize(
    ("level", "said"),
    [
        ("3.75", "Below the POH/AFM minimum: do not depart"),
        ("4.5", "Add one: straight mineral"),
        ("5.5", "Leave it"),
        ("7", "Add nothing"),
    ],
)
def test_the_advice_is_shown_before_anything_is_saved(shop: Cast, as_person, level: str, said: str) -> None:
    """An 8-qt sump with a minimum of 4 qt: add below 5, hold at 6. Worked by hand from rule O3."""
    ada = as_person(shop.ada)
    sent = a_reading(ada.get(oil_address(shop.build_1)), oil_level=level, show="1")
    answer = ada.post(oil_address(shop.build_1), sent)
    assert answer.status_code == 200
    assert said in answer.content.decode()
    assert value_of(answer, "oil_level") == level
    assert not OilEvent.objects.exists()


def test_a_longer_leg_raises_the_add_line(shop: Cast, as_person) -> None:
    """With a loss of 0.3 +/- 0.1 qt/h, 4 h ask for a margin of 1.3 x 4 x 0.4 = 2.08 qt above the minimum of 4 qt."""
    assessment = shop.build_1.assessment
    assessment.detail = {"oil": {"rate_qt_h": 0.3, "u_qt_h": 0.1, "settle_level_qt": 6.0}}
    assessment.save()
    ada = as_person(shop.ada)
    page = ada.get(oil_address(shop.build_1))
    short = ada.post(
        oil_address(shop.build_1), a_reading(page, oil_level="5.5", planned_h="1", show="1")
    ).content.decode()
    long = ada.post(
        oil_address(shop.build_1), a_reading(page, oil_level="5.5", planned_h="4:00", show="1")
    ).content.decode()
    assert "Leave it" in short
    assert "Add one" in long
    assert "6.08\u202fqt" in long
    assert "Shorter legs" in long


def test_the_minimum_wins_where_no_lines_can_be_drawn(shop: Cast, as_person) -> None:
    """A type outside the built-in rules gets no advice but its minimum."""
    log_only = factories.type_revision("PL-R7", log_only=True, dry_sump=True, sump_full_qt=32)
    shop.build_1.type_revision = log_only
    shop.build_1.save()
    ada = as_person(shop.ada)
    page = ada.get(oil_address(shop.build_1))
    low = ada.post(oil_address(shop.build_1), a_reading(page, oil_level="3", show="1")).content.decode()
    fine = ada.post(oil_address(shop.build_1), a_reading(page, oil_level="20", show="1")).content.decode()
    assert "do not depart" in low
    assert "Log only" in fine
    assert "Hold line" not in fine


def test_an_owner_in_litres_reads_litres_alone(shop: Cast, as_person) -> None:
    shop.ada.units = "si"
    shop.ada.save()
    ada = as_person(shop.ada)
    sent = a_reading(ada.get(oil_address(shop.build_1)), oil_level="6,15", oil_level_unit="L")
    text = ada.post(oil_address(shop.build_1), sent, follow=True).content.decode()
    assert OilEvent.objects.get().level_qt == pytest.approx(6.4987, abs=1e-3)
    assert "6.15\u202fL" in text
    answer = text[text.index('class="answer"') : text.index("Last entries")]
    assert "\u202fqt" not in answer


@pytest.mark.parametrize(("poured", "order"), [("after", ["reading", "addition"]), ("before", ["addition", "reading"])])
def test_reading_and_addition_are_kept_together_in_their_order(
    shop: Cast, as_person, poured: str, order: list[str]
) -> None:
    ada = as_person(shop.ada)
    told = {"added": "1", "container": "us_qt", "oil_kind": "mineral", "poured": poured}
    sent = a_reading(ada.get(oil_address(shop.build_1)), **told)
    assert ada.post(oil_address(shop.build_1), sent).status_code == 302
    assert list(OilEvent.objects.order_by("id").values_list("kind", flat=True)) == order
    assert ada.post(oil_address(shop.build_1), sent).status_code == 302
    assert OilEvent.objects.count() == 2


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [
        ({"oil_level": "14"}, "oil_level", "full mark"),
        ({"oil_level": "6,500"}, "oil_level", "could be"),
        ({"oil_level": "6 degF"}, "oil_level", "degF"),
        ({"local_time": "23:50"}, "local_time", "future"),
        ({"added": "1", "poured": "after"}, "oil_kind", "which oil"),
        (
            {"oil_level": "", "minutes_since": "", "protocol": "", "belly": ""},
            "oil_level",
            "Type what the dipstick shows",
        ),
    ],
)
def test_bad_input_stays_and_nothing_of_it_is_saved(
    shop: Cast, as_person, changed: dict[str, str], field: str, said: str
) -> None:
    ada = as_person(shop.ada)
    answer = ada.post(oil_address(shop.build_1), a_reading(ada.get(oil_address(shop.build_1)), **changed))
    assert answer.status_code == 422
    assert said in error_at(answer, field)
    assert value_of(answer, "oil_level") == changed.get("oil_level", "6.5")
    assert not OilEvent.objects.exists()


def test_half_of_a_form_is_never_saved(shop: Cast, as_person) -> None:
    """The reading is right, what was added is more than the sump: neither is kept."""
    ada = as_person(shop.ada)
    poured = {
        "added": "other",
        "amount": "60",
        "amount_sure": "60 qt",
        "amount_unit": "qt",
        "oil_kind": "mineral",
        "poured": "after",
    }
    answer = ada.post(oil_address(shop.build_1), a_reading(ada.get(oil_address(shop.build_1)), **poured))
    assert "sump" in error_at(answer, "amount")
    assert not OilEvent.objects.exists()


def test_a_changed_resend_is_refused_and_can_go_as_another_reading(shop: Cast, as_person) -> None:
    ada = as_person(shop.ada)
    page = ada.get(oil_address(shop.build_1))
    ada.post(oil_address(shop.build_1), a_reading(page))
    other = a_reading(page, oil_level="6.25")
    answer = ada.post(oil_address(shop.build_1), other)
    assert "sent before, with other content" in answer.content.decode()
    again = {**other, "as_new": "1", "new_client_id": value_of(answer, "new_client_id")}
    assert ada.post(oil_address(shop.build_1), again).status_code == 302
    assert set(OilEvent.objects.values_list("level_qt", flat=True)) == {6.25, 6.5}


def test_who_may_read_and_add(shop: Cast, as_person) -> None:
    assert as_person(shop.ben).get(oil_address(shop.build_1)).status_code == 404
    Holding.objects.filter(aircraft=shop.aircraft_1).update(until=NOW - timedelta(days=1))
    assert as_person(shop.ada).get(oil_address(shop.build_1)).status_code == 403
    assert as_person(shop.tom).get(oil_address(shop.build_1)).status_code == 200


def test_an_engine_in_no_aircraft_says_so_to_the_shop(shop: Cast, as_person) -> None:
    Installation.objects.filter(engine=shop.build_1.engine).update(until=NOW - timedelta(days=1))
    assert "sits in no aircraft" in as_person(shop.tom).get(oil_address(shop.build_1)).content.decode()


def test_entries_before_are_listed_with_a_way_to_fix_ones_own(shop: Cast, as_person) -> None:
    flown(shop.build_1, 1.0, at=NOW - timedelta(days=1), level_qt=7.0)
    event = OilEvent.objects.get()
    text = as_person(shop.ada).get(oil_address(shop.build_1)).content.decode()
    assert "Dipstick 7.00\u202fqt, after the flight" in text
    assert f"/oil/{event.pk}/correct/" in text

"""Two entries of one flight on the page where the shop says which one counts."""

from __future__ import annotations

import html
from datetime import timedelta
from typing import Any

import pytest

from breakin import assess
from breakin.models import Assessment, Finding, Flight, MergeDecision
from shop.models import Role
from tests import factories
from tests.factories import NOW, Cast, flown
from tests.reports.acts import error_at, value_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]

ENDED = NOW - timedelta(days=2)


@pytest.fixture
def pair(shop: Cast) -> tuple[Flight, Flight]:
    """One flight of 1.2 h, logged by its owner and by a technician who wrote 1.0 h a little later."""
    first = flown(shop.build_1, 1.2, at=ENDED, level_qt=7).flight
    second = flown(shop.build_1, 1.0, at=ENDED + timedelta(minutes=6), by=shop.tom, meter_end=101.0).flight
    assess.assess_build(shop.build_1.pk, NOW)
    return first, second


def at(shop: Cast) -> str:
    return f"/shop/aircraft/{shop.aircraft_1.pk}/merge/"


def choice(kept: Flight, **more: str) -> dict[str, str]:
    return {"kept": str(kept.root), "reason": "Tom wrote it down from the phone", **more}


def test_the_page_shows_both_entries_side_by_side(shop: Cast, pair: tuple[Flight, Flight], as_person: Any) -> None:
    text = html.unescape(as_person(shop.tom).get(at(shop)).content.decode())
    for said in ("Entered by ada", "Entered by tom", "Evidence", "tach 101.2", "tach 101.0", "Until it is decided"):
        assert said.lower() in text.lower(), said
    assert "Merge them" not in text  # first one looks at what it changes


def test_a_look_shows_the_hours_that_change_and_keeps_nothing(
    shop: Cast, pair: tuple[Flight, Flight], as_person: Any
) -> None:
    hours = Assessment.objects.get(build=shop.build_1).hours
    answer = as_person(shop.tom).post(at(shop), choice(pair[1], preview="1"))
    text = html.unescape(answer.content.decode())

    assert answer.status_code == 200
    changed = text[text.index("What would change, build") : text.index("What would stay")]
    assert "1.2\u202fh" in changed
    assert "1.0\u202fh" in changed
    assert "Findings that would go" in changed
    assert "Possible duplicate" in changed
    assert not MergeDecision.objects.exists()
    assert Assessment.objects.get(build=shop.build_1).hours == hours


def test_what_was_looked_at_is_merged(shop: Cast, pair: tuple[Flight, Flight], as_person: Any) -> None:
    first, second = pair
    tom = as_person(shop.tom)
    looked = value_of(tom.post(at(shop), choice(second, preview="1")), "looked")

    other = tom.post(at(shop), choice(first, looked=looked))
    assert other.status_code == 200
    assert not MergeDecision.objects.exists()

    assert tom.post(at(shop), choice(second, looked=looked)).status_code == 302
    decision = MergeDecision.objects.get()
    assert (decision.kept_root, decision.dropped_root, decision.by) == (second.root, first.root, shop.tom)
    assert decision.reason == "Tom wrote it down from the phone"
    assess.assess_build(shop.build_1.pk, NOW)
    assert Assessment.objects.get(build=shop.build_1).hours == pytest.approx(1.0)
    assert Flight.objects.filter(root__in=[first.root, second.root]).count() == 2
    assert "No two entries look like the same flight." in tom.get(at(shop)).content.decode()


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [({"reason": " "}, "reason", "The reason is missing"), ({"kept": ""}, "kept", "Choose one of the two")],
)
def test_a_choice_and_a_reason_are_needed(
    shop: Cast, pair: tuple[Flight, Flight], as_person: Any, changed: dict[str, str], field: str, said: str
) -> None:
    answer = as_person(shop.tom).post(at(shop), {**choice(pair[0]), **changed})
    assert answer.status_code == 422
    assert said in error_at(answer, field)
    assert not MergeDecision.objects.exists()


def test_the_engine_page_and_the_shop_lead_there(shop: Cast, pair: tuple[Flight, Flight], as_person: Any) -> None:
    assert Finding.objects.filter(title="Possible duplicate").exists()
    tom = as_person(shop.tom)
    engine = tom.get(f"/engines/{shop.build_1.engine_id}/").content.decode()
    assert engine.count(f'href="{at(shop)}"') == 2
    assert f'href="{at(shop)}"' in tom.get("/shop/").content.decode()
    assert at(shop) not in as_person(shop.ada).get(f"/engines/{shop.build_1.engine_id}/").content.decode()


def test_each_of_the_two_says_so_on_the_timeline_and_leads_there_who_may_merge(
    shop: Cast, pair: tuple[Flight, Flight], as_person: Any
) -> None:
    counts, left_out = pair
    page = f"/engines/{shop.build_1.engine_id}/"
    link = f'href="{at(shop)}?pair={counts.root}~{left_out.root}"'
    text = html.unescape(as_person(shop.tom).get(page).content.decode())
    for flight, said in ((counts, "counts until it is decided"), (left_out, "left out")):
        line = text[text.index(f'id="fact-{flight.root}"') :]
        line = line[: line.index("</li>")]
        assert "Possible duplicate: " in line
        assert said in line
        assert link in line
    owner = html.unescape(as_person(shop.ada).get(page).content.decode())
    assert "Possible duplicate: left out." in owner
    assert "/merge/" not in owner


def test_only_the_shop_merges(shop: Cast, pair: tuple[Flight, Flight], as_person: Any) -> None:
    signatory = factories.person("Signe", role=Role.SIGNATORY)
    for person, status in ((shop.ada, 403), (shop.ben, 404), (signatory, 200), (shop.cora, 200)):
        assert as_person(person).post(at(shop), choice(pair[0], preview="1")).status_code == status


def test_a_pair_of_another_aircraft_is_not_offered(shop: Cast, pair: tuple[Flight, Flight], as_person: Any) -> None:
    address = f"/shop/aircraft/{shop.aircraft_2.pk}/merge/?pair={pair[0].root}~{pair[1].root}"
    answer = as_person(shop.tom).post(address, choice(pair[0]))
    assert answer.status_code == 422
    assert "no longer a possible duplicate" in answer.content.decode()
    assert not MergeDecision.objects.exists()

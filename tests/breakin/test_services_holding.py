"""An aircraft is sold: the cut-off, who sees what, who is told, and the board's words."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from breakin import assess
from breakin.models import Assessment, Flight, FlightEngine
from breakin.notices.people import concerned
from breakin.services.holding import transfer
from engines.models import Holding, PilotAssignment
from shop import access
from shop.errors import Refusal
from shop.models import AuditEvent
from tests import factories
from tests.api.doors import user_of
from tests.factories import LONG_AGO, NOW, Cast, cast, flown

pytestmark = pytest.mark.django_db
SOLD = NOW - timedelta(days=10)


@pytest.fixture
def shop(db: None) -> Cast:
    made = cast()
    flown(made.build_1, 1.2, at=SOLD - timedelta(days=2), level_qt=6.0, by=made.ada, note="my words")
    return made


def sell(shop: Cast, **more) -> Holding:
    wanted = {"customer": shop.ben_customer, "at": SOLD, "reason": "Sold.", **more}
    return transfer(by=shop.cora, aircraft=shop.aircraft_1, now=NOW, **wanted)


def test_the_old_holding_ends_where_the_new_one_begins(shop: Cast) -> None:
    new = sell(shop)
    old = Holding.objects.get(aircraft=shop.aircraft_1, customer=shop.ada_customer)
    assert (old.until, new.since, new.until) == (SOLD, SOLD, None)
    assert AuditEvent.objects.get(act="transfer").detail["reason"] == "Sold."


def test_the_old_holder_keeps_his_flights_and_the_new_one_sees_them_without_words(shop: Cast) -> None:
    """Sold during break-in: history stays with the engine, access goes by period."""
    sell(shop)
    after = flown(shop.build_1, 1.0, at=SOLD + timedelta(days=1), level_qt=6.0, by=shop.ben)
    of_ada = access.visible_to(user_of(shop.ada), Flight.objects.all())
    assert after.flight.pk not in of_ada.values_list("pk", flat=True)
    assert of_ada.count() == 1
    seen = access.visible_to(user_of(shop.ben), Flight.objects.filter(aircraft=shop.aircraft_1))
    assert {row.pk: vars(row)["is_own"] for row in seen} == {of_ada.get().pk: False, after.flight.pk: True}
    engines = access.visible_to(user_of(shop.ben), FlightEngine.objects.filter(engine=shop.build_1.engine))
    assert engines.count() == 2


def test_what_is_due_goes_to_the_new_holder(shop: Cast) -> None:
    sell(shop)
    crew = concerned([shop.build_1], timezone.now()).crew(shop.build_1)
    assert crew.flies(shop.ben.pk)
    assert not crew.flies(shop.ada.pk)


def test_the_board_names_the_new_holder(shop: Cast) -> None:
    sell(shop)
    assess.assess_build(shop.build_1.pk, NOW)
    assert Assessment.objects.get(build=shop.build_1).customer_name == shop.ben_customer.name


@pytest.mark.parametrize(("end", "until"), [(True, SOLD), (False, None)])
def test_assigned_pilots_end_with_the_old_holder_unless_told_otherwise(shop: Cast, end: bool, until) -> None:
    pilot = factories.person("Corin")
    PilotAssignment.objects.create(aircraft=shop.aircraft_1, person=pilot, since=LONG_AGO)
    sell(shop, end_assignments=end)
    assert PilotAssignment.objects.get().until == until


@pytest.mark.parametrize(
    ("wanted", "field", "says"),
    [
        ({"at": NOW + timedelta(hours=1)}, "at", "future"),
        ({"at": LONG_AGO}, "at", "holds it only since"),
        ({"reason": " "}, "reason", "reason"),
    ],
)
def test_what_cannot_be_is_refused(shop: Cast, wanted, field: str, says: str) -> None:
    with pytest.raises(Refusal, match=says) as refused:
        sell(shop, **wanted)
    assert refused.value.problems[0].field == field
    assert Holding.objects.filter(aircraft=shop.aircraft_1).count() == 1


def test_to_the_same_holder_and_back_before_the_last_sale_are_refused(shop: Cast) -> None:
    with pytest.raises(Refusal, match="already"):
        sell(shop, customer=shop.ada_customer)
    sell(shop)
    with pytest.raises(Refusal, match="only since"):
        sell(shop, customer=shop.ada_customer, at=SOLD - timedelta(days=1))


def test_reference_data_changed_by_hand_marks_the_builds_it_shows_on(shop: Cast) -> None:
    for change in (
        Holding.objects.get(aircraft=shop.aircraft_1), shop.ada_customer, shop.aircraft_1, shop.place,
        shop.ada_customer.members.get(),
    ):  # fmt: skip
        Assessment.objects.update(dirty_at=None)
        change.save()
        assert Assessment.objects.get(build=shop.build_1).dirty_at is not None, change
    assert Assessment.objects.get(build=shop.build_2).dirty_at is None  # of the member of another customer

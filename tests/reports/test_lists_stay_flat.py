"""Lists that do not grow with the fleet: no more queries for more builds, and no reading through a whole table."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from breakin.models import Assessment, DueItem
from engines.models import Aircraft
from reports.fleet.board_query import LIVE
from reports.fleet.today import ASKING, IN_ORDER
from shop import access
from tests import factories
from tests.factories import Cast

pytestmark = pytest.mark.django_db

LISTS = ["/today/", "/notices/", "/rules/", "/people/", "/portal/", "/api/v1/due/", "/api/v1/board/"]


def _more(number: int, shop: Cast) -> None:
    """One more customer with an engine that asks for an oil reading."""
    name = f"QX-8{number:02d}"
    owner = factories.person(f"Owner {number}")
    aircraft = factories.aircraft(name, factories.customer(f"Customer {number}", owner))
    build = factories.build(factories.engine(serial=f"N-{number}"), by=shop.cora)
    factories.seat(build.engine, aircraft, by=shop.cora)
    factories.flown(build, 1.2)


@pytest.mark.parametrize("address", LISTS)
def test_a_list_asks_as_often_for_many_builds_as_for_few(address: str, shop: Cast, as_person: Any) -> None:
    reader = as_person(shop.cora)

    def asked() -> int:
        reader.get(address)
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert reader.get(address).status_code == 200
        return len(queries)

    for number in range(2):
        _more(number, shop)
    few = asked()
    for number in range(2, 6):
        _more(number, shop)
    assert asked() <= few


@pytest.mark.skipif(connection.vendor != "sqlite", reason="the plan of SQLite, which keeps no statistics here")
def test_what_a_customer_sees_is_looked_for_from_the_person_on(shop: Cast) -> None:
    user = shop.ada.user
    assert user is not None
    for rows in (
        access.held_now(user, Aircraft.objects.all()),
        access.visible_to(user, Aircraft.objects.all()),
        access.visible_to(user, DueItem.objects.order_by("pk")),
    ):
        assert "SCAN" not in rows.explain().replace("LIST SUBQUERY", "")
    keys = Assessment.objects.filter(**ASKING).order_by(*IN_ORDER).values_list(*IN_ORDER)
    assert "USING COVERING INDEX today_order" in keys.explain()
    assert "TEMP B-TREE" not in keys.explain()
    assert "board_order" in Assessment.objects.filter(**LIVE).order_by("sort_key", "id").explain()

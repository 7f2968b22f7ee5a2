"""Assessing: what is written, that twice writes nothing, and that a Stop shows at once."""

from __future__ import annotations

from datetime import timedelta

import pytest

from breakin import assess
from breakin.models import Assessment, AssessmentDay, DueItem, Finding, Lane, LaneCount, Phase
from tests.factories import NOW, Cast, cast, flown

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Cast:
    return cast()


def _everything() -> list[object]:
    rows: list[object] = []
    for model in (Assessment, AssessmentDay, Finding, DueItem, LaneCount):
        rows += list(model.objects.order_by("pk").values())
    return rows


def test_a_flight_moves_the_build_from_not_flying_to_its_first_hours(shop: Cast) -> None:
    now = NOW
    assess.assess_build(shop.build_1.pk, now)
    assert Assessment.objects.get(build=shop.build_1).phase == Phase.AWAITING
    flown(shop.build_1, 1.2, level_qt=7.5)
    assert assess.assess_build(shop.build_1.pk, now)
    row = Assessment.objects.get(build=shop.build_1)
    assert (row.phase, row.lane, row.hours) == (Phase.HOUR_1, Lane.RUNNING, pytest.approx(1.2))
    assert row.dirty_at is None


def test_assessing_twice_writes_nothing_the_second_time(shop: Cast) -> None:
    now = NOW
    for _ in range(4):
        flown(shop.build_1, 1.2, level_qt=7.0)
    assert assess.assess_build(shop.build_1.pk, now)
    before = _everything()
    assert not assess.assess_build(shop.build_1.pk, now)
    assert not assess.assess_build(shop.build_1.pk, now + timedelta(seconds=1))
    assert _everything() == before

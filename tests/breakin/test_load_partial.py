"""A partial build brings the readings of the time before it, and no other build does."""

from __future__ import annotations

from datetime import timedelta

import pytest

from breakin.load import load
from breakin.picture.oil_before import rate_before
from breakin.record import BuildRecord
from engines.models import Build, BuildKind
from tests import factories

pytestmark = pytest.mark.django_db
CHANGED = factories.NOW - timedelta(days=20)


def _as(build: Build, kind: str) -> BuildRecord:
    """The same engine with a build of this kind opened after the readings, three of four cylinders left alone."""
    Build.objects.filter(pk=build.pk).update(kind=kind, opened_at=CHANGED)
    build.positions.exclude(number=3).update(disturbed=False)
    return load([build.pk], factories.NOW)[build.pk]


def test_the_readings_before_a_cylinder_change_are_loaded_and_give_the_rate_before() -> None:
    build = factories.cast().build_1
    for number, quarts in enumerate((6.0, 6.0, 5.75, 5.75, 5.5), 1):
        factories.flown(build, 1.5, at=CHANGED - timedelta(days=10 - number), level_qt=quarts)

    partial = _as(build, BuildKind.CYLINDER)
    before = rate_before(partial)

    assert not partial.oil
    assert (len(partial.earlier_oil), len(partial.earlier_runs)) == (5, 5)
    assert before is not None
    assert before.rate == pytest.approx(0.5 / 6.0, abs=0.03)
    assert set(before.roots) <= {str(row.root) for row in partial.earlier_oil}


def test_another_kind_of_build_asks_for_nothing_before_it() -> None:
    build = factories.cast().build_1
    factories.flown(build, 1.5, at=CHANGED - timedelta(days=2), level_qt=6.0)

    whole = _as(build, BuildKind.OVERHAUL)

    assert (whole.earlier_oil, whole.earlier_runs) == ((), ())
    assert rate_before(whole) is None

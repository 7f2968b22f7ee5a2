"""What tests/conftest.py promises to the other tests: these two would fail one after the other without it."""

import pytest
from django.core.cache import cache
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from shop import guards
from shop.models import AuditEvent


def write_guarded_row() -> AuditEvent:
    return AuditEvent.objects.create(at=timezone.now(), act="test", subject="none", subject_id="0")


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("turn", [1, 2])
def test_a_committed_fact_is_gone_in_the_next_test_and_the_guards_are_back(turn: int) -> None:
    assert not AuditEvent.objects.exists()
    row = write_guarded_row()
    assert guards.installed(connection) == set(guards.guarded_tables())
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        AuditEvent.objects.filter(pk=row.pk).delete()
    assert AuditEvent.objects.count() == 1


@pytest.mark.parametrize("turn", [1, 2])
def test_the_cache_is_empty_at_the_start_of_each_test(turn: int) -> None:
    assert cache.get("counted") is None
    cache.set("counted", turn)

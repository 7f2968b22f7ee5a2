"""Fact tables refuse UPDATE and DELETE in the database itself, on both databases."""

from __future__ import annotations

import pytest
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from shop import guards
from shop.facts import Fact
from shop.models import AuditEvent

pytestmark = pytest.mark.django_db


def _event() -> AuditEvent:
    return AuditEvent.objects.create(at=timezone.now(), act="try", subject="test", subject_id="1")


def test_every_fact_table_is_guarded_after_all_migrations() -> None:
    assert guards.installed(connection) >= set(guards.guarded_tables())


def test_every_model_that_is_a_fact_stands_on_the_list() -> None:
    facts = {f"{model._meta.app_label}.{model.__name__}" for model in Fact.__subclasses__()}

    assert facts <= set(guards.APPEND_ONLY)


def test_an_update_is_refused_and_the_row_stays() -> None:
    event = _event()

    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        AuditEvent.objects.filter(pk=event.pk).update(act="other")

    event.refresh_from_db()
    assert event.act == "try"


def test_a_delete_is_refused_and_the_row_stays() -> None:
    event = _event()

    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        AuditEvent.objects.filter(pk=event.pk).delete()

    assert AuditEvent.objects.filter(pk=event.pk).exists()


def test_installing_twice_changes_nothing() -> None:
    before = guards.installed(connection)

    guards.install(connection)

    assert guards.installed(connection) == before

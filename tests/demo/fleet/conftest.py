"""The demo fleet, loaded once for the tests of this folder; rolled back before others ask for an empty book."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from django.db import transaction

from reports.demo.load import load

NOW = datetime(2026, 11, 20, 18, 30, tzinfo=UTC)


@pytest.fixture(scope="package")
def fleet(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """Each test works inside a savepoint."""
    with django_db_blocker.unblock(), transaction.atomic():
        load(NOW)
        yield
        transaction.set_rollback(True)

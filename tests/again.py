"""Making the same rows again without the work that made them the first time.

The standing cast goes through the services, as people's entries do; hundreds of tests ask for it. The first one pays;
for the others the rows are put back as they were.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any, TypeVar

from django.apps import apps
from django.db import connection, models
from django.utils import timezone

Made = TypeVar("Made")
OURS = ("shop", "engines", "breakin", "mfa")

_kept: dict[object, tuple[Any, list[list[models.Model]]]] = {}


def _tables() -> list[type[models.Model]]:
    return [
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.app_label in OURS and model._meta.managed
    ]


def _empty() -> bool:
    """Whether no table of ours holds a row: one query for all of them."""
    names = (connection.ops.quote_name(model._meta.db_table) for model in _tables())
    with connection.cursor() as cursor:
        cursor.execute("SELECT " + " OR ".join(f"EXISTS (SELECT 1 FROM {name})" for name in names))  # noqa: S608
        return not cursor.fetchone()[0]


def made_again(make: Callable[[], Made]) -> Made:
    """What `make` returns, with all rows it writes; from the second time on without calling it.

    Called as written where a row exists already, or while a test has moved the clock to another moment than the first
    time's.
    """
    frozen = timezone.now()
    key = (make, frozen if timezone.now() == frozen else None)
    if not _empty():
        return make()
    if key not in _kept:
        made = make()
        rows = [list(model._base_manager.all()) for model in _tables()]
        _kept[key] = copy.deepcopy((made, [row for row in rows if row]))
        return made
    made, rows = copy.deepcopy(_kept[key])
    # Rows may point at one another in a circle; foreign keys are looked at when the transaction ends.
    for of_one_table in rows:
        type(of_one_table[0])._base_manager.bulk_create(of_one_table)
    return made

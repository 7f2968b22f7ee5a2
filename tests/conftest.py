"""What every test has: guards that let a test database be emptied, an empty cache, and skips that say why."""

import os
import shutil
from collections.abc import Iterator
from typing import Any

import pytest
from django.conf import settings
from django.core.cache import cache
from django.db import connection, connections
from django.test import TransactionTestCase
from hypothesis import settings as hypothesis_settings
from xdist.scheduler import LoadFileScheduling

from shop import guards

hypothesis_settings.register_profile("quick", deadline=None)
hypothesis_settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
hypothesis_settings.load_profile("ci" if os.environ.get("CI") else "quick")


DEMO_FLEET = "tests/demo/fleet"  # loaded once for all files of this folder

# Numbers, words, prints and pages, which no database changes: the run on PostgreSQL leaves them out. What asks a
# database for more stays in both: services, notices, the interface, access, and of the pages lists and acts.
ON_ANY_DATABASE = (
    "tests/calc/", "tests/reference/", "tests/browser/", f"{DEMO_FLEET}/", "tests/reports/",
    "tests/shop/test_catalogues",
)  # fmt: skip
PAGES_ON_BOTH = tuple(
    f"tests/reports/test_{name}" for name in (
        "acts_", "board", "calendar", "exposure", "import", "lists", "log_flight.py", "notices", "outbox", "portal",
        "recording_upload", "rules", "today", "what_if",
    )
)  # fmt: skip


class ByRoom(LoadFileScheduling):
    """A file of tests stays in one process, as does the folder whose files share the demo fleet."""

    def _split_scope(self, nodeid: str) -> str:
        return DEMO_FLEET if nodeid.startswith(DEMO_FLEET) else super()._split_scope(nodeid)


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> ByRoom:
    return ByRoom(config, log)


def _longest_first(item: pytest.Item) -> int:
    """Where a test goes in a parallel run, so that no process is left alone with the longest file at the end."""
    if item.nodeid.startswith(DEMO_FLEET):
        return 0
    return 1 if item.get_closest_marker("slow") or item.get_closest_marker("browser") else 2


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    on_sqlite = connection.vendor == "sqlite"
    without_redis = not settings.TEST_REDIS_URL
    without_chromium = not any(map(shutil.which, ("chromium", "chromium-browser"))) and "CHROMIUM" not in os.environ
    for item in items:
        if item.nodeid.startswith(ON_ANY_DATABASE) and not item.nodeid.startswith(PAGES_ON_BOTH):
            item.add_marker(pytest.mark.any_database)
        if "browser" in item.path.name or "browser" in item.path.parent.name:
            item.add_marker(pytest.mark.browser)
            if without_chromium:
                item.add_marker(pytest.mark.skip(reason="needs Chromium (CHROMIUM names one)"))
        if without_redis and item.get_closest_marker("redis"):
            item.add_marker(pytest.mark.skip(reason="needs Redis (REDIS_URL)"))
        if on_sqlite and item.get_closest_marker("postgresql"):
            item.add_marker(pytest.mark.skip(reason="needs PostgreSQL (DATABASE_URL)"))
    if "PYTEST_XDIST_WORKER" in os.environ:
        items.sort(key=_longest_first)


@pytest.fixture(scope="session", autouse=True)
def _guards_let_a_flush_through() -> Iterator[None]:
    """Tests that commit empty every table afterwards, which the guards of fact tables would refuse."""
    case: Any = TransactionTestCase
    flush = case._fixture_teardown

    def unguarded(self: Any) -> None:
        guarded = [connections[name] for name in self._databases_names(include_mirrors=False)]
        for database in guarded:
            guards.remove(database)
        try:
            flush(self)
        finally:
            for database in guarded:
                guards.install(database)

    case._fixture_teardown = unguarded
    yield
    case._fixture_teardown = flush


@pytest.fixture(autouse=True)
def _empty_cache() -> None:
    """Rate limits are counted in the cache; none may reach from one test into another."""
    cache.clear()

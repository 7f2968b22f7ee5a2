"""The demo shows on request what a missing nightly run looks like."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.utils import timezone

from breakin.jobs import NIGHTLY, night_is_missing, night_of
from reports.freshness import freshness
from reports.management.commands import demo
from shop.models import JobRun, JobState

pytestmark = pytest.mark.django_db


@pytest.fixture
def empty_demo(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path
    monkeypatch.setattr(demo, "load", lambda now, only: [])


@pytest.mark.usefixtures("empty_demo")
def test_a_stale_demo_says_that_the_nightly_run_is_old_and_no_other_follows_today() -> None:
    now = timezone.now()
    run = {"name": NIGHTLY, "state": JobState.FINISHED, "started_at": now, "finished_at": now}
    JobRun.objects.create(occurrence=night_of(now - timedelta(days=1)), **run)

    call_command("demo", "--stale", "--quiet")

    found = freshness(now)
    assert found.stale
    assert "more than 26 hours old" in found.words
    assert not night_is_missing(now)


@pytest.mark.usefixtures("empty_demo")
def test_without_asking_for_it_the_demo_leaves_the_nightly_run_alone() -> None:
    call_command("demo", "--quiet")

    assert not JobRun.objects.exists()

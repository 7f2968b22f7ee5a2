"""The health page, for a monitor that cannot sign in."""

import time
from datetime import timedelta

import pytest
from django.db import DatabaseError
from django.test import Client
from django.utils import timezone

from shop.models import JobRun

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _long_started(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WEB_STARTED_AT", str(time.time() - 86_400))


def ran(seconds_ago: float, name: str = "tick", finished: bool = True) -> None:
    at = timezone.now() - timedelta(seconds=seconds_ago)
    JobRun.objects.create(name=name, occurrence=str(at), started_at=at, finished_at=at if finished else None)


def test_a_minutely_job_that_ran_lately_is_healthy(client: Client) -> None:
    ran(20_000)
    ran(30)
    answer = client.get("/healthz")
    assert answer.status_code == 200
    assert answer.json()["status"] == "ok"
    assert 30 <= answer.json()["tick_age_seconds"] < 40


def test_a_minutely_job_that_ran_long_ago_is_a_fault(client: Client) -> None:
    ran(301)
    answer = client.get("/healthz")
    assert answer.status_code == 503
    assert (answer.json()["database"], answer.json()["tick"]) == ("ok", "late")


def test_neither_another_job_nor_one_that_did_not_end_counts(client: Client) -> None:
    ran(10, name="nightly")
    ran(10, finished=False)
    assert client.get("/healthz").status_code == 503


def test_after_a_start_the_job_has_time_for_its_first_run(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WEB_STARTED_AT", str(time.time() - 100))
    answer = client.get("/healthz")
    assert answer.status_code == 200
    assert answer.json()["tick"] == "starting"


def test_a_database_that_does_not_answer_is_a_fault(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(**conditions: object) -> None:
        raise DatabaseError("no answer")

    monkeypatch.setattr(JobRun.objects, "filter", refuse)
    answer = client.get("/healthz")
    assert answer.status_code == 503
    assert answer.json() == {"status": "fault", "database": "fault", "tick": "not known"}


def test_the_answer_is_not_cached_and_only_read(client: Client) -> None:
    assert "no-store" in client.get("/healthz").headers["Cache-Control"]
    assert client.post("/healthz").status_code == 405

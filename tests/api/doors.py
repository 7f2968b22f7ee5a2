"""How a test speaks to the programming interface."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

from django.utils import timezone
from rest_framework.test import APIClient

from engines.models import Engine
from shop.models import Person, User

Answer = Any  # of either test client; both can .json()


def user_of(person: Person) -> User:
    assert person.user is not None
    return person.user


class Api:
    def __init__(self, client: APIClient) -> None:
        self.client = client

    def get(self, path: str, **query: Any) -> Answer:
        return self.client.get(f"/api/v1/{path}", query)

    def post(self, path: str, data: Any) -> Answer:
        return self.client.post(f"/api/v1/{path}", data, format="json")


def a_flight(of: Engine, registration: str, **more: Any) -> dict[str, Any]:
    """A flight of 1.2 h that ended an hour ago, with one reading; `more` names what differs, "engine" in its row."""
    row = {
        "engine_id": of.pk,
        "meter_end": 101.2,
        "oil": [{"kind": "reading", "when": "after", "level": 6.5, "minutes_since_shutdown": 20}],
        **more.pop("engine", {}),
    }
    return {
        "client_id": str(uuid.uuid4()),
        "aircraft": registration,
        "ended_at": (timezone.now() - timedelta(hours=1)).isoformat(),
        "airborne": "1:12",
        "engines": [row],
        **more,
    }


def a_reading(**more: Any) -> dict[str, Any]:
    return {"client_id": str(uuid.uuid4()), "kind": "reading", "level": 6.5, "minutes_since_shutdown": 20, **more}


def said(answer: Answer) -> dict[str, str]:
    """Field: first message, of a refusal."""
    rows: dict[str, str] = {}
    for problem in answer.json()["problems"]:
        assert set(problem) == {"field", "message"}
        rows.setdefault(problem["field"], problem["message"])
    assert set(answer.json()) == {"code", "problems"}
    return rows

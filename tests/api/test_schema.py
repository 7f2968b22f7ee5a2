"""The schema is valid and complete, and the interface keeps to it whatever is sent."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.management import call_command
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from django.test import Client
from django.urls import get_resolver
from django.utils import timezone
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from shop.services import create_token
from shop.wsgi import application
from tests import factories
from tests.api.doors import user_of

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # other people's deprecations
    import schemathesis
    from schemathesis import GenerationMode
    from schemathesis.checks import not_a_server_error
    from schemathesis.specs.openapi.checks import (
        content_type_conformance,
        negative_data_rejection,
        response_schema_conformance,
        status_code_conformance,
    )

pytestmark = [pytest.mark.django_db, pytest.mark.slow]

OPERATIONS = [
    "me", "board", "due_items", "engine", "mark_bounced", "log_flight", "add_oil_event", "recordings",
    "send_recording", "recording", "recording_columns", "close_outs", "close_out_document", "confirm_columns",
    "flight_candidates", "match_flight", "log_recorded_flight",
]  # fmt: skip


def test_the_schema_is_valid_and_nothing_in_it_is_guessed() -> None:
    written = io.StringIO()

    call_command("spectacular", "--validate", "--fail-on-warn", stdout=written)

    assert "openapi: 3.1" in written.getvalue()


def test_every_door_is_in_the_schema(client: Client) -> None:
    described = client.get("/api/v1/schema/", headers={"Accept": "application/json"}).json()

    operations = {each["operationId"]: each for path in described["paths"].values() for each in path.values()}
    assert sorted(operations) == sorted(OPERATIONS)
    for name, operation in operations.items():
        assert operation["security"] == [{"token": []}, {"cookieAuth": []}], name
        assert {"401", "403", "429"} <= set(operation["responses"]), name
        assert operation["description"], name
    addresses = [str(row.pattern) for row in get_resolver("reports.urls_api").url_patterns]
    assert len(described["paths"]) == len(addresses) - 3, "without the schema itself and what is nowhere"


def _loaded() -> Any:
    return schemathesis.openapi.from_wsgi("/api/v1/schema/?format=json", application)


@pytest.fixture
def _one_connection() -> Iterator[None]:
    """A request ends with closing its connection, which here is the one that the test's transaction lives in."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.mark.filterwarnings("ignore")
@pytest.mark.usefixtures("_one_connection")
@pytest.mark.parametrize("operation_id", OPERATIONS)
@pytest.mark.parametrize("who", ["ada", "cora"])
@pytest.mark.parametrize("mode", [GenerationMode.POSITIVE, GenerationMode.NEGATIVE], ids=["fits", "does not fit"])
def test_whatever_is_sent_the_answer_is_one_of_the_schema(mode: Any, who: str, operation_id: str) -> None:
    """Owner and manager, with what fits the schema and what does not: never a 5xx, never an undescribed answer."""
    cast = factories.cast()
    person = getattr(cast, who)
    _, secret = create_token(user=user_of(person), name="t", scope="write", now=timezone.now())
    operation = next(
        each.ok() for each in _loaded().get_all_operations() if each.ok().definition.raw["operationId"] == operation_id
    )
    checks = [not_a_server_error, status_code_conformance, content_type_conformance, response_schema_conformance]
    if mode is GenerationMode.NEGATIVE:
        checks.append(negative_data_rejection)
    answers: set[int] = set()

    @seed(20)
    @settings(
        max_examples=5, derandomize=True, database=None, deadline=None, suppress_health_check=list(HealthCheck),
        phases=[Phase.explicit, Phase.generate],
    )  # fmt: skip
    @given(case=operation.as_strategy(generation_mode=mode), own=st.booleans())
    def speak(case: Any, own: bool) -> None:
        if own and "engine_id" in (case.path_parameters or {}) and mode is GenerationMode.POSITIVE:
            case.path_parameters["engine_id"] = cast.build_1.engine_id
        if own and mode is GenerationMode.POSITIVE and isinstance(case.body, dict) and "aircraft" in case.body:
            case.body["aircraft"] = "QX-901"
        answer = case.call(headers={"Authorization": f"Bearer {secret}"})
        answers.add(answer.status_code)
        case.validate_response(answer, checks=checks)

    speak()
    assert answers

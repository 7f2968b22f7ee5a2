"""The next-flight card: what to set, for the aircraft's own people, on the field and in the air that were typed."""

import json
from typing import Any

import pytest
from django.test import Client

from breakin import assess
from engines.models import Aircraft
from tests import factories
from tests.calc.test_charts import FOLDER
from tests.factories import NOW, Cast

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture
def charted(shop: Cast) -> Aircraft:
    """Ada's second aircraft: its engine is of a type with the power chart of the teaching type."""
    chart = json.loads((FOLDER / "TAV-4E.json").read_text(encoding="utf-8"))
    of = factories.engine(factories.type_revision("TAV-4E with chart", chart=chart))
    into = factories.aircraft("QX-903", shop.ada_customer)
    build = factories.build(of, by=shop.cora, number="B-903")
    factories.seat(of, into, by=shop.tom)
    assess.assess_build(build.pk, NOW)
    return into


def text_of(client: Client, aircraft_id: int, **typed: str) -> str:
    answer = client.get(f"/portal/aircraft/{aircraft_id}/card/", typed)
    assert answer.status_code == 200
    return answer.content.decode()


def test_an_owner_reads_the_card_of_his_own_aircraft_only(shop: Cast, as_person: Any, charted: Aircraft) -> None:
    said = text_of(as_person(shop.ada), charted.pk)
    assert "POH/AFM win over this card" in said
    assert as_person(shop.ben).get(f"/portal/aircraft/{charted.pk}/card/").status_code == 404


def test_the_card_says_manifold_pressure_for_cold_standard_and_hot_air(
    shop: Cast, as_person: Any, charted: Aircraft
) -> None:
    said = text_of(as_person(shop.ada), charted.pk, elevation="300")
    assert "What to set" in said
    for day in ("cold", "standard", "hot"):
        assert f'<th scope="row">{day}<span' in said
    assert '<th scope="row">today<span' not in said
    assert '<th scope="row">today<span' in text_of(as_person(shop.ada), charted.pk, oat="70 F")


def test_a_high_hot_field_is_not_achievable_and_says_what_would_do(
    shop: Cast, as_person: Any, charted: Aircraft
) -> None:
    said = text_of(as_person(shop.ada), charted.pk, elevation="6480", oat="95 F")
    assert "Not achievable today" in said
    assert "Lower field" in said
    assert "Not achievable today" not in text_of(as_person(shop.ada), charted.pk, elevation="300", oat="50 F")


@pytest.mark.parametrize(("box", "typed"), [("elevation", "high"), ("altimeter", "3"), ("oat", "400 F")])
def test_what_cannot_be_is_refused_in_words_and_kept(
    shop: Cast, as_person: Any, charted: Aircraft, box: str, typed: str
) -> None:
    said = text_of(as_person(shop.ada), charted.pk, **{box: typed})
    assert f'id="{box}-error"' in said
    assert f'value="{typed}"' in said
    assert "What to set" not in said
    assert "Oil before start" in said, "what does not hang on the field stays"

"""The next-flight card: what to set, for the aircraft's own people, on the field and in the air that were typed."""

import json
from typing import Any

import pytest
from django.test import Client

from breakin.calc.chart import Chart
from breakin.calc.power import percent_power
from breakin.models import IssuedCard
from engines.models import Aircraft
from reports.pilot.card_content import CardContent
from tests.calc.test_charts import FOLDER
from tests.factories import Cast
from tests.reports.card_pages import card_of, charted_aircraft, use

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


@pytest.fixture
def charted(shop: Cast) -> Aircraft:
    """Ada's second aircraft: its engine is of a type with the power chart of the teaching type."""
    return charted_aircraft(shop)


def text_of(client: Client, aircraft_id: int, **typed: str) -> str:
    answer = client.get(f"/portal/aircraft/{aircraft_id}/card/", typed)
    assert answer.status_code == 200
    return answer.content.decode()


def test_an_owner_reads_the_card_of_his_own_aircraft_only(shop: Cast, as_person: Any, charted: Aircraft) -> None:
    said = text_of(as_person(shop.ada), charted.pk)
    assert "POH/AFM win over this card" in said
    assert as_person(shop.ben).get(f"/portal/aircraft/{charted.pk}/card/").status_code == 404


def heads(content: CardContent) -> list[str]:
    return [name for name, _off in content.engines[0].settings[0].airs]


def test_the_card_says_what_to_set_in_cold_standard_and_hot_air_and_in_the_days_own_once_told(
    shop: Cast, as_person: Any, charted: Aircraft
) -> None:
    ada = as_person(shop.ada)
    assert heads(card_of(ada, charted, elevation="300")) == ["cold", "standard", "hot"]
    content = card_of(ada, charted, elevation="300", oat="70 F")
    assert heads(content) == ["cold", "standard", "hot", "today"]
    upper, lower = content.engines[0].settings
    assert (upper.power, lower.power, upper.unit) == ("75 %", "65 %", "inHg")
    assert [row.label for row in upper.rows] == ["2000\u202fft", "4000\u202fft", "highest"]


def test_what_the_page_says_to_set_is_credited_as_what_it_asked_for(
    shop: Cast, as_person: Any, charted: Aircraft
) -> None:
    """Round trip through the page: the number that is printed, set at that altitude in that air."""
    content = card_of(as_person(shop.ada), charted, elevation="300", oat="59 F")
    fitted = Chart.from_dict(json.loads((FOLDER / "TAV-4E.json").read_text(encoding="utf-8")), rated_hp=180)
    for table in content.engines[0].settings:
        rpm = float(table.at.split("\u202f")[0])
        standard = [cell for row in table.rows[:2] for cell, head in zip(row.cells, table.airs, strict=True)
                    if head[0] == "standard"]  # fmt: skip
        for altitude, cell in zip((2000.0, 4000.0), standard, strict=True):
            if cell.value == "–":
                continue
            flown = percent_power(
                fitted, rpm=rpm, map_inhg=float(cell.value), pressure_altitude_ft=altitude, oat_degf=None
            )
            assert f"{flown.pct:.0f} %" == table.power


def test_a_high_hot_field_is_not_achievable_and_says_what_would_do(
    shop: Cast, as_person: Any, charted: Aircraft
) -> None:
    said = text_of(as_person(shop.ada), charted.pk, elevation="6480", oat="95 F")
    assert "not achievable today" in said
    assert "A lower field" in said
    assert "not achievable today" not in text_of(as_person(shop.ada), charted.pk, elevation="300", oat="50 F")


def test_the_lowest_sensible_altitude_stands_1500_ft_above_the_fields_pressure_altitude(
    shop: Cast, as_person: Any, charted: Aircraft
) -> None:
    content = card_of(as_person(shop.ada), charted, elevation="6000", altimeter="29.92", oat="95 F")
    assert "at 750" in content.engines[0].not_achievable
    assert "lowest sensible altitude" in content.engines[0].not_achievable
    higher = card_of(as_person(shop.ada), charted, elevation="6000", altimeter="28.92", oat="95 F")
    assert "at 84" in higher.engines[0].not_achievable, "a low pressure makes the field higher"


@pytest.mark.parametrize(
    ("box", "typed"),
    [
        ("elevation", "high"),
        ("altimeter", "3"),
        ("oat", "400 F"),
        ("ground_speed", "fast"),
        ("metar", "warm and windy"),
        ("metar", "QXTF 011753Z 18005KT CAVOK 17/08 Q////"),
    ],
)
def test_what_cannot_be_is_refused_in_words_and_kept(
    shop: Cast, as_person: Any, charted: Aircraft, box: str, typed: str
) -> None:
    ada = as_person(shop.ada)
    said = text_of(ada, charted.pk, **{box: typed})
    assert 'class="error"' in said
    assert typed in said
    assert "What to set" not in said
    assert "Oil before start" in said, "what does not hang on the field stays"
    assert "15.2\u202fgal/h" not in said, "a band that moves with the air waits for it"
    before = IssuedCard.objects.count()
    assert use(ada, charted, **{box: typed}) == 422
    assert IssuedCard.objects.count() == before, "no card is handed out for it"


def test_every_box_that_is_wrong_says_so_at_once(shop: Cast, as_person: Any, charted: Aircraft) -> None:
    said = text_of(
        as_person(shop.ada),
        charted.pk,
        oat="hot",
        ground_speed="90",
        metar="QXTF 011753Z 18005KT CAVOK 17/08 Q////",
    )
    for box in ("oat", "altimeter", "descend_from"):
        assert f'id="{box}-error"' in said, box

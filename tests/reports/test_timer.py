"""The page of the flight timer: whose minutes it offers, and when it offers none."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from django.utils import timezone, translation

from breakin.models import Finding, IssuedCard, Severity, StageKind
from reports.pilot.log_flight_page import EngineSection
from reports.pilot.timer import TimerPage, timer_page
from reports.pilot.timer_words import SAID, timer_words
from reports.reader import reader_of
from tests import factories
from tests.factories import NOW, Cast

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]


def page_of(shop: Cast, side: str = "") -> TimerPage:
    return timer_page(shop.aircraft_1, reader_of(shop.ada.user), timezone.now(), side)  # type: ignore[arg-type]


def twin(shop: Cast) -> None:
    """Ada's aircraft as a twin."""
    installed = shop.aircraft_1.installations.get()
    type(installed).objects.filter(pk=installed.pk).update(position="left")
    engine = factories.engine()
    factories.build(engine, by=shop.cora)
    factories.seat(engine, shop.aircraft_1, by=shop.tom, position="right")


def test_the_timer_offers_the_minutes_of_the_card_that_the_pilot_holds(shop: Cast) -> None:
    page = page_of(shop)
    card = IssuedCard.objects.get(build=shop.build_1)
    assert page.chosen is not None
    assert [[minutes, text.split()[0]] for minutes, text in page.chosen.steps] == card.minutes
    assert not page.chosen.repeats or card.stage in (StageKind.ALTERNATING, StageKind.SETTLE)


def test_an_open_stop_leaves_the_table_and_offers_no_start(shop: Cast) -> None:
    Finding.objects.create(
        build=shop.build_1, rule="T1", occurrence="one", rule_version=1, severity=Severity.STOP,
        title="Oil on the glass", text="t", why="w", source="s", happened_at=NOW, opened_at=NOW,
    )  # fmt: skip
    page = page_of(shop)
    assert page.tables
    assert page.chosen is None
    assert len(page.stops) == 1


def test_somebody_without_the_aircraft_has_no_timer(shop: Cast) -> None:
    assert not timer_page(shop.aircraft_1, reader_of(shop.ben.user), NOW).tables  # type: ignore[arg-type]


def test_two_engines_at_one_stage_are_one_table(shop: Cast) -> None:
    twin(shop)
    page = page_of(shop)
    assert len(page.tables) == 1
    assert page.chosen is not None
    assert page.chosen.side == ""


def test_two_engines_at_different_stages_are_timed_by_the_one_that_is_named(
    shop: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    twin(shop)
    monkeypatch.setattr("reports.pilot.timer.hand_out", _other_card_for_the_right)
    assert len(page_of(shop).tables) == 2
    assert page_of(shop).chosen is None
    chosen = page_of(shop, "right").chosen
    assert chosen is not None
    assert chosen.side.lower() == "right"
    assert chosen.repeats


def _other_card_for_the_right(section: EngineSection, *_: object) -> IssuedCard:
    if section.side.lower() != "right":
        return IssuedCard(stage=StageKind.HOUR_1, minutes=[[60.0, "75"]])
    return IssuedCard(stage=StageKind.ALTERNATING, minutes=[[30.0, "75"], [30.0, "65"]])


def test_the_script_says_nothing_that_its_page_does_not_hand_over_in_the_readers_language() -> None:
    scripts = [finders.find(f"reports/{name}.js") for name in ("timer", "timer_alert", "timer_schedule")]
    text = "".join(Path(str(path)).read_text(encoding="utf-8") for path in scripts)
    said = set(re.findall(r'say\(\s*"([^"]+)"', text)) | set(re.findall(r'[?:] "([A-Z][^"]+)"', text))
    assert len(said) > 20
    assert said <= set(SAID)
    with translation.override("de"):
        assert not set(timer_words().values()) & set(SAID)

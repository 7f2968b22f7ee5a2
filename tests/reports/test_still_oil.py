"""The oil picture as a vector: the same marks as on screen, the same bytes each time, for those who may see it."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any
from xml.etree import ElementTree

import pytest
from django.test import Client
from django.urls import reverse

from breakin.assess import assess_build
from reports import plots
from reports.oil import tables as oil_tables
from reports.oil.marks import oil_marks
from reports.oil.still import PHONE, oil_svg
from tests import factories
from tests.reports.test_plots_and_tables import OIL

TRACE: dict[str, Any] = {
    "level": {"hours": [1.0, 3.0, 3.0], "mid": [7.4, 6.1, 7.1], "lo": [7.2, 5.9, 6.9], "hi": [7.6, 6.3, 7.3]},
    "rate": {"hours": [0.0, 3.0, 6.0], "mid": [0.6, 0.2, 0.1], "lo": [0.4, 0.1, 0.05], "hi": [0.9, 0.3, 0.2]},
    "settled": {"hours": [1.0, 3.0], "p": [0.05, 0.4]},
    "readings": {"index": [], "expected": [], "u": []},
    "now_h": 3.0,
}
FULL: dict[str, Any] = {
    **OIL,
    "trace": TRACE,
    "settle_level": [5.7, 6.0, 6.3],
    "forecast_h": [6.0, 9.0],
    "entries": [
        *OIL["entries"][:2],
        {
            "root": "x",
            "kind": "reading",
            "hours": 2.0,
            "level_qt": 5.0,
            "u_qt": 0.15,
            "anchor": True,
            "bad": "reads 1.5 qt lower than the log explains: mistyped",
        },
        *OIL["entries"][2:],
    ],
}


def _texts(svg: str) -> list[str]:
    return [found.strip() for found in re.findall(r">([^<>]+)</text>", svg)]


def test_the_same_assessment_gives_the_same_bytes() -> None:
    assert oil_svg(FULL, 3.0, "us", "t") == oil_svg(FULL, 3.0, "us", "t")


def test_it_is_well_formed_names_its_engine_and_carries_no_style_date_or_script() -> None:
    svg = oil_svg(FULL, 3.0, "us", "Oil of <E-1> & friends")
    assert svg is not None
    whole = ElementTree.fromstring(svg)  # noqa: S314 - our own text
    assert whole[0].text == "Oil of <E-1> & friends"
    for word in ("style", "<script", "<metadata", "date"):
        assert word not in svg.lower()


def test_it_shows_what_the_live_picture_shows() -> None:
    said = _texts(oil_svg(FULL, 3.0, "us", "t") or "")
    for words in (
        "hold line",
        "no-go",
        "over-fill",
        "leak open",
        "oil changed",
        "reads 1.5 qt lower",
        "settled from 0.85",
    ):
        assert words in said
    assert "level, qt" in said
    assert "loss, L/h" in _texts(oil_svg(FULL, 3.0, "si", "t") or "")


def test_on_a_phone_of_320_px_no_word_of_it_is_smaller_than_11_px_and_the_lines_are_told_below() -> None:
    svg = oil_svg(FULL, 3.0, "us", "t", PHONE) or ""
    width = float(re.search(r'width="([\d.]+)pt"', svg)[1])  # type: ignore[index]
    shown = (320 - 2 * 33) / width  # a framed part of the page has a margin and a padding of 16, and its line
    sizes = [float(size) * shown for size in re.findall(r'font-size="([\d.]+)(?:px)?"', svg)]
    assert len(sizes) > 20
    assert min(sizes) >= 11
    for words in ("full mark", "hold line", "add line", "no-go", "over-fill", "leak open"):
        assert _texts(svg).count(words) == 1


def test_no_reading_gives_no_still_picture() -> None:
    assert oil_svg({}, 0.0, "us", "t") is None


def test_the_live_picture_has_the_fit_its_band_the_bad_reading_and_the_probability() -> None:
    figure = plots.oil_picture(FULL, 3.0, "us")
    assert figure is not None
    names = [trace.get("name") for trace in figure["data"]]
    for name in ("fitted level", "estimated loss", "reading that does not fit", "probability of having settled"):
        assert name in names
    likely = next(trace for trace in figure["data"] if trace.get("name") == "likely to settle")
    assert tuple(likely["x"]) == (6.0, 9.0)
    bad = next(trace for trace in figure["data"] if trace.get("name") == "reading that does not fit")
    assert list(bad["text"]) == ["reads 1.5 qt lower than the log explains: mistyped"]
    written = " ".join(str(note.get("text")) for note in figure["layout"]["annotations"])
    assert "settled from 0.85" in written


def test_a_bad_reading_bends_no_level_line() -> None:
    marks = oil_marks(FULL, 3.0, "us")
    assert marks is not None
    assert (2.0, 5.0) not in marks.steps
    assert [each.level for each in marks.bad] == [5.0]


def test_a_forecast_far_ahead_does_not_squeeze_what_was_flown() -> None:
    marks = oil_marks({**FULL, "forecast_h": [20.0, 60.0]}, 3.0, "us")
    assert marks is not None
    assert marks.end_h < 15.0
    figure = plots.oil_picture({**FULL, "forecast_h": [20.0, 60.0]}, 3.0, "us")
    assert figure is not None
    likely = next(trace for trace in figure["data"] if trace.get("name") == "likely to settle")
    assert max(likely["x"]) <= marks.end_h


def test_the_table_says_what_the_estimate_said_after_each_reading() -> None:
    table = oil_tables.over_hours(FULL, "us")
    assert table is not None
    assert table.rows[0] == (
        "3.0\u202fh",
        "7.10, from 6.90 to 7.30\u202fqt",
        "0.20, from 0.10 to 0.30\u202fqt/h",
        "0.40",
    )
    assert oil_tables.over_hours(OIL, "us") is None


def test_what_the_balance_leaves_out_is_listed_with_its_reason() -> None:
    rows = [{"from_h": 2.0, "to_h": 2.0, "why": "reading: ± 0.30 qt, hot reading", "roots": ["x"]}]
    table = oil_tables.left_out({"left_out": [*rows, {"from_h": 3.0, "to_h": 4.5, "why": "first run", "roots": []}]})
    assert table is not None
    assert table.rows == (("3.0 to 4.5\u202fh", "first run"), ("2.0\u202fh", "reading: ± 0.30 qt, hot reading"))


@pytest.mark.django_db
def test_the_address_gives_the_picture_and_says_when_it_is_still_the_same(client: Client) -> None:
    cast = factories.cast()
    for number, quarts in enumerate((6.0, 5.75, 5.75, 5.5), 1):
        factories.flown(cast.build_1, 1.5, at=factories.NOW - timedelta(days=20 - number), level_qt=quarts)
    assess_build(cast.build_1.pk, factories.NOW)
    assert cast.ada.user is not None
    client.force_login(cast.ada.user)
    address = reverse("oil_picture", args=[cast.build_1.engine_id])

    first = client.get(address)
    again = client.get(address, headers={"if-none-match": first.headers["ETag"]})

    assert (first.status_code, first.headers["Content-Type"]) == (200, "image/svg+xml")
    assert "settled from 0.85" in _texts(first.content.decode())
    assert "no-cache" in first.headers["Cache-Control"]
    assert "private" in first.headers["Cache-Control"]
    assert again.status_code == 304
    narrow = client.get(f"{address}?narrow=1", headers={"if-none-match": first.headers["ETag"]})
    assert (narrow.status_code, 'width="252pt"' in narrow.content.decode()) == (200, True)
    assert client.get(f"{address}?narrow=2").status_code == 404
    assert client.get(f"{address}?build=999999").status_code == 404
    assert client.get(f"{address}?build=x").status_code == 404


@pytest.mark.django_db
def test_the_engine_page_shows_it_to_readers_without_script(client: Client) -> None:
    cast = factories.cast()
    factories.flown(cast.build_1, 1.5, level_qt=6.0)
    assess_build(cast.build_1.pk, factories.NOW)
    assert cast.ada.user is not None
    client.force_login(cast.ada.user)

    page = client.get(reverse("engine", args=[cast.build_1.engine_id])).content.decode()

    assert f'<img src="{reverse("oil_picture", args=[cast.build_1.engine_id])}"' in page

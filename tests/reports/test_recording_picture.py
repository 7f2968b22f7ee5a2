"""The picture of a recorded flight: one clock, panels of what was recorded, the same alive and still."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from pytest_django import Settings

from breakin.calc.recording.result import SensorFault
from reports.recordings.panels import Drawing, Lines, Picture, Pin, kind_of
from reports.recordings.plot import clock_at, recording_picture
from reports.recordings.still import recording_svg, ticks
from shop.palette import LIGHT, resolve
from tests.factories import Cast
from tests.reports.recorded import EVENTS, LINES, columns, engine_flight, recorded_flight

PLAN = Lines(420.0, 500.0, None, (15.2, 16.8), {"75": (72.0, 85.0), "65": (62.0, 68.0)}, 60.0)
ORIGIN_MS = 1_781_000_000_000


def picture(sides: str = "1", *, units: str = "us", **changed: Any) -> Picture:
    held = columns(sides=sides)
    ranges = {
        name: (float(np.nanmin(values)), float(np.nanmax(values)))
        for name, values in held.items()
        if not name.startswith("latitude")
    }
    engines = {side: replace(engine_flight(), **changed) for side in sides}
    panels = Drawing(engines, dict.fromkeys(sides, PLAN), ranges, units).panels()
    events = tuple((seconds, name) for name, seconds in EVENTS.items())
    return Picture(panels, events, LINES[-1], ORIGIN_MS, "clock time", (Pin(1050.0, (2, 3), "cht_1"),))


def panel(drawn: Picture, key: str) -> Any:
    return next(each for each in drawn.panels if each.key == key)


class TestPanels:
    def test_power_leads_and_everything_recorded_has_its_panel(self) -> None:
        keys = [each.key for each in picture().panels]
        assert keys == ["power", "manifold", "cht_1", "egt_1", "fuel", "oil", "altitude"]
        assert [each.key for each in picture("12").panels][2:6] == ["cht_1", "cht_2", "egt_1", "egt_2"]

    def test_the_bands_of_the_plan_lie_under_the_power_with_the_steady_pieces(self) -> None:
        power = panel(picture(), "power")
        assert power.bands == ((62.0, 68.0, "65 % band"), (72.0, 85.0, "75 % band"))
        assert [(block.t0, block.t1, block.words) for block in power.blocks] == [
            (1100, 3500, "40 min at 75 %"), (3520, 4400, "15 min at 65 %"),
        ]  # fmt: skip

    def test_watch_line_and_limit_are_drawn_and_named_in_the_readers_units(self) -> None:
        assert [round(each.value) for each in panel(picture(), "cht_1").levels] == [420, 500]
        assert [round(each.value) for each in panel(picture(units="si"), "cht_1").levels] == [216, 260]
        assert "watch line 216" in panel(picture(units="si"), "cht_1").title

    def test_the_hottest_head_is_the_strong_line_and_lies_on_top(self) -> None:
        lines = panel(picture(), "cht_1").lines
        assert (lines[-1].cylinder, lines[-1].look) == (3, "ink")
        assert {line.look for line in lines[:-1]} == {"soft"}

    def test_a_probe_that_is_not_believed_is_dotted_and_widens_no_scale(self) -> None:
        ranges = {"cht_1_1_degf": (70.0, 400.0), "cht_1_3_degf": (-40.0, 999.0)}
        believed = replace(engine_flight(), bad_sensors=(SensorFault("cht3", "jumped"),))
        wild = Drawing({"1": believed}, {"1": PLAN}, ranges, "us").panels()[0]
        assert [line.look for line in wild.lines if line.left_out] == ["dotted"]
        assert "left out: 3" in wild.title
        assert wild.room[0] > 0
        assert wild.room[1] < 520

    def test_what_was_not_recorded_has_no_panel(self) -> None:
        assert Drawing({"1": engine_flight()}, {"1": PLAN}, {"rpm_1": (0, 2690)}, "us").panels()[0].key == "manifold"
        assert Drawing({"1": engine_flight()}, {"1": PLAN}, {}, "us").panels() == ()

    @pytest.mark.parametrize(
        ("channel", "kind"),
        [
            ("cht_1_3_degf", "temperature"), ("oil_press_2_psi", "oil_pressure"), ("oil_temp_1_degf", "temperature"),
            ("map_1_inhg", "manifold"), ("alt_ft", "altitude"), ("pct_1", ""), ("ias_kt", ""),
        ],
    )  # fmt: skip
    def test_each_channel_has_the_kind_of_its_name(self, channel: str, kind: str) -> None:
        assert kind_of(channel) == kind


class TestLiving:
    figure = recording_picture(picture("12"))

    def test_it_is_plain_json_in_colours_that_the_card_knows(self) -> None:
        json.dumps(resolve(self.figure))

    def test_every_line_waits_empty_for_its_channel(self) -> None:
        waiting = {trace["uid"] for trace in self.figure["data"] if trace.get("uid")}
        assert {"pct_1", "pct_2", "room_1", "room_2", "cht_2_4_degf", "alt_ft"} <= waiting
        assert all(not trace["x"] for trace in self.figure["data"] if trace.get("uid"))

    def test_all_panels_hang_on_one_clock_and_none_overlaps_another(self) -> None:
        layout = self.figure["layout"]
        left = [axis for name, axis in layout.items() if name.startswith("yaxis") and "overlaying" not in axis]
        spans = sorted(tuple(axis["domain"]) for axis in left)
        assert len(spans) == len(picture("12").panels)
        assert all(below[1] < above[0] for below, above in pairwise(spans))
        assert [name for name in layout if name.startswith("xaxis")] == ["xaxis"]
        assert spans[0][0] == pytest.approx(0, abs=1e-9)

    def test_events_and_pins_stand_at_their_clock(self) -> None:
        told = {each["text"]: each.get("x") for each in self.figure["layout"]["annotations"]}
        assert told["liftoff"] == clock_at(picture(), 625.0)
        assert told["2 3"] == clock_at(picture(), 1050.0)

    def test_no_text_carries_a_style_that_the_policy_refuses(self) -> None:
        assert not any("<b>" in each["text"] for each in self.figure["layout"]["annotations"])


class TestStill:
    def test_ticks_are_round_and_inside(self) -> None:
        assert ticks(62, 443) == [100, 200, 300, 400]
        assert ticks(9.1, 30.6) == [10, 20, 30]

    @pytest.mark.django_db
    def test_the_page_has_it_as_a_vector_with_the_same_words(
        self, shop: Cast, as_person, settings: Settings, tmp_path
    ) -> None:
        settings.MEDIA_ROOT = tmp_path
        row = recorded_flight(shop)
        ada = as_person(shop.ada)
        answer = ada.get(f"/recordings/{row.recording_id}/flights/1/lines.svg")
        assert answer["Content-Type"] == "image/svg+xml"
        assert len(answer.content) < 150_000
        root = ElementTree.fromstring(answer.content)  # noqa: S314 - our own
        words = {each.text for each in root.iter("{http://www.w3.org/2000/svg}text")}
        assert {"75 % band", "watch line", "lift-off", "touch-down", "Fuel flow, gal/h"} <= words
        assert "style=" not in answer.content.decode()
        again = ada.get(
            f"/recordings/{row.recording_id}/flights/1/lines.svg", headers={"if-none-match": answer["ETag"]}
        )
        assert again.status_code == 304
        assert as_person(shop.ben).get(f"/recordings/{row.recording_id}/flights/1/lines.svg").status_code == 404

    def test_lines_stay_inside_the_paper_and_a_break_breaks_the_path(self) -> None:
        t = np.array([0.0, 1000.0, 1000.0, LINES[-1]])
        lines = {"pct_1": (t, np.array([0.0, 98.0, np.nan, 40.0]))}
        drawn = recording_svg(picture(), lines, {}, "a flight")
        path = re.search(r'<path d="(M[^"]*)" fill="none" stroke="' + LIGHT["ink"], drawn)
        assert path
        assert path[1].count("M") == 2
        points = [tuple(map(float, each.split())) for each in re.split("[ML]", path[1])[1:]]
        assert all(0 <= x <= 720 and y >= 0 for x, y in points)
        assert points[0][1] > points[1][1]  # more power is higher up

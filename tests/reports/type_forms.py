"""What a manager types when an engine type is entered, as the browser would send it."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import Any

from django.test import Client

GRID = "rpm\\MP\t20\t22.5\t24\n2100\t84\t98.4\t110\n2300\t91\t107\t119\n2450\t96.4\t113\t126\n2700\t105\t123\t137"
FIXED = "altitude ft;rpm;%\n2000;2370;65\n2000;2490;75\n4000;2430;65\n4000;2560;75"


def a_type(**changed: Any) -> dict[str, Any]:
    """A four-cylinder engine of 180 hp with its chart; None takes a field out."""
    usual: dict[str, Any] = {
        "maker": "Tavish (invented)", "designation": "TAV-4N", "layout": "opposed", "cylinders": "4",
        "source": "Bench book of the invented maker, issue 2", "source_date": "2026-01-05", "displacement_cuin": "354",
        "compression_ratio": "8,5", "rated_hp": "180", "rated_rpm": "2700", "induction": "natural",
        "fuel_system": "injected", "prop_control": "constant_speed", "cooling": "air", "sump_full_qt": "8",
        "sump_full_qt_unit": "qt", "takeoff_ff_low_gph": "15.2", "takeoff_ff_low_gph_unit": "gal/h",
        "takeoff_ff_high_gph": "16.8", "takeoff_ff_high_gph_unit": "gal/h", "cht_watch_degf": "420",
        "cht_watch_degf_unit": "degF", "cht_limit_degf": "500", "cht_limit_degf_unit": "degF",
        "cht_limit_source": "Operator's manual, issue 4", "cht_limit_source_date": "2025-11-01",
        "chart_kind": "map_rpm", "chart_source": "Bench book, figure 3", "chart_revision": "2, 2026-01-05",
        "grid": GRID, "line_is_last": "on",
    }  # fmt: skip
    return {name: value for name, value in {**usual, **changed}.items() if value is not None}


def looked(page: Any) -> str:
    """The mark that the page of the look carries; empty where there is none."""
    found = re.search(r'name="looked" value="([0-9a-f]*)"', page.content.decode())
    return found[1] if found else ""


def keep(client: Client, address: str, typed: dict[str, Any]) -> Any:
    """Send it, look at it, keep it; what a form that stays refused answers."""
    page = client.post(address, typed)
    if page.status_code != 200:
        return page
    return client.post(address, {**typed, "looked": looked(page)})


class _Fields(HTMLParser):
    """The fields of the main form of a page with what stands in them, as a browser would send them untouched."""

    def __init__(self) -> None:
        super().__init__()
        self.inside, self.sent, self.open, self.text = False, {}, "", ""  # type: ignore[var-annotated]

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        had = dict(attrs)
        if tag == "form":
            self.inside = "sheet" in (had.get("class") or "")
        name = had.get("name") or ""
        if not self.inside or (not name and tag != "option"):
            return
        if tag == "input" and (had.get("type") not in ("radio", "checkbox") or "checked" in had):
            self.sent[name] = had.get("value") or ("on" if had.get("type") == "checkbox" else "")
        elif tag in ("textarea", "select"):
            self.open, self.text = name, ""
        elif tag == "option" and self.open and "selected" in had:
            self.sent[self.open] = had.get("value") or ""

    def handle_data(self, data: str) -> None:
        self.text += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea" and self.open:
            self.sent[self.open] = self.text.removeprefix("\n")
        if tag in ("textarea", "select"):
            self.open = ""
        if tag == "form":
            self.inside = False


def posted_again(page: Any) -> dict[str, str]:
    """What the form of this page sends when nobody touches it."""
    fields = _Fields()
    fields.feed(page.content.decode())
    fields.sent.pop("csrfmiddlewaretoken", None)
    return fields.sent

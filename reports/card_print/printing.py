"""The print of a next-flight card: a tagged PDF (PDF/UA-1, PDF/A-2a) set from its content alone.

What a card says does not go on one A5 side in print that can be read in the cockpit, except for an engine with little
to say. So the print takes the largest of 9 to 11 pt at which it fits three halves of an A4 sheet, folded in the middle
to A5, with the blank log on the fourth; where even that is not enough it goes on over A4 sides. Never below 9 pt. The
same card always gives the same bytes.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import typst
from django.utils import timezone
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from breakin.calc.units import Kind, display_unit
from breakin.calc.units import written as unit_written
from reports.closeout.printing import HERE as CLOSE_OUT
from reports.closeout.printing import STANDARDS
from reports.pilot.card_content import CardContent
from shop import written

HERE = Path(__file__).parent


def print_card(content: CardContent, *, made: str = "") -> bytes:
    """The PDF of a card. made : when it was made and until when it holds, in words; "" for one that is not kept."""
    said = {
        **asdict(content),
        "title": _("Next-flight card %(aircraft)s") % {"aircraft": content.registration},
        "made": made,
        "lang": (get_language() or "en").split("-")[0],
        "say": _words(),
        "log": _log(content.units),
    }
    moment = content.made or datetime(1970, 1, 1, tzinfo=UTC)
    compile_: Any = typst.compile  # its type variable for the input can not be inferred
    return bytes(
        compile_(
            (HERE / "card.typ").read_bytes(),
            font_paths=[str(CLOSE_OUT / "fonts")],
            ignore_system_fonts=True,
            pdf_standards=STANDARDS,
            sys_inputs={"card": _narrow(json.dumps(said, ensure_ascii=False))},
            timestamp=moment.astimezone(UTC).replace(microsecond=0),
        )
    )


def made_words(content: CardContent) -> str:
    """When the card was made and until when it holds at most, on the reader's clock; "" for one that is not kept."""
    if content.made is None or content.until is None:
        return ""
    made, until = (
        f"{written.day(each)}, {each:%H:%M}" for each in map(timezone.localtime, (content.made, content.until))
    )
    return _("Made %(made)s. It holds until the next log, at most until %(until)s.") % {"made": made, "until": until}


def _narrow(text: str) -> str:
    """The faces of the print have no narrow space: an ordinary one that does not break stands in."""
    return text.replace("\u202f", "\u00a0").replace("\u2009", "\u00a0")


def _words() -> dict[str, Any]:
    return {
        "sides": {"LEFT": _("LEFT engine"), "RIGHT": _("RIGHT engine"), "": _("The engine")},
        "card": _("card"),
        "call": _("call"),
        "this_flight": _("This flight"),
        "aboard": _("Aboard:"),
        "air": _("Field and air"),
        "oil": _("Oil before start"),
        "oil_now": _("Oil now"),
        "oil_kind": _("Kind of oil:"),
        "ground": _("On the ground"),
        "take_off": _("Take-off check"),
        "climb": _("Climb"),
        "head_at": _("Hottest head on the way up:"),
        "minutes": _("Minutes from level-off, no power changes in between"),
        "clock": _("Minutes"),
        "power": _("Power"),
        "counts": _("Counts as it"),
        "repeats": _("Again from the top, until landing."),
        "altitude": _("Pressure altitude"),
        "cruise": _("In cruise"),
        "heat": _("Heads and oil"),
        "descent": _("Descent"),
        "land_now": _("Land now if"),
        "fly_first": _("Fly the aircraft first; writing comes after landing, or by the other person."),
        "after": _("After landing"),
        "log": _("Log of this flight"),
        "words": _("In your own words: rough, smoke, smell, oil seen, low power, or none"),
    }


def _log(units: str) -> dict[str, Any]:
    """What the blank log asks for, in the reader's units."""

    def unit(kind: Kind) -> str:
        return unit_written(display_unit(kind, units))

    volume, heat = unit(Kind.VOLUME), unit(Kind.TEMPERATURE)
    manifold, flow = unit(Kind.PRESSURE_MANIFOLD), unit(Kind.FUEL_FLOW)
    return {
        "both": _("Written after landing, or by the other person. What was not looked at stays empty."),
        "common": [
            _("Date"),
            _("Pilot"),
            _("Off block"),
            _("On block"),
            _("Minutes in the air"),
            _("Minutes on the ground"),
            _("Temperature at the field, %(unit)s") % {"unit": heat},
            _("Altimeter setting, %(unit)s") % {"unit": unit(Kind.PRESSURE_ALTIMETER)},
        ],
        "fields": [
            _("Meter at the end, h"),
            _("Take-off fuel flow, %(unit)s") % {"unit": flow},
            _("Hottest head, %(unit)s") % {"unit": heat},
            _("Oil before, %(unit)s") % {"unit": volume},
            _("Oil added, amount and kind"),
            _("Oil after, %(unit)s") % {"unit": volume},
            _("Minutes since shutdown"),
        ],
        "choices": [
            _("Flown as on the card: yes / no"),
            _("Over the watch line: no / under 5 min / longer"),
            _("Heads falling by the line above: yes / no / not looked"),
            _("Oil on the belly: none / film / drips / streaming"),
        ],
        "block_heads": [
            _("No."),
            _("Minutes"),
            _("Altitude"),
            _("Air, %(unit)s") % {"unit": heat},
            "rpm",
            _("MP, %(unit)s") % {"unit": manifold},
            _("FF, %(unit)s") % {"unit": flow},
        ],
    }

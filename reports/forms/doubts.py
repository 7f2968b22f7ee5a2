"""Values that are possible but unusual: the person is asked whether they are right, and the value is kept as typed.

The parser of entries asks about values outside their usual range; here stand the questions that need to know more: the
last reading, the type, the plan. A confirmation holds for one typed text; whoever changes the value is asked again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from breakin.calc.units import Kind
from breakin.models import Flight, FlightKind
from breakin.rules.aboard import CREW
from reports.forms.engine import EngineForm
from reports.forms.flight import FlightSheet
from reports.forms.raw import Raw
from reports.forms.typed import MINUTES_PER_HOUR, canonical, minutes_of, text_of
from reports.pilot.log_flight_page import EngineSection
from reports.quantities import quantity
from shop import written
from shop.facts import Absent

SURE = "_sure"
ABOARD = "persons_aboard"
GROUND = ("ground_before", "ground_after")
# A meter runs at most this much faster than the time in the air, and on the ground before and after; beyond that hours
# are missing in the log. Common practice, no published source.
METER_SPREAD, METER_SLACK_H = 1.2, 0.5


@dataclass(frozen=True)
class Doubt:
    """name : posted name of the field; said : what is unusual; typed : the text that a confirmation holds for.

    gap : nothing was typed and it is asked for once; left so, it is kept as not said.
    """

    name: str
    said: str
    typed: str
    gap: bool = False

    @property
    def confirm_name(self) -> str:
        return f"{self.name}{SURE}"

    @property
    def asked(self) -> str:
        """The question as it stands at the field."""
        if self.gap:
            return _("%(doubt)s Type it, or tick that it stays unsaid.") % {"doubt": self.said}
        return _("%(doubt)s Mend it, or tick that it is right.") % {"doubt": self.said}

    def is_confirmed(self, data: Mapping[str, Any]) -> bool:
        return data.get(self.confirm_name) == self.typed


def flight_doubts(sheet: FlightSheet, system: str) -> list[Doubt]:
    """What is unusual about a valid sheet."""
    found = list(_flight(sheet.flight, sheet))
    for form in sheet.flown():
        found += _engine(form, sheet, system)
        if "oil_level" in form.fields:
            found += oil_doubts(form, form.section, system)
    return found


def _flight(form: forms.Form, sheet: FlightSheet) -> Iterator[Doubt]:
    landings = form.cleaned_data.get("landings", "")
    if landings.isdecimal() and int(landings) > 2 and any(section.build for section in sheet.sections):
        said = _(
            "%(count)s landings in one flight: pattern work is light running, which fresh rings should not get."
        ) % {"count": landings}
        yield Doubt("landings", said, landings)
    if form.cleaned_data.get("kind") != FlightKind.GROUND_RUN and any(is_first_flight(one) for one in sheet.sections):
        yield from _aboard(form.cleaned_data.get(ABOARD, ""))


def _aboard(typed: str) -> Iterator[Doubt]:
    """Who was aboard the first flight: rule P10 asks for it and names its source, 14 CFR 91.407(b), (c)."""
    if not typed:
        said = _("How many were aboard? The first flight after the work is for the crew only.")
        yield Doubt(ABOARD, said, "", gap=True)
    elif typed.isdecimal() and int(typed) > CREW:
        said = _("%(count)s persons aboard: the first flight after the work is for the crew only.")
        yield Doubt(ABOARD, said % {"count": typed}, typed)


def left_unsaid(data: Mapping[str, Any], typed: Mapping[str, str]) -> dict[str, Any]:
    """The fields of a raw flight that were asked for and stay unsaid, as the parser takes them."""
    is_left = data.get(f"{ABOARD}{SURE}") == "" and not typed.get(ABOARD)
    return {ABOARD: {"absent": Absent.NOT_OBSERVED.value}} if is_left else {}


def is_first_flight(section: EngineSection) -> bool:
    """Has the engine not flown since its break-in was opened?"""
    if section.build is None:
        return False
    flown = Flight.objects.current().exclude(kind=FlightKind.GROUND_RUN)
    return not flown.filter(engines__engine=section.engine, happened_at__gte=section.build.opened_at).exists()


def _engine(form: EngineForm, sheet: FlightSheet, system: str) -> Iterator[Doubt]:
    typed, kind = form.cleaned_data, form.section.type_revision
    end = canonical(typed.get("meter_end"), Kind.HOURS, "h")
    began = canonical(typed.get("meter_start"), Kind.HOURS, "h")
    start = form.section.last_meter_h if began is None else began
    flown = {name: minutes_of(sheet.flight.cleaned_data.get(name, "")) for name in ("airborne", *GROUND)}
    airborne = flown["airborne"]
    if end is not None and start is not None and airborne is not None:
        run = end - start
        ground = sum(flown[name] or 0.0 for name in GROUND)
        if run > (airborne * METER_SPREAD + ground) / MINUTES_PER_HOUR + METER_SLACK_H:
            said = _("%(clock)s has run %(run)s h since %(start)s h, the flight was %(minutes)d min.") % {
                "clock": capfirst(form.section.clock),
                "run": written.number(run, 1),
                "start": written.number(start, 1),
                "minutes": round(airborne),
            }
            if began is None:
                said += " " + _(
                    "Did somebody fly or run the engine in between? Then type the reading that you started with, under "
                    "“More”, and the rest can be logged by whoever flew it."
                )
            yield Doubt(form.add_prefix("meter_end"), said, typed["meter_end"])
    flow = canonical(typed.get("takeoff_ff"), Kind.FUEL_FLOW)
    low, high = (kind.takeoff_ff_low_gph, kind.takeoff_ff_high_gph) if kind else (None, None)
    if flow is not None and low and high and not 0.75 * low <= flow <= 1.25 * high:
        flowing = quantity(flow, "fuel_flow", system)
        said = _("%(flow)s is far from what this type takes at full throttle.") % {"flow": flowing}
        yield Doubt(form.add_prefix("takeoff_ff"), said, text_of(typed["takeoff_ff"]))


def oil_doubts(form: forms.Form, section: EngineSection, system: str) -> Iterator[Doubt]:
    """What is unusual about the oil fields of a form."""
    typed = form.cleaned_data
    level = canonical(typed.get("oil_level"), Kind.VOLUME)
    last = section.last_level_qt
    if level is not None and last is not None and abs(level - last) > 1 and typed.get("added") in ("none", "", None):
        up = _("%(amount)s up since the last reading, with nothing added.")
        down = _("%(amount)s down since the last reading, with nothing added.")
        said = (up if level > last else down) % {"amount": quantity(abs(level - last), "volume", system)}
        yield Doubt(form.add_prefix("oil_level"), said, text_of(typed["oil_level"]))
    poured = typed.get("oil_kind")
    if poured and section.plan and poured != section.plan.oil_kind and typed.get("added") not in ("none", "", None):
        said = _("The plan says %(oil)s for now.") % {"oil": section.plan.get_oil_kind_display()}
        yield Doubt(form.add_prefix("oil_kind"), said, poured)


def confirmed_paths(raw: Raw, data: Mapping[str, Any], typed: Mapping[str, str]) -> list[str]:
    """The paths of the entry whose values the person has said are right, as they stand now.

    typed : posted name of a field -> what it holds now, as one text.
    """
    ticked = {
        path
        for path, name in raw.paths.items()
        if name in typed and typed[name] and data.get(f"{name}{SURE}") == typed[name]
    }
    # Whoever chose a ground run has said already why no time was spent in the air.
    ground_run = {"airborne"} if raw.entry.get("kind") == FlightKind.GROUND_RUN else set()
    return sorted(ticked | ground_run)

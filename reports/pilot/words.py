"""The sentences of the portal: plain, with their numbers and units, never a promise and never a permission."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from breakin.models import Assessment, Flight, IssuedCard, Phase, PlanStage
from breakin.picture.heat import WATCH_DEGF
from breakin.rules.heat import CRUISE_DEGF, EARLY_H
from engines.models import Cooling, Engine, EngineTypeRevision
from reports.detail import dig, number
from reports.quantities import minutes_text, oil_rate, quantity
from shop import written

EARLY_HIGH_DEGF = 420.0  # seen early with new rings at most; common practice, no published source
_ENDED = (Phase.CLOSED, Phase.FOLLOW_UP, Phase.INCOMPLETE)
_PHASES = {
    Phase.PRESERVED: "The engine is preserved and not flying.",
    Phase.AWAITING: "The break-in begins with the first flight.",
    Phase.HOUR_1: "In its first hour: steady high power, no changes. It counts more than all that follows.",
    Phase.HOUR_2: "In its second hour: high power, alternating every quarter of an hour.",
    Phase.ALTERNATING: "Alternating between the two power levels.",
    Phase.SETTLING: "The oil loss is settling.",
    Phase.PROVISIONAL: "Provisionally settled: the oil loss has gone low and steady as far as a dipstick can tell.",
    Phase.REVIEW: "The criteria for a review are met; the shop looks at the record next.",
    Phase.CLOSED: "The break-in is closed out. A close-out is not a return to service.",
    Phase.FOLLOW_UP: "The break-in is closed out; a few later checks follow.",
    Phase.INCOMPLETE: "The break-in was ended before its criteria could be judged.",
    Phase.LOG_ONLY: "Readings are kept for this engine, and nothing is judged: follow the maker's plan.",
}


def state_word(assessment: Assessment | None) -> str:
    """The phase, or "Stopped" where a Stop is open."""
    if assessment is None:
        return "not in break-in"
    return "Stopped" if assessment.stopped else assessment.get_phase_display().capitalize()


def state_sentence(assessment: Assessment | None, engine: Engine) -> str:
    if assessment is None:
        return f"No break-in is open for {engine}. Its oil is logged like the other one's."
    said = _PHASES.get(Phase(assessment.phase), "")
    return f"Reopened. {said}" if assessment.reopened else said


def in_short(assessment: Assessment) -> str:
    """Hours and the next visit to the shop, for a list."""
    run = _("%(run)s h run.") % {"run": written.number(assessment.hours, 1)}
    return f"{run} {next_visit(assessment)}".rstrip()


def how_long(assessment: Assessment | None, units: str) -> str:
    """How much longer: a range with its reason, never a promise."""
    if assessment is None or assessment.phase == Phase.LOG_ONLY:
        return ""
    hours, low, high = assessment.hours, assessment.expected_low_h, assessment.expected_high_h
    run = _("%(run)s h run so far.") % {"run": written.number(hours, 1)}
    if assessment.phase in _ENDED or low is None or high is None:
        return run
    numbers = {"low": written.short(low), "high": written.short(high)}
    usual = _("Engines of this kind usually take %(low)s to %(high)s h.") % numbers
    return " ".join(part for part in (run, usual, _more(assessment, low, high), oil_said(assessment, units)) if part)


def _more(assessment: Assessment, low: float, high: float) -> str:
    """The hours that are likely left: by the oil readings where they say it, else by the kind of engine."""
    hours = assessment.hours
    if assessment.phase in (Phase.PROVISIONAL, Phase.REVIEW):
        return _("What is left now is the shop's review and the readings that it asks for.")
    seen = dig(assessment, "oil", "forecast_h")
    if isinstance(seen, list) and len(seen) == 2 and all(isinstance(each, int | float) for each in seen):
        numbers = {"low": written.number(max(seen[0], hours), 0), "high": written.number(max(seen[1], hours), 0)}
        return _("By its oil readings it settles somewhere between %(low)s and %(high)s h; no promise.") % numbers
    if hours < low:
        numbers = {"low": written.number(low - hours, 0), "high": written.number(high - hours, 0)}
        return _("Likely %(low)s to %(high)s h more, if all goes as usual.") % numbers
    if hours < high:
        return _("Likely up to %(high)s h more, if all goes as usual.") % {"high": written.number(high - hours, 0)}
    return _("It is past that now, so the readings decide.")


def oil_said(assessment: Assessment, units: str) -> str:
    """The oil loss so far with its doubt, against what is accepted."""
    rate, u_rate = number(assessment, "oil", "rate_qt_h"), number(assessment, "oil", "u_qt_h")
    word, accept = dig(assessment, "oil", "word"), number(assessment, "oil", "accept_qt_h")
    if rate is None:
        said = dig(assessment, "oil", "sentence")
        return f"Oil: {said}" if isinstance(said, str) and said else ""
    limit = f"; accepted up to {oil_rate(accept, None, units).split(',')[0]}" if accept is not None else ""
    trend = f" ({word})" if isinstance(word, str) and word else ""
    return f"Oil loss {oil_rate(rate, u_rate, units)}{trend}{limit}."


def fly_next(assessment: Assessment | None) -> str:
    """What the next flight is for, without the word "next" before it; "" where nothing is judged."""
    label = str(dig(assessment, "next", "label") or "")
    return f"{label}." if label else ""


@dataclass(frozen=True)
class EarlyHeat:
    """What to think of warm heads in the first hours. watch, limit : the plan's or type's own lines, with units."""

    low: str
    high: str
    watch: str
    limit: str


def early_heat(assessment: Assessment | None, kind: EngineTypeRevision | None, units: str) -> EarlyHeat | None:
    """The lines of the head temperature while new rings run warm; None later, and where no head is measured so.

    That 400 to 420 degF are seen early: common practice, no published source.
    """
    judged = assessment is not None and assessment.phase not in (Phase.LOG_ONLY, *_ENDED)
    if assessment is None or not judged or assessment.hours >= EARLY_H:
        return None
    if kind is None or kind.log_only or kind.cooling != Cooling.AIR:
        return None
    watch = kind.cht_watch_degf if kind.cht_watch_degf is not None else WATCH_DEGF
    low, high = CRUISE_DEGF, min(EARLY_HIGH_DEGF, watch)
    return EarlyHeat(
        low=quantity(low, "temperature", units) if low < high else "",
        high=quantity(high, "temperature", units),
        watch=quantity(watch, "temperature", units),
        limit=quantity(kind.cht_limit_degf, "temperature", units) if kind.cht_limit_degf else "",
    )


def next_visit(assessment: Assessment | None) -> str:
    """When the shop wants to see the aircraft: one line with hours and date."""
    if assessment is None or not assessment.next_touch:
        return ""
    at = []
    if assessment.next_touch_h is not None:
        at.append(f"at {assessment.next_touch_h:.1f} h")
    if assessment.next_touch_on is not None:
        day = assessment.next_touch_on
        at.append(f"about {day.day} {day:%b %Y} at your recent pace")
    return f"{assessment.next_touch}{': ' if at else '.'}{', '.join(at)}{'.' if at else ''}"


def minute_rows(table: Any, credit: Any) -> list[tuple[str, str, str]]:
    """Rows (from minute, length, power) of a minute table; the bands of the plan in words."""
    rows, clock = [], 0.0
    for row in table if isinstance(table, list) else []:
        if not isinstance(row, list | tuple) or len(row) != 2 or not isinstance(row[0], int | float):
            continue
        minutes, band = float(row[0]), str(row[1])
        limits = credit.get(band) if isinstance(credit, dict) else None
        counts = (
            f"counts from {limits[0]:g} to {limits[1]:g} %" if isinstance(limits, list) and len(limits) == 2 else ""
        )
        rows.append((f"{_clock(clock)} to {_clock(clock + minutes)}", f"{band} % of rated power", counts))
        clock += minutes
    return rows


def _clock(minutes: float) -> str:
    whole = round(minutes)
    return f"{whole // 60}:{whole % 60:02d}"


def card_words(card: IssuedCard) -> str:
    """Which card this is, and how long it holds."""
    until = timezone.localtime(card.valid_until)
    plan = f"plan revision {card.plan.revision}"
    return f"Card no. {card.number}, {plan}: holds until your next log or {until.day} {until:%b}."


def targets(stage: PlanStage | None, kind: EngineTypeRevision | None, units: str) -> list[tuple[str, str, str]]:
    """What to look at, as (label, value, small print)."""
    shown: list[tuple[str, str, str]] = []
    if kind and kind.takeoff_ff_low_gph and kind.takeoff_ff_high_gph:
        low, high = (
            quantity(kind.takeoff_ff_low_gph, "fuel_flow", units),
            quantity(kind.takeoff_ff_high_gph, "fuel_flow", units),
        )
        shown.append(
            (
                "Fuel flow at full throttle",
                f"{low} to {high}",
                "below it or rough: reject while runway remains, by the POH/AFM",
            )
        )
    if kind and kind.cht_watch_degf:
        limit = f"maker's limit {quantity(kind.cht_limit_degf, 'temperature', units)}" if kind.cht_limit_degf else ""
        shown.append(("Watch line, head temperature", quantity(kind.cht_watch_degf, "temperature", units), limit))
    if stage is None:
        return shown
    if stage.climb_to_ft:
        place = stage.get_climb_reference_display()
        shown.append(("Climb to", quantity(stage.climb_to_ft, "altitude", units), f"{place}, in gliding reach of it"))
    if stage.rpm:
        shown.append(("rpm", f"{stage.rpm:.0f}", "manifold pressure by the power chart for your altitude"))
    if stage.altitude_max_ft:
        shown.append(("Not above", quantity(stage.altitude_max_ft, "altitude", units), "for power or cooling"))
    for label, text in (("Mixture", stage.mixture), ("Cowl flaps", stage.cowl_flaps)):
        if text:
            shown.append((label, text, ""))
    return shown


def owed(value: Any) -> str:
    """Minutes still owed at each level, as a sentence."""
    if not isinstance(value, dict):
        return str(value) if isinstance(value, str) else ""
    parts = [
        f"{minutes_text(float(minutes))} at {band} %"
        for band, minutes in value.items()
        if isinstance(minutes, int | float) and minutes > 0
    ]
    return f"Still owed: {' and '.join(parts)}." if parts else ""


def flight_said(flight: Flight, *, own: bool) -> str:
    """One flight in a line. Persons are named to those who held the aircraft then."""
    said = "Ground run" if flight.airborne_min == 0 else f"{minutes_text(flight.airborne_min)} in the air"
    who = flight.pilot or flight.on_behalf_of or flight.entered_by
    return f"{said}, {who.name}" if own and who else said

"""The sentences of the portal: plain, with their numbers and units, never a promise and never a permission."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils import timezone
from django.utils.functional import Promise, lazy
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from breakin.models import Assessment, Flight, IssuedCard, Phase, PlanStage, RunInPlan
from breakin.rules.criteria import EVIDENCE_SHARE
from breakin.saying import read
from engines.models import Engine, EngineTypeRevision
from reports.detail import dig, number
from reports.quantities import accepted_rate, minutes_text, oil_rate, quantity
from shop import written
from shop.templatetags.words import say

_ENDED = (Phase.CLOSED, Phase.FOLLOW_UP, Phase.INCOMPLETE)
_PHASES = {
    Phase.PRESERVED: gettext_lazy("The engine is preserved and not flying."),
    Phase.AWAITING: gettext_lazy("The break-in begins with the first flight."),
    Phase.HOUR_1: gettext_lazy(
        "In its first hour: steady high power, no changes. It counts more than all that follows."
    ),
    Phase.HOUR_2: gettext_lazy("In its second hour: high power, alternating every quarter of an hour."),
    Phase.ALTERNATING: gettext_lazy("Alternating between the two power levels."),
    Phase.SETTLING: gettext_lazy("The oil loss is settling."),
    Phase.PROVISIONAL: gettext_lazy(
        "Provisionally settled: the oil loss has gone low and steady as far as a dipstick can tell."
    ),
    Phase.REVIEW: gettext_lazy("The criteria for a review are met; the shop looks at the record next."),
    Phase.CLOSED: gettext_lazy("The break-in is closed out. A close-out is not a return to service."),
    Phase.FOLLOW_UP: gettext_lazy("The break-in is closed out; a few later checks follow."),
    Phase.INCOMPLETE: gettext_lazy("The break-in was ended before its criteria could be judged."),
    Phase.LOG_ONLY: gettext_lazy("Readings are kept for this engine, and nothing is judged: follow the maker's plan."),
}


_capital = lazy(capfirst, str)  # put into words where it is shown, so that its shape goes by the English word


def state_word(assessment: Assessment | None) -> str | Promise:
    """The phase, or "Stopped" where a Stop is open."""
    if assessment is None:
        return gettext_lazy("not in break-in")
    return gettext_lazy("Stopped") if assessment.stopped else _capital(Phase(assessment.phase).label)


def kept(text: Any) -> str:
    """A sentence without numbers that a judgement wrote down in English, in the language of the page."""
    return _(text) if isinstance(text, str) and text else ""


def lacking(row: Mapping[str, Any], plan: RunInPlan | None) -> tuple[str, str]:
    """A criterion that is not met yet, and what helps."""
    mend = kept(row.get("mend"))
    if row.get("key") == "hours" and plan is not None:
        return _("At least %(hours)s h run") % {"hours": written.short(plan.minimum_h)}, mend
    if row.get("key") == "evidence":
        share = _("At least %(share)d %% of flights with grade A or B")
        return share % {"share": round(EVIDENCE_SHARE * 100)}, mend
    return kept(row.get("what")), mend


def state_sentence(assessment: Assessment | None, engine: Engine) -> str:
    if assessment is None:
        return _("No break-in is open for %(engine)s. Its oil is logged like the other one's.") % {"engine": engine}
    said = str(_PHASES.get(Phase(assessment.phase), ""))
    return f"{_('Reopened.')} {said}" if assessment.reopened else said


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
        said = kept(dig(assessment, "oil", "sentence"))
        return _("Oil: %(said)s") % {"said": said} if said else ""
    values = {
        "rate": oil_rate(rate, u_rate, units),
        "trend": say(word or _("not known")),
        "limit": "" if accept is None else accepted_rate(accept, units),
    }
    if accept is None:
        return _("Oil loss %(rate)s (%(trend)s).") % values
    return _("Oil loss %(rate)s (%(trend)s); accepted up to %(limit)s.") % values


def fly_next(assessment: Assessment | None) -> str:
    """What the next flight is for, without the word "next" before it; "" where nothing is judged."""
    label = kept(dig(assessment, "next", "label"))
    return f"{label}." if label else ""


def next_visit(assessment: Assessment | None) -> str:
    """When the shop wants to see the aircraft: one line with hours and date."""
    if assessment is None or not assessment.next_touch:
        return ""
    hours, day = assessment.next_touch_h, assessment.next_touch_on
    values = {
        "what": read(assessment.next_touch, dig(assessment, "said", "next_touch")),
        "hours": "" if hours is None else written.number(hours, 1),
        "day": "" if day is None else written.day(day),
    }
    if hours is not None and day is not None:
        return _("%(what)s: at %(hours)s h, about %(day)s at your recent pace.") % values
    if hours is not None:
        return _("%(what)s: at %(hours)s h.") % values
    if day is not None:
        return _("%(what)s: about %(day)s at your recent pace.") % values
    return f"{values['what']}."


def minute_rows(table: Any, credit: Any) -> list[tuple[str, str, str]]:
    """Rows (from minute, length, power) of a minute table; the bands of the plan in words."""
    rows, clock = [], 0.0
    for row in table if isinstance(table, list) else []:
        if not isinstance(row, list | tuple) or len(row) != 2 or not isinstance(row[0], int | float):
            continue
        minutes, band = float(row[0]), str(row[1])
        limits = credit.get(band) if isinstance(credit, dict) else None
        counts = ""
        if isinstance(limits, list) and len(limits) == 2:
            edges = {"low": written.short(limits[0]), "high": written.short(limits[1])}
            counts = _("counts from %(low)s to %(high)s %%") % edges
        span = _("%(start)s to %(end)s") % {"start": _clock(clock), "end": _clock(clock + minutes)}
        rows.append((span, _("%(band)s %% of rated power") % {"band": band}, counts))
        clock += minutes
    return rows


def _clock(minutes: float) -> str:
    whole = round(minutes)
    return f"{whole // 60}:{whole % 60:02d}"


def card_words(card: IssuedCard) -> str:
    """Which card this is, and how long it holds."""
    until = timezone.localtime(card.valid_until)
    return _("Card no. %(number)s, plan revision %(revision)s: holds until your next log or %(day)s.") % {
        "number": card.number,
        "revision": card.plan.revision,
        "day": written.day(until, year=False),
    }


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
                _("Fuel flow at full throttle"),
                _("%(low)s to %(high)s") % {"low": low, "high": high},
                _("below it or rough: reject while runway remains, by the POH/AFM"),
            )
        )
    if kind and kind.cht_watch_degf:
        limit = quantity(kind.cht_limit_degf, "temperature", units) if kind.cht_limit_degf else ""
        limit = _("maker's limit %(limit)s") % {"limit": limit} if limit else ""
        shown.append((_("Watch line, head temperature"), quantity(kind.cht_watch_degf, "temperature", units), limit))
    if stage is None:
        return shown
    if stage.climb_to_ft:
        place = stage.get_climb_reference_display()
        reach = _("%(place)s, in gliding reach of it") % {"place": place}
        shown.append((_("Climb to"), quantity(stage.climb_to_ft, "altitude", units), reach))
    if stage.rpm:
        shown.append((_("rpm"), f"{stage.rpm:.0f}", _("manifold pressure by the power chart for your altitude")))
    if stage.altitude_max_ft:
        shown.append((_("Not above"), quantity(stage.altitude_max_ft, "altitude", units), _("for power or cooling")))
    for label, text in ((_("Mixture"), stage.mixture), (_("Cowl flaps"), stage.cowl_flaps)):
        if text:
            shown.append((label, kept(text), ""))
    return shown


def owed(value: Any) -> str:
    """Minutes still owed at each level, as a sentence."""
    if not isinstance(value, dict):
        return str(value) if isinstance(value, str) else ""
    parts = [
        _("%(minutes)s at %(band)s %%") % {"minutes": minutes_text(float(minutes)), "band": band}
        for band, minutes in value.items()
        if isinstance(minutes, int | float) and minutes > 0
    ]
    if len(parts) == 2:
        return _("Still owed: %(first)s and %(second)s.") % {"first": parts[0], "second": parts[1]}
    return _("Still owed: %(minutes)s.") % {"minutes": ", ".join(parts)} if parts else ""


def flight_said(flight: Flight, *, own: bool) -> str:
    """One flight in a line. Persons are named to those who held the aircraft then."""
    minutes = minutes_text(flight.airborne_min)
    said = _("Ground run") if flight.airborne_min == 0 else _("%(minutes)s in the air") % {"minutes": minutes}
    who = flight.pilot or flight.on_behalf_of or flight.entered_by
    return f"{said}, {who.name}" if own and who else said

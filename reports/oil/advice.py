"""What to do with the oil before a flight, in the reader's units and words.

The minimum of the POH/AFM and the pilot's judgement always win over the shop's lines.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from breakin.calc.errors import CalcError
from breakin.calc.oil.lines import OilLines, advise, expected_settle_qt, oil_lines
from breakin.models import Assessment, RunInPlan
from engines.models import EngineTypeRevision, Installation
from reports.detail import number
from reports.quantities import quantity
from shop import written

USUAL_FLIGHT_H = 1.0  # until a flight time is typed or learned
MINIMUM_WINS = gettext_lazy("The POH/AFM minimum and the pilot's judgement always win.")


@dataclass(frozen=True)
class OilAdvice:
    """Advice for one engine.

    code : "below_no_go", "add_one", "leave", "above_hold", "no_reading", "log_only" or "not_known".
    say : the answer in a few words; because : sentences with its numbers.
    lines : (label, value with unit, small print) of the lines of the dipstick.
    kind : the oil that may be poured, in words; "" where no plan says.
    planned_h : flight time the lines hold for [h].
    """

    code: str
    say: str
    because: tuple[str, ...]
    lines: tuple[tuple[str, str, str], ...] = ()
    kind: str = ""
    planned_h: float | None = None

    @property
    def forbids(self) -> bool:
        return self.code == "below_no_go"


def advice(
    level_qt: float | None,
    *,
    installation: Installation,
    kind: EngineTypeRevision | None,
    plan: RunInPlan | None,
    assessment: Assessment | None,
    units: str,
    planned_h: float | None = None,
) -> OilAdvice:
    """The advice at this level; without a level, the lines alone.

    Parameters
    ----------
    level_qt : float [qt] or None - as the dipstick shows it.
    planned_h : float [h] or None - None takes the usual flight of this engine.
    """
    oil = plan.get_oil_kind_display() if plan else ""
    hours = planned_h if planned_h is not None else number(assessment, "oil", "lines", "planned_h") or USUAL_FLIGHT_H
    minimum = installation.min_oil_qt
    if level_qt is not None and level_qt < minimum:
        return _below(level_qt, minimum, units, oil, _lines(installation, kind, assessment, hours), hours)
    if kind is None or kind.log_only:
        return _log_only(level_qt, minimum, units, oil)
    lines = _lines(installation, kind, assessment, hours)
    if lines is None:
        sorry = (_("The lines of this dipstick cannot be drawn yet. Keep to the POH/AFM, and ask the shop."),)
        return OilAdvice("not_known", _("Not known"), sorry, _minimum_only(minimum, units), oil)
    shown = _shown(lines, units)
    notes = _notes(lines, hours, units)
    if level_qt is None:
        because = (_("Read the dipstick, and the answer stands here."), *notes)
        return OilAdvice("no_reading", _("No reading yet"), because, shown, oil, hours)
    try:
        code = advise(level_qt, lines).code
    except CalcError as error:
        return OilAdvice("not_known", _("Not known"), (f"{error.what} {error.mend}".strip(),), shown, oil, hours)
    return _answer(code, level_qt, lines, units, oil, hours, shown, notes)


def _answer(
    code: str,
    level: float,
    lines: OilLines,
    units: str,
    oil: str,
    hours: float,
    shown: tuple[tuple[str, str, str], ...],
    notes: tuple[str, ...],
) -> OilAdvice:
    values = {
        "here": quantity(level, "volume", units),
        "hold": quantity(lines.hold, "volume", units),
        "add": quantity(lines.add, "volume", units),
        "settle": quantity(lines.settle, "volume", units),
        "oil": oil,
    }
    say, because = {
        "add_one": (
            _("Add one: %(oil)s") if oil else _("Add one"),
            _("%(here)s is below the add line, %(add)s. One is a US quart or a 1 L bottle; then leave it."),
        ),
        "leave": (_("Leave it"), _("%(here)s lies between the add line, %(add)s, and the hold line, %(hold)s.")),
        "above_hold": (
            _("Add nothing"),
            _(
                "%(here)s is above the hold line, %(hold)s. What lies above about %(settle)s goes out of the breather "
                "and says nothing about the rings."
            ),
        ),
    }[code]
    return OilAdvice(code, say % values, (because % values, *notes, str(MINIMUM_WINS)), shown, oil, hours)


def _below(level: float, minimum: float, units: str, oil: str, lines: OilLines | None, hours: float) -> OilAdvice:
    because = [
        _("%(here)s is below the POH/AFM minimum, %(minimum)s.")
        % {"here": quantity(level, "volume", units), "minimum": quantity(minimum, "volume", units)},
        _("Find out where the oil went, and add before any flight."),
    ]
    if lines is not None:
        lacking = quantity(lines.add - level, "volume", units)
        because.append(_("About %(lacking)s are missing to the add line.") % {"lacking": lacking})
    shown = _shown(lines, units) if lines is not None else _minimum_only(minimum, units)
    say = _("Below the POH/AFM minimum: do not depart")
    return OilAdvice("below_no_go", say, tuple(because), shown, oil, hours)


def _log_only(level: float | None, minimum: float, units: str, oil: str) -> OilAdvice:
    because = (
        _("This engine is outside the shop's built-in lines: its readings are kept, and nothing is judged."),
        _("Follow the engine maker's instructions and the POH/AFM."),
    )
    say = _("Log only") if level is not None else _("No reading yet")
    return OilAdvice("log_only", say, because, _minimum_only(minimum, units), oil)


def _lines(
    installation: Installation, kind: EngineTypeRevision | None, assessment: Assessment | None, planned_h: float
) -> OilLines | None:
    """The lines for this flight; None where type and installation do not allow any."""
    if kind is None or kind.log_only:
        return None
    rate = number(assessment, "oil", "rate_qt_h")
    u_rate = number(assessment, "oil", "u_qt_h")
    try:
        settle = number(assessment, "oil", "settle_level_qt") or kind.settle_qt or expected_settle_qt(kind.sump_full_qt)
        known = rate is not None and u_rate is not None
        return oil_lines(
            kind.sump_full_qt,
            settle,
            installation.min_oil_qt,
            planned_h,
            rate if known else None,
            u_rate if known else None,
        )
    except CalcError:
        return None


def _shown(lines: OilLines, units: str) -> tuple[tuple[str, str, str], ...]:
    return (
        (_("Hold line"), quantity(lines.hold, "volume", units), _("never pour above it")),
        (_("Add line"), quantity(lines.add, "volume", units), _("below it add one")),
        (_("No-go"), quantity(lines.no_go, "volume", units), _("POH/AFM minimum")),
    )


def _minimum_only(minimum: float, units: str) -> tuple[tuple[str, str, str], ...]:
    return ((_("No-go"), quantity(minimum, "volume", units), _("POH/AFM minimum")),)


def _notes(lines: OilLines, hours: float, units: str) -> tuple[str, ...]:
    """The notes of rule O3 in the reader's units."""
    values = {
        "margin": quantity(lines.margin, "volume", units),
        "no_go": quantity(lines.no_go, "volume", units),
        "full": quantity(lines.full, "volume", units),
        "settle": quantity(lines.settle, "volume", units),
        "hours": written.number(hours, 1),
    }
    if lines.add >= lines.full:
        said = _("The sump, %(full)s, does not hold enough above the minimum for %(hours)s h. Do not plan this leg.")
    elif lines.add > lines.settle:
        said = _("%(margin)s are kept above the minimum, %(no_go)s, for %(hours)s h. Shorter legs are the better way.")
    elif lines.hold > lines.settle:
        said = _("Above about %(settle)s it is expected to go out of the breather.")
    else:
        return ()
    return (said % values,)

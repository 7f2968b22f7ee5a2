"""Heat, oil and cautions on the next-flight card, with the lines that the rules of heat and oil look at."""

from __future__ import annotations

from breakin.picture.heat import WATCH_DEGF
from breakin.rules.heat import CRUISE_AFTER_H, CRUISE_DEGF, EARLY_H
from breakin.rules.oil_pressure import COOL_OIL_DEGF
from engines.models import Cooling, EngineTypeRevision, FuelSystem, Induction, Installation
from reports.pilot import card_engine_words as say
from reports.pilot import card_words as words
from reports.pilot.card_air import Told
from reports.pilot.card_content import Line
from reports.quantities import quantity

# EGT of neighbours within this means nothing [ddegF]; a field colder or hotter than these asks for more [degF]:
# common practice, no source.
EGT_SPREAD_DDEGF = 50.0
COLD_FIELD_DEGF, HOT_FIELD_DEGF = 32.0, 86.0


def heat(installation: Installation, revision: EngineTypeRevision, hours: float, units: str) -> tuple[Line, ...]:
    """What is expected, our watch line, the maker's limit, and the turbine's. `hours` : run so far [h]."""

    def degrees(value: float) -> str:
        return quantity(value, "temperature", units)

    watch = WATCH_DEGF if revision.cht_watch_degf is None else revision.cht_watch_degf
    limit = revision.cht_limit_degf
    lines = [
        Line(say.early(), say.from_to(degrees(CRUISE_DEGF), degrees(watch)), say.expected_early(f"{EARLY_H:g}"))
        if hours < EARLY_H
        else Line(say.level_cruise(), degrees(CRUISE_DEGF), say.no_hotter_in_cruise(f"{CRUISE_AFTER_H:g}")),
        Line(say.watch_line(), degrees(watch), say.watch_note()),
        Line(
            say.makers_limit(),
            words.by_handbook() if limit is None else degrees(limit),
            say.limit_unknown() if limit is None else say.limit_note(),
        ),
    ]
    if not installation.has_cht_per_cylinder:
        lines.append(Line(say.heads(), words.not_fitted(), say.one_head_only()))
    turbo = revision.induction in (Induction.TURBOCHARGED, Induction.TURBO_NORMALISED)
    if turbo or revision.tit_limit_degf is not None:
        tit = revision.tit_limit_degf
        note = say.turbine_note() if installation.has_tit else words.not_fitted()
        lines.append(Line(say.turbine(), words.by_handbook() if tit is None else degrees(tit), note))
    return tuple(lines)


def oil_limits(revision: EngineTypeRevision, units: str) -> tuple[Line, ...]:
    """Oil temperature and pressure."""
    hot, low, high = revision.oil_temp_max_degf, revision.oil_press_min_psi, revision.oil_press_max_psi
    idle = revision.oil_press_idle_min_psi
    temperature = Line(say.oil_temperature(), words.by_handbook())
    if hot is not None:
        note = say.oil_temperature_note(quantity(COOL_OIL_DEGF, "temperature", units))
        temperature = Line(say.oil_temperature(), quantity(hot, "temperature", units), note)
    pressure = Line(say.oil_pressure(), words.by_handbook())
    if low is not None:
        least = quantity(low, "oil_pressure", units)
        value = say.at_least(least) if high is None else say.from_to(least, quantity(high, "oil_pressure", units))
        note = "" if idle is None else say.oil_pressure_note(quantity(idle, "oil_pressure", units))
        pressure = Line(say.oil_pressure(), value, note)
    return (temperature, pressure)


def ignore(units: str) -> str:
    return say.ignore(quantity(EGT_SPREAD_DDEGF, "difference", units))


def cautions(revision: EngineTypeRevision | None, told: Told | None, units: str) -> tuple[str, ...]:
    """What this kind of engine and this day ask for."""
    said: list[str] = []
    if revision is not None:
        if revision.induction in (Induction.TURBOCHARGED, Induction.TURBO_NORMALISED):
            said += say.turbo_cautions()
        if revision.fuel_system == FuelSystem.CARBURETTOR:
            said.append(say.carburettor())
        if revision.dry_sump or revision.cooling != Cooling.AIR:
            said.append(say.dry_sump())
    if told is not None and told.oat_degf is not None:
        if told.oat_degf <= COLD_FIELD_DEGF:
            said.append(say.cold_day(quantity(COOL_OIL_DEGF, "temperature", units)))
        if told.oat_degf >= HOT_FIELD_DEGF:
            said.append(say.hot_day())
    return tuple(said)

"""The settings of the next-flight card as tables, and what to do where the power can't be had."""

from __future__ import annotations

from collections.abc import Sequence

from breakin.calc import card
from breakin.calc.card_flight import expected_fuel_flow_gph
from breakin.calc.chart import Chart
from breakin.calc.units import Kind, display_unit, from_canonical, written
from engines.models import EngineTypeRevision
from reports.pilot import card_engine_words as say
from reports.pilot.card_air import Told
from reports.pilot.card_content import Cell, SettingRow, SettingTable
from reports.quantities import quantity

UPPER_PCT = 75.0
# Altitudes up to which a power can be had are told downwards to this [ft].
STEP_FT = 10.0


def today_or_standard(columns: Sequence[card.Column]) -> card.Column | None:
    """The column of the day's air, else that of standard air."""
    named = {column.air.name: column for column in columns}
    return named.get("today") or named.get("standard")


def climb_no_higher(columns: Sequence[card.Column], top_ft: float, units: str) -> str:
    """What to say where the climb of the plan ends higher than 75 % can be had, in the day's air or else in standard
    air; "" where it does not. `top_ft` : [ft], pressure altitude.
    """
    column = today_or_standard(columns)
    found = next((up for up in column.reach if up.pct == UPPER_PCT), None) if column else None
    if found is None or (found.highest_ft is not None and found.highest_ft >= top_ft):
        return ""
    if found.highest_ft is None:
        return say.climb_lowest()
    return say.climb_no_higher(quantity(found.highest_ft // STEP_FT * STEP_FT, "altitude", units))


def tables(
    columns: Sequence[card.Column],
    revision: EngineTypeRevision,
    chart: Chart | None,
    rpm: float,
    told: Told | None,
    units: str,
) -> tuple[SettingTable, ...]:
    """A table for each power: a row for each altitude, a cell for each air."""
    if not columns or chart is None or told is None:
        return ()
    fixed = chart.kind == "fixed_pitch"
    return tuple(
        _table([up.pct for up in columns[0].reach][number], columns, revision, told, units, rpm=None if fixed else rpm)
        for number in range(len(columns[0].reach))
    )


def _table(
    pct: float,
    columns: Sequence[card.Column],
    revision: EngineTypeRevision,
    told: Told,
    units: str,
    *,
    rpm: float | None,
) -> SettingTable:
    flow = expected_fuel_flow_gph(
        pct,
        revision.rated_hp,
        bsfc_lb_hp_h=revision.bsfc_best_power_lb_hp_h,
        fuel_lb_per_gal=revision.fuel_lb_per_gal,
    )
    shelves = sorted({row.altitude_ft for one in columns for row in one.settings if row.altitude_ft in card.TABLE_FT})
    rows = [
        SettingRow(quantity(shelf, "altitude", units), tuple(_cell(_at(one, pct, shelf), units) for one in columns))
        for shelf in shelves
    ]
    rows.append(SettingRow(say.highest(), tuple(_highest(one, pct, units) for one in columns)))
    at = ""
    if rpm is not None:
        shown = [row.rpm for one in columns for row in one.settings if row.rpm is not None]
        at = quantity(shown[0] if shown else rpm, "rpm", units)
    return SettingTable(
        power=say.power(f"{pct:.0f}"),
        at=at,
        unit="rpm" if rpm is None else written(display_unit(Kind.PRESSURE_MANIFOLD, units)),
        airs=tuple((say.day_name(one.air.name), _off_standard(one.air, units)) for one in columns),
        rows=tuple(rows),
        reach=_reach(pct, columns, told, units),
        fuel_flow=say.expect_flow(*(quantity(value, "fuel_flow", units) for value in flow)),
    )


def _at(column: card.Column, pct: float, altitude_ft: float) -> card.Setting | None:
    return next((row for row in column.settings if row.pct == pct and row.altitude_ft == altitude_ft), None)


def _cell(row: card.Setting | None, units: str) -> Cell:
    if row is None:
        return Cell("–")
    if row.rpm is None:
        return Cell("–", say.off_chart() if "chart" in row.why else say.not_had())
    return Cell(_number(row, units))


def _number(row: card.Setting, units: str) -> str:
    """The bare number that he sets: the table names its unit."""
    if row.map_inhg is None:
        return f"{row.rpm:.0f}"
    unit = display_unit(Kind.PRESSURE_MANIFOLD, units)
    return f"{from_canonical(row.map_inhg, unit, Kind.PRESSURE_MANIFOLD):.{1 if unit == 'inHg' else 0}f}"


def _highest(column: card.Column, pct: float, units: str) -> Cell:
    up = next(up for up in column.reach if up.pct == pct)
    if up.highest_ft is None:
        return Cell("–", say.not_had())
    row = _at(column, pct, up.highest_ft)
    altitude = quantity(up.highest_ft // STEP_FT * STEP_FT, "altitude", units)
    return Cell("–", altitude) if row is None or row.rpm is None else Cell(_number(row, units), altitude)


def _off_standard(air: card.Air, units: str) -> str:
    if not air.from_standard:
        return ""
    by = quantity(abs(air.from_standard), "difference", units)
    return say.off_standard(by, colder=air.from_standard < 0)


def _reach(pct: float, columns: Sequence[card.Column], told: Told, units: str) -> str:
    column = today_or_standard(columns)
    if column is None:
        return ""
    up = next(up for up in column.reach if up.pct == pct)
    air = say.air_of(column.air.name)
    if up.highest_ft is None:
        lowest = quantity(card.lowest_sensible_ft(told.pressure_altitude_ft), "altitude", units)
        return say.reach_none(f"{pct:.0f}", lowest, air)
    altitude = quantity(up.highest_ft // STEP_FT * STEP_FT, "altitude", units)
    return say.reach_to(f"{pct:.0f}", altitude, air, capped=up.capped)


def not_achievable(found: card.Instead | None, told: Told | None, least_pct: float, units: str) -> str:
    """The sentence where 75 % can't be had at the lowest sensible altitude; "" where it can."""
    if found is None or told is None:
        return ""
    lowest = quantity(card.lowest_sensible_ft(told.pressure_altitude_ft), "altitude", units)
    return say.not_achievable(f"{found.best_pct:.0f}", lowest, f"{least_pct:g}")


def ways_out(found: card.Instead | None, told: Told | None, units: str) -> tuple[str, ...]:
    """What would make it possible, each alone."""
    if found is None or told is None:
        return ()
    lowest = quantity(card.lowest_sensible_ft(told.pressure_altitude_ft), "altitude", units)
    said = []
    if found.rpm is not None:
        said.append(say.higher_rpm(f"{found.rpm:.0f}"))
    if found.oat_degf is not None:
        said.append(say.cooler_hour(quantity(found.oat_degf, "temperature", units), lowest))
    if found.field_ft is not None:
        said.append(say.lower_field(quantity(found.field_ft // STEP_FT * STEP_FT, "altitude", units)))
    return tuple(said) or (say.nothing_alone(),)

"""The next-flight card of an aircraft: what each engine is to be set to, on this field and in this air."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from breakin.calc import card
from breakin.calc.atmosphere import checked, pressure_altitude_ft, standard_temperature_degf
from breakin.calc.chart import Chart
from breakin.calc.errors import CalcError
from breakin.calc.units import Kind, display_unit, parse, written
from breakin.models import RunInPlan
from breakin.picture.power import PLANNED_RPM_SHARE
from engines.models import Aircraft, EngineTypeRevision, Installation
from reports.pilot.aircraft_page import AircraftPage, EnginePanel, aircraft_page
from reports.quantities import quantity
from reports.reader import Reader

STANDARD_INHG = 29.92
# Lower edge of the band of 75 % where no plan says another [% of rated power].
LEAST_PCT = 72.0
# Elevations of fields [ft], as of the shop's places.
ELEVATION_FT = (-1500.0, 14_500.0)


@dataclass(frozen=True)
class Asked:
    """One box of the form: what stands in it, its unit, and why it was refused."""

    name: str
    label: str
    text: str
    unit: str
    error: str = ""


@dataclass(frozen=True)
class SettingLine:
    """One line of the table of settings: day, temperature, altitude, power and what to set, as text."""

    day: str
    altitude: str
    oat: str
    power: str
    set_to: str


@dataclass(frozen=True)
class EngineCard:
    """One engine's column. `why` says why there is no table; `follows`: not in break-in, it follows the other."""

    panel: EnginePanel
    follows: bool
    why: str
    reach: Sequence[tuple[str, str]]
    lines: Sequence[SettingLine]
    not_achievable: str
    instead: Sequence[str]


@dataclass(frozen=True)
class CardPage:
    """The card: `uneven` says that the engines of a twin are at different stages."""

    page: AircraftPage
    boxes: Sequence[Asked]
    engines: Sequence[EngineCard]
    made_at: datetime
    uneven: bool

    @property
    def twin(self) -> bool:
        return len(self.engines) > 1


def card_page(aircraft: Aircraft, reader: Reader, now: datetime, typed: Mapping[str, str]) -> CardPage:
    """The card on the field and in the air that were typed; what was not typed is home field and standard air."""
    page = aircraft_page(aircraft, reader, now)
    boxes, field_ft, oat = _asked(aircraft, reader.units, typed)
    engines = [_engine(panel, reader.units, field_ft, oat) for panel in page.engines]
    stages = {each.panel.next.label for each in engines if each.panel.next}
    return CardPage(page, boxes, engines, now, len(stages) > 1)


def _asked(aircraft: Aircraft, units: str, typed: Mapping[str, str]) -> tuple[list[Asked], float | None, float | None]:
    """The boxes, the pressure altitude of the field [ft] (None: refused), its temperature [degF] (None: standard)."""
    values: dict[str, float | None] = {}
    boxes = []
    usual = {"elevation": aircraft.home.elevation_ft, "altimeter": STANDARD_INHG, "oat": None}
    kinds = {"elevation": Kind.ALTITUDE, "altimeter": Kind.PRESSURE_ALTIMETER, "oat": Kind.TEMPERATURE}
    labels = {"elevation": "Field elevation", "altimeter": "Altimeter setting", "oat": "Temperature at the field"}
    for name, kind in kinds.items():
        text, unit, error = typed.get(name, "").strip()[:20], display_unit(kind, units), ""
        values[name] = usual[name]
        if text:
            try:
                values[name] = parse(text, unit, kind).value
                _check(name, values[name])
            except CalcError as refused:
                error = str(refused)
        boxes.append(Asked(name, labels[name], text, written(unit), error))
    elevation, setting = values["elevation"], values["altimeter"]
    if any(box.error for box in boxes) or elevation is None or setting is None:
        return boxes, None, None
    return boxes, pressure_altitude_ft(elevation, setting), values["oat"]


def _check(name: str, value: float | None) -> None:
    low, high, unit, mend = {
        "elevation": (*ELEVATION_FT, "ft", "Give the elevation of the field."),
        "altimeter": (25.0, 32.5, "inHg", "Give the setting for sea level."),
        "oat": (-60.0, 140.0, "°F", "Give the air temperature at the field."),
    }[name]
    if value is not None:
        checked("", value, low, high, unit, mend)


def _engine(panel: EnginePanel, units: str, field_ft: float | None, oat: float | None) -> EngineCard:
    if panel.next is None or panel.build is None:
        other = "it follows the other engine, even power" if panel.side else "there is no break-in to fly"
        return EngineCard(panel, True, f"Not in break-in: {other}.", (), (), "", ())
    revision = panel.build.type_revision
    if revision.log_only:
        return EngineCard(panel, False, "Log only: this type has no built-in judgement.", (), (), "", ())
    if field_ft is None:
        return EngineCard(panel, False, "Mend the box above: without it there are no settings.", (), (), "", ())
    plan = panel.build.plans.order_by("-revision").first()
    try:
        chart = Chart.from_dict(revision.chart, rated_hp=revision.rated_hp) if revision.chart else None
        if chart is None:
            return EngineCard(panel, False, "No power chart of this type is on file: use the POH/AFM.", (), (), "", ())
        return _settings(panel, chart, revision, plan, units, field_ft, oat)
    except CalcError as refused:
        return EngineCard(panel, False, f"No settings: {refused}", (), (), "", ())


def planned(plan: RunInPlan | None, revision: EngineTypeRevision) -> tuple[float, float | None]:
    """Engine speed [rpm] that the plan asks for, as the verdict takes it, and the lowest altitude cap [ft] or None."""
    stages = list(plan.stages.all()) if plan else []
    rpm = next((stage.rpm for stage in stages if stage.rpm), revision.rated_rpm * PLANNED_RPM_SHARE)
    caps = [stage.altitude_max_ft for stage in stages if stage.altitude_max_ft]
    caps += [revision.altitude_cap_ft] if revision.altitude_cap_ft else []
    return rpm, min(caps) if caps else None


def _settings(
    panel: EnginePanel,
    chart: Chart,
    revision: EngineTypeRevision,
    plan: RunInPlan | None,
    units: str,
    field_ft: float,
    oat: float | None,
) -> EngineCard:
    rpm, cap = planned(plan, revision)
    reads = _instruments(panel.installation)
    today = card.day(field_ft, standard_temperature_degf(field_ft) if oat is None else oat)
    lowest = card.lowest_sensible_ft(field_ft)
    airs = card.days(None if oat is None else today)
    columns = [card.column(chart, air, rpm=rpm, field_ft=field_ft, cap_ft=cap, instruments=reads) for air in airs]
    least = float(plan.credit["75"][0]) if plan and "75" in plan.credit else LEAST_PCT
    found = card.instead(chart, today, field_ft=field_ft, rpm=rpm, pct=least, instruments=reads)
    lines = [_line(each.air.name, row, units) for each in columns for row in each.settings]
    reach = [(f"{each.air.name}, {up.pct:.0f} %", _reach(up, units)) for each in columns for up in each.reach]
    lacking = (
        ""
        if found is None
        else (
            f"Not achievable today: at most {found.best_pct:.0f} % at {quantity(lowest, 'altitude', units)}, the "
            f"lowest sensible altitude; {least:g} % is the least that counts as 75 %."
        )
    )
    return EngineCard(panel, False, "", reach, lines, lacking, _instead(found, units) if found else ())


def _instruments(installation: Installation) -> card.Instruments:
    return card.Instruments(installation.rpm_error or 0.0, installation.map_error_inhg or 0.0)


def _reach(up: card.Reach, units: str) -> str:
    if up.highest_ft is None:
        return "not achievable at or above the lowest sensible altitude"
    to = f"to {quantity(up.highest_ft, 'altitude', units)} pressure altitude"
    return f"{to}, where plan or chart ends" if up.capped else to


def _line(day: str, row: card.Setting, units: str) -> SettingLine:
    if row.rpm is None:
        told = row.why
    elif row.map_inhg is None:
        told = f"{row.rpm:.0f} rpm"
    else:
        told = f"{quantity(row.map_inhg, 'manifold', units)} at\N{NO-BREAK SPACE}{row.rpm:.0f}\N{NO-BREAK SPACE}rpm"
    altitude, heat = quantity(row.altitude_ft, "altitude", units), quantity(row.oat_degf, "temperature", units)
    return SettingLine(day, altitude, heat, f"{row.pct:.0f} %", told)


def _instead(found: card.Instead, units: str) -> list[str]:
    said = []
    if found.rpm is not None:
        said.append(f"Higher engine speed: {found.rpm:.0f} rpm or more, where the maker allows it continuously.")
    if found.oat_degf is not None:
        said.append(f"Cooler hour: {quantity(found.oat_degf, 'temperature', units)} or less at that altitude.")
    if found.field_ft is not None:
        said.append(f"Lower field: at or below {quantity(found.field_ft, 'altitude', units)} pressure altitude.")
    return said or ["Neither more engine speed, a cooler hour nor a lower field is enough alone: call the shop."]

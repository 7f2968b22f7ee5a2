"""Take-off and climb on the next-flight card, as the rules of take-off and heat judge them afterwards."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from breakin.calc.atmosphere import standard_pressure_inhg
from breakin.calc.card import Column
from breakin.calc.card_flight import climb_heights_ft, fuel_flow_read_gph
from breakin.calc.chart import Chart
from breakin.calc.inspection import UNDER_AMBIENT_INHG
from breakin.models import PlanStage
from breakin.rules.takeoff import OFF_SPEC_INHG
from engines.models import EngineTypeRevision, Induction, Installation, PropControl
from reports.pilot import card_engine_words as say
from reports.pilot import card_words as words
from reports.pilot.card_air import Told
from reports.pilot.card_content import Climb, Line, TakeOff
from reports.pilot.card_power import climb_no_higher
from reports.pilot.words import kept
from reports.quantities import quantity

FALLING_BY_FT = 3000.0


def is_fixed(installation: Installation, revision: EngineTypeRevision) -> bool:
    return PropControl.FIXED in (installation.prop_control, revision.prop_control)


def take_off(
    installation: Installation, revision: EngineTypeRevision, chart: Chart | None, told: Told | None, units: str
) -> TakeOff:
    """What full throttle has to show, in this air."""
    flow, low, note = _fuel_flow(installation, revision, told, units)
    checks = (
        _rpm(installation, revision, units),
        _manifold(installation, revision, chart, told, units),
        flow,
    )
    return TakeOff(checks, say.reject(low), note)


def _rpm(installation: Installation, revision: EngineTypeRevision, units: str) -> Line:
    if is_fixed(installation, revision):
        return Line(say.engine_speed(), words.by_handbook(), say.static_rpm())
    shown = revision.rated_rpm + (installation.rpm_error or 0.0)
    return Line(say.engine_speed(), quantity(shown, "rpm", units), say.rpm_at_take_off())


def _manifold(
    installation: Installation, revision: EngineTypeRevision, chart: Chart | None, told: Told | None, units: str
) -> Line:
    label = say.manifold_pressure()
    if not installation.has_map:
        return Line(label, words.not_fitted())
    off = installation.map_error_inhg or 0.0
    if revision.induction == Induction.NATURAL:
        if told is None:
            return Line(label, words.by_handbook())
        outside = float(standard_pressure_inhg(told.pressure_altitude_ft))
        least = quantity(outside - UNDER_AMBIENT_INHG + off, "manifold", units)
        return Line(label, say.at_least(least), say.ambient(quantity(outside, "manifold", units)))
    spec = _boosted_inhg(revision, chart, told)
    if spec is None:
        return Line(label, words.by_handbook())
    value = say.give_or_take(quantity(spec + off, "manifold", units), quantity(OFF_SPEC_INHG, "manifold", units))
    return Line(label, value, say.boosted())


def _boosted_inhg(revision: EngineTypeRevision, chart: Chart | None, told: Told | None) -> float | None:
    """Full-throttle manifold pressure of a boosted type at rated rpm [inHg]; None where it is not known."""
    if chart is None or not chart.full_throttle_map_inhg or told is None:
        return None
    if chart.critical_altitude_ft is not None and told.pressure_altitude_ft > chart.critical_altitude_ft:
        return None
    return float(np.interp(revision.rated_rpm, chart.full_throttle_rpm, chart.full_throttle_map_inhg))


def _fuel_flow(
    installation: Installation, revision: EngineTypeRevision, told: Told | None, units: str
) -> tuple[Line, str, str]:
    """The line of the fuel flow, the edge below which the take-off is rejected, and how the band came about."""
    label, low, high = say.fuel_flow(), revision.takeoff_ff_low_gph, revision.takeoff_ff_high_gph
    if not installation.has_fuel_flow:
        return Line(label, words.not_fitted()), "", ""
    # Where the band moves with the air, it is not said until the air is understood.
    if low is None or high is None or (revision.fuel_flow_compensates and told is None):
        return Line(label, words.by_handbook()), "", ""
    band = [quantity(value, "fuel_flow", units) for value in (low, high)]
    note = {True: "", False: say.flow_raw(), None: say.flow_unknown()}[revision.fuel_flow_compensates]
    if revision.fuel_flow_compensates and told is not None:
        note = say.flow_corrected(band[0], band[1], quantity(told.density_altitude_ft, "altitude", units))
        band = [
            quantity(fuel_flow_read_gph(value, told.pressure_altitude_ft, told.temperature_degf), "fuel_flow", units)
            for value in (low, high)
        ]
    return Line(label, say.from_to(band[0], band[1])), band[0], note


def climb(stage: PlanStage | None, told: Told | None, columns: Sequence[Column], units: str) -> Climb | None:
    """The climb of the plan, with the heights where the heads are read; None where no plan asks for one."""
    if stage is None or not stage.climb_to_ft or told is None:
        return None
    above = stage.climb_reference == "field"
    field = told.elevation_ft
    top = field + stage.climb_to_ft if above else stage.climb_to_ft
    said = say.climb(
        quantity(stage.climb_to_ft, "altitude", units), quantity(top, "altitude", units), above_field=above
    )
    off = told.pressure_altitude_ft - told.elevation_ft
    no_higher = climb_no_higher(columns, top + off, units)
    said = f"{said} {no_higher}" if no_higher else said
    heights = climb_heights_ft(stage.climb_to_ft, field, above_field=above)
    boxes = [
        say.climb_box(quantity(height - field, "altitude", units), quantity(height, "altitude", units))
        if above
        else say.sea_box(quantity(height, "altitude", units))
        for height in heights
    ]
    falling = say.falling_by(
        quantity(FALLING_BY_FT, "altitude", units), quantity(field + FALLING_BY_FT, "altitude", units)
    )
    lines = [Line(say.mixture(), kept(stage.mixture) or say.mixture_in_climb())]
    if stage.cowl_flaps:
        lines.append(Line(say.cowl_flaps(), kept(stage.cowl_flaps)))
    return Climb(said, tuple(boxes), falling, tuple(lines))

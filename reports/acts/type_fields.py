"""The fields of an engine type: what each is, its unit, what is usual and what can't be.

Ranges are common practice of the trade, no published source, unless a field says otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

from breakin.calc.units import Kind
from breakin.entries.ranges import Range

T, P, V, FF, MP, ALT = (
    Kind.TEMPERATURE, Kind.OIL_PRESSURE, Kind.VOLUME, Kind.FUEL_FLOW, Kind.PRESSURE_MANIFOLD, Kind.ALTITUDE,
)  # fmt: skip


@dataclass(frozen=True)
class Measured:
    """A value with a choice of its unit."""

    name: str
    what: Range
    help: str = ""
    needed: bool = False


@dataclass(frozen=True)
class Plain:
    """A number in one unit; `low` to `high` is possible, `usual` is what is usual."""

    name: str
    label: str
    unit: str
    low: float
    high: float
    usual: tuple[float, float] | None = None
    help: str = ""
    needed: bool = False


LAYOUTS = (
    ("opposed", "opposed"), ("in line", "in line"), ("vee", "vee"), ("radial", "radial"),
    ("twin-row radial", "twin-row radial"), ("rotary", "rotary"),
)  # fmt: skip
JUDGED_LAYOUTS = ("opposed", "in line", "vee")
MOST_CYLINDERS, MOST_IN_TWO_ROWS = 18, 24

PLAIN = (
    Plain("displacement_cuin", "Displacement", "cu in", 30, 4500, (100, 700), needed=True),
    Plain("compression_ratio", "Compression ratio", ":1", 5, 13, (6.5, 9.0), needed=True),
    Plain("rated_hp", "Rated power", "hp", 20, 3800, (60, 400), "What 100 % means.", needed=True),
    Plain("rated_rpm", "Rated rpm", "rpm", 1500, 6500, (2200, 2900), "Of the crankshaft.", needed=True),
    Plain("max_continuous_hp", "Max continuous power", "hp", 20, 3800, help="Empty: as rated."),
    Plain("max_continuous_rpm", "Max continuous rpm", "rpm", 1500, 6500, help="Empty: as rated."),
    Plain("engine_turns_per_prop_turn", "Engine turns for one turn of the propeller", ":1", 1.0, 4.0, (1.3, 3.0),
          "Geared engines only. Empty: direct drive."),
    Plain("bsfc_best_power_lb_hp_h", "Fuel for a horsepower hour at best power", "lb/(hp h)", 0.3, 0.8, (0.4, 0.55),
          "Empty: the usual figure, with doubt."),
    Plain("fuel_lb_per_gal", "Weight of the fuel", "lb/gal", 5.5, 7.5, (5.8, 6.3), "Empty: 6.0."),
)  # fmt: skip
MEASURED = (
    Measured("max_map_inhg", Range("Highest manifold pressure", MP, 20, 70, 28, 46),
             "Naturally aspirated: about the air outside; may stay empty."),
    Measured("altitude_cap_ft", Range("Highest altitude with enough cooling at 75 %", ALT, 500, 30_000, 2000, 18_000),
             "Turbocharged engines. Empty: no such limit."),
    Measured("sump_full_qt", Range("Oil at the full mark", V, 1, 60, 4, 16), needed=True),
    Measured("sump_usable_qt", Range("Usable oil", V, 0.5, 60, 2, 14)),
    Measured("sump_min_qt", Range("Lowest permissible level", V, 0.25, 60, 2, 12),
             "The engine maker's. What the POH/AFM wants for flight belongs to the installation."),
    Measured("settle_qt", Range("Level where the oil settles", V, 0.25, 60, 2, 14), "Empty: two quarts below full."),
    Measured("oil_ceiling_qt_h", Range("Maker's oil-loss ceiling, in one hour", V, 0.05, 10, 0.3, 1.2),
             "A ceiling, not a goal. Empty: 0.006 x hp x 4 / 7.4 (a published form, from memory)."),
    Measured("takeoff_ff_low_gph", Range("Take-off fuel flow, from", FF, 0.5, 400),
             "The lean side is the one that grounds."),
    Measured("takeoff_ff_high_gph", Range("Take-off fuel flow, to", FF, 0.5, 400)),
    Measured("cht_watch_degf", Range("Our watch line of head temperature", T, 300, 550, 400, 430)),
    Measured("cht_limit_degf", Range("Maker's limit of head temperature", T, 300, 550, 430, 500)),
    Measured("tit_limit_degf", Range("Limit of turbine inlet temperature", T, 1000, 1900, 1600, 1750),
             "Turbocharged engines."),
    Measured("oil_temp_min_degf", Range("Oil temperature before full power, at least", T, 0, 300, 75, 170)),
    Measured("oil_temp_normal_degf", Range("Oil temperature, normal", T, 0, 300, 150, 220)),
    Measured("oil_temp_max_degf", Range("Oil temperature, at most", T, 0, 300, 200, 245)),
    Measured("oil_press_idle_min_psi", Range("Oil pressure at idle, at least", P, 0, 150, 10, 40)),
    Measured("oil_press_min_psi", Range("Oil pressure in flight, at least", P, 0, 150, 20, 70)),
    Measured("oil_press_normal_psi", Range("Oil pressure, normal", P, 0, 150, 30, 100)),
    Measured("oil_press_max_psi", Range("Oil pressure, at most", P, 0, 150, 60, 115)),
)  # fmt: skip
CRITICAL = Range("Critical altitude", ALT, 1000, 40_000, 6000, 25_000)
# (lower, higher) in this order where both are given.
RISING = (
    ("takeoff_ff_low_gph", "takeoff_ff_high_gph"), ("cht_watch_degf", "cht_limit_degf"),
    ("oil_temp_min_degf", "oil_temp_normal_degf"), ("oil_temp_normal_degf", "oil_temp_max_degf"),
    ("oil_temp_min_degf", "oil_temp_max_degf"), ("oil_press_idle_min_psi", "oil_press_min_psi"),
    ("oil_press_min_psi", "oil_press_normal_psi"), ("oil_press_normal_psi", "oil_press_max_psi"),
    ("oil_press_min_psi", "oil_press_max_psi"), ("sump_min_qt", "settle_qt"), ("settle_qt", "sump_full_qt"),
    ("sump_min_qt", "sump_full_qt"), ("sump_usable_qt", "sump_full_qt"),
)  # fmt: skip
LABELS = {**{each.name: each.label for each in PLAIN}, **{each.name: each.what.label for each in MEASURED}}
FF_POSSIBLE, FF_USUAL = (0.04, 0.2), (0.08, 0.12)  # gal/h for each rated hp, from memory

"""Power: the one door to the laws (:mod:`breakin.calc.power_laws`), the charts
(:mod:`breakin.calc.chart`) and percent power (:mod:`breakin.calc.percent`)."""

from breakin.calc.chart import Chart
from breakin.calc.percent import (
    PowerEstimate,
    map_for_percent,
    max_percent_power,
    percent_power,
    rpm_for_percent,
)
from breakin.calc.power_laws import (
    bmep_psi,
    chart_power_hp,
    corrected_fuel_flow_gph,
    full_throttle_fraction,
    line_between_charts_hp,
    max_oil_consumption_qt_per_h,
    temperature_factor,
)

__all__ = [
    "Chart",
    "PowerEstimate",
    "bmep_psi",
    "chart_power_hp",
    "corrected_fuel_flow_gph",
    "full_throttle_fraction",
    "line_between_charts_hp",
    "map_for_percent",
    "max_oil_consumption_qt_per_h",
    "max_percent_power",
    "percent_power",
    "rpm_for_percent",
    "temperature_factor",
]

"""Oil: windows between dipstick readings, the three lines, limits of loss, and the estimate of settling.

Callers import from here; the modules behind are free to change.
"""

from breakin.calc.oil.ceiling import OilLimits, judge, oil_limits
from breakin.calc.oil.lines import Advice, OilLines, advise, expected_settle_qt, oil_lines

__all__ = [
    "Advice",
    "OilLimits",
    "OilLines",
    "advise",
    "expected_settle_qt",
    "judge",
    "oil_limits",
    "oil_lines",
]

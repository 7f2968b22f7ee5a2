"""Oil: windows between dipstick readings, the three lines, limits of loss, and the estimate of settling.

Callers import from here; the modules behind are free to change.
"""

from breakin.calc.oil.ceiling import OilLimits, judge, oil_limits
from breakin.calc.oil.estimate import estimate, estimate_many
from breakin.calc.oil.lines import Advice, OilLines, advise, expected_settle_qt, oil_lines
from breakin.calc.oil.paper import PaperWindow, paper_window
from breakin.calc.oil.prior import BUILT_IN, FinishPrior, Prior, partial_prior
from breakin.calc.oil.protocol import Protocol, protocol_of
from breakin.calc.oil.windows import Anchor, OilEntry, Window, anchors, sliding_windows, windows

__all__ = [
    "BUILT_IN",
    "Advice",
    "Anchor",
    "FinishPrior",
    "OilEntry",
    "OilLimits",
    "OilLines",
    "PaperWindow",
    "Prior",
    "Protocol",
    "Window",
    "advise",
    "anchors",
    "estimate",
    "estimate_many",
    "expected_settle_qt",
    "judge",
    "oil_limits",
    "oil_lines",
    "paper_window",
    "partial_prior",
    "protocol_of",
    "sliding_windows",
    "windows",
]

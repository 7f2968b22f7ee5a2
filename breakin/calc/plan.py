"""The run-in plan in numbers: bands and schedule, power credit and its verdict, split of a twin. One door to them."""

from breakin.calc.accumulate import accumulate
from breakin.calc.bands import Bands, classify, schedule
from breakin.calc.credit import BlockPower, Credit, FlightPower, Minutes, StageCredit
from breakin.calc.split import SplitBlock, SplitResult, TimedSetting, split, split_timed

__all__ = [
    "Bands",
    "BlockPower",
    "Credit",
    "FlightPower",
    "Minutes",
    "SplitBlock",
    "SplitResult",
    "StageCredit",
    "TimedSetting",
    "accumulate",
    "classify",
    "schedule",
    "split",
    "split_timed",
]

"""Bought half run in; then nine flights were entered in one evening, weeks later, and the wrong oil was poured."""

from reports.demo.stories.common import DRY, oil_change
from reports.demo.story import Aircraft, Block, Check, Eng, Fitted, Flown, Sale

_EVENING = 9
_HALVES = (Block(30, 24.1, 2450, 4000, 45), Block(30, 21.7, 2450, 4000, 45))


def _remembered(number: int, day: int, meter: float, level: float, added: float = 0, kind: str = "mineral") -> Flown:
    """One of the nine, all in one hand and one evening; `number` is the minute it was sent."""
    engine = Eng(meter, level=level, added=added, kind=kind, falling="not_looked", blocks=_HALVES)
    return Flown(day, "11:00", 72, {"": engine}, by="Quentin", oat=60, written=(_EVENING, f"20:{number:02d}"),
                 note="From my notebook.")  # fmt: skip


QX_118 = Aircraft(
    "QX-118", "K13", "Tellamoor Field", 60,
    (Fitted("TAV-4E", "E-2118", "64", min_oil=5.0, fill=7.0, meter=840.0, total_time=2440.0, since_overhaul=0.0),),
    (
        Flown(58, "10:20", 72, {"": Eng(841.2, 15.9, 409, 5.75, blocks=(
            Block(60, 24.1, 2450, 4000, 45, 11.4, 392),))}, by="Vesna", aboard=2, oat=66),
        Check(58, "15:00", "", "leak", DRY),
        Flown(56, "09:50", 72, {"": Eng(842.4, 15.9, 402, 5.5, blocks=(
            Block(15, 24.1, 2450, 4000, 45), Block(15, 21.7, 2450, 4000, 45), Block(15, 24.1, 2450, 4000, 45),
            Block(15, 21.7, 2450, 4000, 45)))}, by="Vesna", aboard=2, oat=65),
        Flown(53, "10:10", 72, {"": Eng(843.6, 15.9, 398, 6.0, added=1, blocks=_HALVES)}, by="Vesna", oat=64),
        Flown(50, "16:00", 72, {"": Eng(844.8, 15.9, 395, 5.75, blocks=_HALVES)}, by="Vesna", oat=68),
        # From here on it is Quentin's, who sees what the engine did before but not who flew it or what they wrote.
        Sale(48, "12:00", "K12", "Sold to Quentin; the break-in goes with it."),
        _remembered(0, 45, 846.0, 6.25, added=1),
        _remembered(3, 42, 847.2, 5.75),
        _remembered(6, 39, 848.4, 6.25, added=1),
        _remembered(9, 36, 849.6, 6.0),
        _remembered(14, 33, 850.8, 5.75),
        _remembered(17, 30, 852.0, 6.25, added=1),
        _remembered(20, 26, 853.2, 6.0),
        _remembered(24, 22, 854.4, 5.75),
        _remembered(28, 18, 855.6, 6.25, added=1),
        # The shelf was mixed up: six quarts of ashless dispersant went in where the plan asks for mineral.
        Check(7, "11:00", "", "oil_filter", oil_change(6.0, 6.0, "ad"), by="Juno"),
        Flown(5, "10:30", 72, {"": Eng(856.8, 15.8, 384, 5.5, kind="ad", blocks=_HALVES)}, by="Quentin", oat=55),
        Flown(2, "10:45", 72, {"": Eng(858.0, 15.9, 383, 5.25, kind="ad", blocks=_HALVES)}, by="Quentin", oat=54),
    ),
)  # fmt: skip

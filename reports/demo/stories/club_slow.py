"""A club's other trainer: seven pilots, two meters, readings that are missing, and hours that nobody wrote down."""

from reports.demo.stories.common import DRY, oil_change
from reports.demo.story import Aircraft, Block, Check, Eng, Fitted, Flown, NewMeter

_HOUR = (Block(60, None, 2540, 3500, 44, None, 371),)
_QUARTERS = (
    Block(15, None, 2540, 3500, 44), Block(15, None, 2415, 3500, 44),
    Block(15, None, 2540, 3500, 44), Block(15, None, 2415, 3500, 44),
)  # fmt: skip
_HALVES = (Block(27, None, 2540, 3500, 44), Block(27, None, 2415, 3500, 44))


def _hobbs(hours: float, level: float | None = None, cht: float | None = None) -> Eng:
    """What a pilot wrote who read the other meter, that runs with the oil pressure."""
    return Eng(hours, cht=cht, level=level, blocks=_HALVES, more={"meter_kind": "hobbs"})


QX_104 = Aircraft(
    "QX-104", "K1", "Tellamoor Field", 40,
    (Fitted("TAV-4C", "C-2104", "51", template="fixed", min_oil=5.0, fill=7.5, meter=880.0, hobbs=1240.0,
            total_time=2880.0, since_overhaul=0.0),),
    (
        Flown(38, "10:20", 66, {"": Eng(881.2, cht=404, level=6.0, blocks=_HOUR)}, by="Larke", oat=61),
        Check(38, "15:00", "", "leak", DRY),
        Flown(36, "09:50", 66, {"": Eng(882.4, cht=398, level=5.75, blocks=_QUARTERS)}, by="Wim", oat=58),
        Flown(33, "16:10", 60, {"": _hobbs(1243.9)}, by="Dessa", oat=63),
        Flown(30, "10:30", 66, {"": Eng(884.6, cht=391, added=1, blocks=_HALVES)}, by="Ivo", oat=60),
        Flown(27, "11:00", 60, {"": Eng(885.7, level=6.0, blocks=_HALVES)}, by="Tove", oat=57),
        Flown(22, "10:05", 60, {"": Eng(886.8, cht=388, blocks=_HALVES)}, by="Marl", oat=55),
        NewMeter(20, "10:00", "", 886.8, 0.0),
        Check(20, "11:00", "", "oil_filter", oil_change(5.5, 7.0), by="Juno"),
        Flown(18, "10:40", 66, {"": Eng(1.2, cht=386, level=6.0, blocks=_HALVES)}, by="Pia", oat=59),
        Flown(15, "15:30", 54, {"": _hobbs(1250.3)}, by="Dessa", oat=62),
        Flown(12, "10:15", 60, {"": Eng(3.3, level=5.75, blocks=_HALVES)}, by="Ivo", oat=54),
        Flown(8, "11:20", 60, {"": Eng(4.4, cht=384, added=1, blocks=_HALVES)}, by="Wim", oat=52),
        Flown(5, "10:10", 60, {"": Eng(5.5, level=6.0, blocks=_HALVES)}, by="Larke", oat=56),
        # Somebody flew 2.1 h in between and wrote down neither the time nor the oil.
        # Four days ago, so that what it asks for is as late at any time of today.
        Flown(4, "16:50", 84, {"": Eng(9.1, cht=385, blocks=_HALVES)}, by="Tove", oat=53),
    ),
)  # fmt: skip

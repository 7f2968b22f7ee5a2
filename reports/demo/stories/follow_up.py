"""A quiet good engine: closed out at 22.5 h, looked at again 10 h later, and soon due once more."""

from reports.demo.stories.common import DRY, oil_change
from reports.demo.story import Aircraft, Block, Check, CloseOut, Eng, Fitted, Flown

_HALVES = (Block(30, 23.8, 2500, 4000, 45), Block(30, 21.4, 2500, 4000, 45))
_QUARTERS = (
    Block(15, 23.8, 2500, 4000, 45), Block(15, 21.4, 2500, 4000, 45),
    Block(15, 23.8, 2500, 4000, 45), Block(15, 21.4, 2500, 4000, 45),
)  # fmt: skip


def _petra(day: int, meter: float, level: float, airborne: float = 90, added: float = 0, oat: float = 62) -> Flown:
    return Flown(day, "10:20", airborne, {"": Eng(meter, 25.3, 386, level, added=added, blocks=_HALVES)}, by="Petra",
                 oat=oat)  # fmt: skip


def _serviced(day: int, meter: float, level: float, airborne: float = 108, added: float = 0) -> Flown:
    """On its service oil after the close-out."""
    engine = Eng(meter, 25.3, 384, level, added=added, kind="ad", blocks=_HALVES)
    return Flown(day, "10:30", airborne, {"": engine}, by="Petra", oat=58)


QX_122 = Aircraft(
    "QX-122", "K7", "Tellamoor Field", 112,
    (Fitted("VRN-6D", "V-3122", "63", kind="new", finish="through_hardened", template="through_hardened", meter=0.0,
            fill=11.0, total_time=0.0, since_overhaul=0.0, ring_lot="R7"),),
    (
        Flown(110, "10:00", 72, {"": Eng(1.2, 25.2, 406, 9.75, blocks=(
            Block(60, 23.8, 2500, 4000, 45, 18.0, 392),))}, by="Corin", oat=72, aboard=2),
        Check(110, "15:00", "", "leak", DRY),
        Flown(108, "10:10", 72, {"": Eng(2.4, 25.2, 400, 9.5, blocks=_QUARTERS)}, by="Corin", oat=73, aboard=2),
        _petra(104, 3.9, 9.25, oat=74),
        _petra(100, 5.4, 9.0, oat=72),
        _petra(96, 6.9, 9.0, oat=75),
        _petra(92, 8.4, 9.5, added=1, oat=74),
        _petra(88, 10.0, 9.5, 96, oat=73),
        Check(86, "11:00", "", "oil_filter", oil_change(9.5, 11.0)),
        _petra(84, 11.6, 10.25, 96, oat=74),
        _petra(80, 13.4, 10.25, 108, oat=72),
        _petra(76, 15.2, 10.0, 108, oat=70),
        _petra(72, 17.0, 10.0, 108, oat=71),
        _petra(69, 18.8, 9.75, 108, oat=69),
        _petra(66, 20.6, 9.75, 108, oat=66),
        _petra(62, 22.5, 9.5, 114, oat=65),
        CloseOut(60, "15:00", "", "Oil flat at about 0.1 qt/h, filter clean, first two hours met."),
        Check(59, "10:00", "", "oil_filter", oil_change(9.5, 11.0, "ad")),
        _serviced(56, 24.3, 9.75),
        _serviced(51, 26.1, 9.5),
        _serviced(46, 27.9, 9.5),
        _serviced(41, 29.7, 9.25),
        _serviced(37, 31.5, 9.25),
        _serviced(33, 33.3, 9.0),
        Check(32, "11:00", "", "oil_check", {"reading": {
            "level": {"value": 9.0, "unit": "qt"}, "minutes_since_shutdown": 1200, "level_ground": True,
            "wiped_twice": True, "belly_oil": 0}}),
        _serviced(28, 35.1, 9.75, added=1),
        _serviced(23, 36.9, 9.75),
        _serviced(18, 38.7, 9.5),
        _serviced(14, 40.5, 9.5),
        _serviced(9, 42.3, 9.25),
        _serviced(5, 44.1, 9.25),
        _serviced(2, 46.0, 9.0, 114),
    ),
)  # fmt: skip

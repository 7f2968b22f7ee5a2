"""Two engines outside the standard rules: a radial whose oil goes by the gallon, and a small geared one.

They are logged and shown; nothing judges them.
"""

from reports.demo.stories.common import DRY
from reports.demo.story import Aircraft, Block, Check, Eng, Fitted, Flown

_RADIAL = (Block(40, 27.5, 1850, 3000, 50), Block(20, 26.0, 1800, 3000, 50))
_GEARED = (Block(30, None, 5200, 3500, 48), Block(30, None, 4900, 3500, 48))


def _gal(meter: float, level: float, added: float = 0.0) -> dict[str, Eng]:
    return {"": Eng(meter, level=level, added=added, oil_unit="gal", blocks=_RADIAL)}


def _small(meter: float, level: float, added: float = 0.0) -> dict[str, Eng]:
    return {"": Eng(meter, level=level, added=added, kind="other", blocks=_GEARED)}


QX_116 = Aircraft(
    "QX-116", "K11", "Dunmarrow", 33,
    (Fitted("PL-R7", "R-7116", "61", finish="nitrided", template="", min_oil=16.0, fill=28.0, meter=120.0,
            total_time=4120.0, since_overhaul=0.0),),
    (
        Flown(31, "10:30", 84, _gal(121.4, 6.5), by="Rolf", ground=(12, 5), oat=60, aboard=2),
        Check(31, "15:00", "", "leak", DRY),
        Flown(28, "11:00", 78, _gal(122.7, 6.25), by="Rolf", ground=(11, 5), oat=62),
        Flown(24, "15:40", 84, _gal(124.1, 6.75, added=1), by="Rolf", ground=(10, 5), oat=66),
        Flown(20, "10:20", 90, _gal(125.6, 6.25), by="Rolf", ground=(11, 5), oat=57),
        Flown(16, "10:45", 84, _gal(127.0, 6.0), by="Rolf", ground=(12, 5), oat=55),
        Flown(12, "11:10", 96, _gal(128.6, 6.5, added=1), by="Rolf", ground=(11, 5), oat=56),
        Flown(7, "10:15", 102, _gal(130.3, 6.25), by="Rolf", ground=(12, 5), oat=52),
        Flown(3, "10:50", 102, _gal(132.0, 6.0), by="Rolf", ground=(12, 5), oat=50),
    ),
)  # fmt: skip

QX_121 = Aircraft(
    "QX-121", "K2", "Tellamoor Field", 24,
    (Fitted("TAV-L4", "L-4121", "62", kind="new", finish="plain_steel", template="", min_oil=2.1, fill=3.0,
            meter=0.0, oil_kind="other", total_time=0.0, since_overhaul=0.0),),
    (
        Flown(22, "09:30", 72, _small(1.2, 2.75), by="Ines", oat=58, note="Burped the tank before the dip."),
        Check(22, "14:00", "", "leak", DRY),
        Flown(19, "09:40", 78, _small(2.5, 2.75), by="Ines", oat=61, note="Burped."),
        Flown(15, "17:10", 84, _small(3.9, 2.7), by="Ines", oat=64, note="Not burped, so it may read low."),
        Flown(11, "09:15", 96, _small(5.5, 2.75), by="Ines", oat=52, note="Burped."),
        Flown(6, "09:50", 102, _small(7.2, 2.75), by="Ines", oat=54, note="Burped."),
        Flown(2, "10:05", 108, _small(9.0, 2.7), by="Ines", oat=50, note="Burped."),
    ),
)  # fmt: skip

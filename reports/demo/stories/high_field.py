"""Two engines of a tour firm on a field at 6,480 ft: one taken lower for its first hours, one stopped on its first."""

from reports.demo.stories.common import DRY
from reports.demo.story import Aircraft, Block, Check, Eng, Fitted, Flown

_ALTERNATING = (
    Block(15, 23.8, 2500, 4000, 45), Block(15, 21.4, 2500, 4000, 45),
    Block(15, 23.8, 2500, 4000, 45), Block(15, 21.4, 2500, 4000, 45),
)  # fmt: skip
_HALF_HOURS = (Block(30, 23.8, 2500, 4000, 45), Block(30, 21.4, 2500, 4000, 45))

QX_109 = Aircraft(
    "QX-109", "K6", "Quillmesa", 14,
    (Fitted("VRN-6D", "V-3109", "25", fill=11.0, meter=7.0, total_time=1507.0, since_overhaul=0.0),),
    (
        # Hot day on the high field: full throttle gives no more than about two thirds of rated power.
        Flown(12, "15:20", 54, {"": Eng(7.9, 18.2, 412, 9.25, blocks=(
            Block(40, 20.2, 2500, 9500, 66, 15.4, 398),))}, by="Tomas", oat=86, qnh=29.92, place="Quillmesa"),
        Check(12, "18:00", "", "leak", DRY, by="Juno"),
        Flown(10, "09:30", 66, {"": Eng(9.0, 23.4, 407, 9.0, blocks=(
            Block(58, 23.8, 2500, 4000, 45, 18.0, 390),))}, by="Corin", oat=52, place="Dunmarrow", aboard=2),
        Flown(9, "09:40", 66, {"": Eng(10.1, 23.5, 401, 8.5, blocks=_ALTERNATING)},
              by="Corin", oat=50, place="Dunmarrow", aboard=2),
        Flown(6, "10:10", 66, {"": Eng(11.2, 23.5, 396, 9.0, added=1, blocks=_HALF_HOURS)},
              by="Tomas", oat=51, place="Dunmarrow"),
        Flown(2, "09:50", 78, {"": Eng(12.5, 23.4, 394, 8.5, blocks=_HALF_HOURS)},
              by="Tomas", oat=49, place="Dunmarrow"),
    ),
    assigned=("Corin",),
)  # fmt: skip

QX_110 = Aircraft(
    "QX-110", "K6", "Quillmesa", 3,
    (Fitted("PL-6G", "G-1110", "26", kind="new", finish="through_hardened", template="through_hardened", fill=11.0,
            meter=0.4, total_time=0.0, since_overhaul=0.0),),
    (
        Flown(1, "10:15", 60, {"": Eng(1.5, 19.7, 441, 9.5, over="longer", falling="no", blocks=(
            Block(35, 21.8, 2500, 7500, 32, 17.0, 421),),
            more={"climb_cht": {"1000": 402, "2000": 424, "3000": 441}})},
              by="Tomas", oat=36, qnh=29.92, place="Quillmesa"),
    ),
)  # fmt: skip

_HIGH = (Block(58, 20.2, 2500, 9500, 62, 15.2, 384),)

# The sister aircraft stayed at home: full throttle all the way, and it was not enough.
QX_124 = Aircraft(
    "QX-124", "K6", "Quillmesa", 22,
    (Fitted("VRN-6D", "V-3124", "42", fill=11.0, meter=40.0, total_time=1540.0, since_overhaul=0.0),),
    (
        Flown(20, "15:10", 70, {"": Eng(41.1, 18.3, 405, 9.25, blocks=_HIGH)}, by="Tomas", oat=84, place="Quillmesa"),
        Check(20, "18:00", "", "leak", DRY, by="Juno"),
        Flown(16, "14:40", 70, {"": Eng(42.2, 18.2, 399, 8.75, blocks=_HIGH)}, by="Tomas", oat=85, place="Quillmesa"),
        Flown(11, "15:30", 70, {"": Eng(43.3, 18.3, 396, 9.25, added=1, blocks=_HIGH)}, by="Tomas", oat=82,
              place="Quillmesa"),
        Flown(5, "15:05", 70, {"": Eng(44.4, 18.3, 394, 8.75, blocks=_HIGH)}, by="Tomas", oat=81, place="Quillmesa"),
    ),
)  # fmt: skip

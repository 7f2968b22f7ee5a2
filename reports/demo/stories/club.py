"""A club's trainer: an hour done well, another half done, then an afternoon of circuits; and oil that grows."""

from dataclasses import replace
from typing import Any

from reports.demo.stories.common import DRY
from reports.demo.story import Aircraft, Block, Check, Eng, Fitted, Flown, Sent, Tape


def _club(seed: int, *cruise: tuple[float, float], hours: float, oat: float, **more: Any) -> Tape:
    return Tape(
        "club", seed, cruise, 2500, 3500, oat, ias=105, hours=hours, lean=False, mixture=1.04,
        engines=({"seed": 3, "rise": 285.0},), **more,
    )  # fmt: skip


QX_105 = Aircraft(
    "QX-105", "K1", "Tellamoor Field", 18,
    (Fitted("TAV-4C", "C-2105", "36", kind="new", template="fixed", min_oil=5.0, fill=8.0, meter=0.0, total_time=0.0,
            since_overhaul=0.0),),
    (
        Flown(16, "10:20", 70, {"": Eng(1.1, cht=391, level=6.25, blocks=(
            Block(58, None, 2536, 3500, 40, None, 335),))}, by="Larke", ground=(9, 4), oat=52,
              tape=_club(1, (58, 75), hours=0.0, oat=52)),
        Check(16, "15:00", "", "leak", DRY),
        Flown(13, "10:40", 66, {"": Eng(2.2, cht=377, level=6.5, added=1, blocks=(
            Block(20, None, 2540, 3500, 42), Block(14, None, 2415, 3500, 42), Block(20, None, 2540, 3500, 42)))},
              by="Larke", ground=(9, 4), oat=55, tape=_club(2, (20, 75), (14, 65), (20, 75), hours=1.1, oat=55)),
        Flown(9, "16:10", 52, {"": Eng(3.0, cht=374, level=7.0, added=1, blocks=(
            Block(40, None, 2540, 3500, 46),))}, by="Wim", ground=(9, 4), oat=60,
              tape=_club(3, (40, 75), hours=2.2, oat=60)),
        # The club had promised the aircraft to a student.
        Flown(4, "15:30", 29, {"": Eng(3.6, cht=371, level=7.25, added=1, blocks=())}, by="Wim", ground=(9, 3), oat=58,
              flight="training", aboard=2, landings=5, note="Five circuits with the student.",
              tape=_club(4, hours=3.0, oat=58, circuits=5)),
        Flown(2, "10:15", 42, {"": Eng(4.1, cht=363, level=8.0, blocks=(
            Block(30, None, 2530, 3500, 38),))}, by="Wim", ground=(9, 4), oat=50,
              note="Nobody poured anything in.", tape=_club(5, (30, 75), hours=3.6, oat=50)),
        # The student's tablet recorded too, in units of its own.
        Sent(1, "18:40", "Wim", replace(_club(6, (30, 75), hours=3.6, oat=50), recorder="tablet"), (2, "10:15"),
             "tablet.csv"),
    ),
)  # fmt: skip

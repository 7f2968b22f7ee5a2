"""A twin abroad: litres, degrees Celsius, decimal commas, a clock an hour ahead of UTC, and a flight past midnight."""

from typing import Any

from reports.demo.stories.common import DRY
from reports.demo.story import Aircraft, Block, Check, Eng, Fitted, Flown, Note, Tape

_HALVES = (Block(30, 23.5, 2500, 3500, 38), Block(30, 21.2, 2500, 3500, 38))
_QUARTERS = (
    Block(15, 23.1, 2500, 3500, 38), Block(15, 21.0, 2500, 3500, 38),
    Block(15, 23.1, 2500, 3500, 38), Block(15, 21.0, 2500, 3500, 38),
)  # fmt: skip


def _tape(seed: int, *cruise: tuple[float, float], hours: float, oat: float, **more: Any) -> Tape:
    return Tape(
        "ostrevik", seed, cruise, 2500, 3500, oat, field_ft=90.0, ias=150, hours=hours, with_flight=True,
        engines=({"seed": 4}, {"seed": 5}), **more,
    )  # fmt: skip


def _pair(left: Eng, right: Eng) -> dict[str, Eng]:
    return {"left": left, "right": right}


def _litre(meter: float, level: float, cht: float, **more: Any) -> Eng:
    return Eng(meter, ff=27.3, cht=cht, level=level, container="litre", **more)


QX_115 = Aircraft(
    "QX-115", "K10", "Ostrevik", 30,
    (
        Fitted("PL-6G", "G-1115", "40", side="left", meter=66.0, fill=11.0, total_time=1466.0, since_overhaul=0.0),
        Fitted("PL-6G", "G-1116", "41", side="right", meter=66.0, fill=11.0, total_time=1466.0, since_overhaul=0.0),
    ),
    (
        # The left engine's setting lies on the edge of the band: what it earned stays undecided.
        Flown(28, "10:40", 75, _pair(
            _litre(67.2, 9.25, 363, blocks=(Block(62, 23.0, 2500, 3500, 38),)),
            _litre(67.2, 9.5, 358, blocks=(Block(62, 23.4, 2500, 3500, 38),))), by="Sunniva", ground=(9, 4), oat=50,
              tape=_tape(1, (62, 72.6), hours=0.0, oat=50, split=1.6)),
        Check(28, "15:00", "left", "leak", DRY),
        Check(28, "15:20", "right", "leak", DRY),
        Flown(26, "10:15", 75, _pair(_litre(68.4, 8.75, 343, blocks=_QUARTERS),
                                     _litre(68.4, 9.25, 340, blocks=_QUARTERS)), by="Sunniva", ground=(9, 4), oat=48,
              tape=_tape(2, (15, 74), (15, 65), (15, 74), (16, 65), hours=1.2, oat=48)),
        Flown(22, "16:30", "0,5 h", _pair(
            _litre(69.0, 8.75, 338, blocks=(Block(20, 23.5, 2500, 3500, 38),)),
            _litre(69.0, 8.75, 336, blocks=(Block(20, 23.5, 2500, 3500, 38),))), by="Sunniva", oat=47,
              note="Leaned to 56 °C rich of peak; the old leaflet said 38 °C, which is a temperature and no "
              "difference."),
        Flown(18, "10:20", 78, _pair(_litre(70.3, 9.25, 334, added=1, blocks=_HALVES),
                                     _litre(70.3, 8.5, 331, blocks=_HALVES)), by="Sunniva", oat=49,
              note="1 L added on the left."),
        # Past midnight: the recorder writes the time of day alone.
        Flown(13, "00:25", 75, _pair(_litre(71.5, 9.0, 329, blocks=_HALVES),
                                     _litre(71.5, 9.25, 325, added=1, blocks=_HALVES)), by="Sunniva", ground=(9, 4),
              oat=44, tape=_tape(5, (30, 75), (31, 65), hours=4.3, oat=44)),
        Flown(9, "11:05", 84, _pair(_litre(72.9, 8.75, 327, blocks=_HALVES),
                                    _litre(72.9, 9.0, 325, blocks=_HALVES)), by="Sunniva", oat=46),
        Flown(5, "10:50", 84, _pair(_litre(74.3, 9.25, 326, added=1, blocks=_HALVES),
                                    _litre(74.3, 8.75, 324, blocks=_HALVES)), by="Sunniva", oat=45),
        Flown(2, "10:35", 90, _pair(_litre(75.8, 9.0, 325, blocks=_HALVES),
                                    _litre(75.8, 9.5, 323, added=1, blocks=_HALVES)), by="Sunniva", oat=43),
        Note(1, "16:20", "Pell", "Öl und Filter für beide Motoren liegen bereit. Passt es Ihnen vor dem nächsten "
             "längeren Flug? Bis dahin bitte weiter unlegiertes Mineralöl nachfüllen."),
    ),
)  # fmt: skip

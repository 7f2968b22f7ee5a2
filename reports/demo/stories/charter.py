"""The charter firm's other twins: a leak at a rocker cover, and two finishes that keep no common dates."""

from reports.demo.stories.common import DRY, oil_change
from reports.demo.stories.twins import FOUR_QUARTERS, HALVES, HOUR, pair
from reports.demo.story import Aircraft, Block, Check, CloseOut, Eng, Fitted, Flown

QX_107 = Aircraft(
    "QX-107", "K4", "Saltreach", 28,
    (
        Fitted("VRN-6D", "V-3107", "54", kind="factory_rebuilt", finish="through_hardened",
               template="through_hardened", side="left", meter=120.0, fill=11.0, total_time=0.0, since_overhaul=0.0,
               ring_lot="R7"),
        Fitted("VRN-6D", "V-3108", "55", kind="factory_rebuilt", finish="through_hardened",
               template="through_hardened", side="right", meter=120.0, fill=11.0, total_time=0.0, since_overhaul=0.0),
    ),
    (
        Flown(26, "10:20", 72, pair(Eng(121.2, 25.2, 405, 9.5, blocks=HOUR), Eng(121.2, 25.3, 405, 9.5, blocks=HOUR)),
              by="Mara", oat=62),
        Check(26, "15:00", "left", "leak", DRY),
        Check(26, "15:30", "right", "leak", DRY),
        Flown(24, "09:50", 72, pair(Eng(122.4, 24.9, 402, 9.0, blocks=FOUR_QUARTERS),
                                    Eng(122.4, 25.2, 403, 9.25, blocks=FOUR_QUARTERS)),
              by="Mara", oat=65),
        Flown(22, "11:10", 78, pair(Eng(123.8, 25.2, 399, 9.0, blocks=HALVES),
                                    Eng(123.8, 25.1, 398, 9.0, blocks=HALVES)),
              by="Mara", oat=51),
        Flown(19, "15:40", 72, pair(Eng(125.0, 25.1, 397, 9.5, added=1, blocks=HALVES),
                                    Eng(125.0, 25.2, 397, 9.5, added=1, blocks=HALVES)),
              by="Mara", oat=64),
        Flown(16, "10:05", 72, pair(Eng(126.2, 25.0, 395, 9.5, blocks=HALVES),
                                    Eng(126.2, 25.2, 394, 9.5, blocks=HALVES)),
              by="Mara", oat=60),
        Flown(13, "14:30", 72, pair(Eng(127.4, 25.1, 394, 9.25, blocks=HALVES),
                                    Eng(127.4, 25.2, 394, 8.75, belly=2, blocks=HALVES)),
              by="Mara", oat=56),
        Check(12, "09:00", "right", "leak", {"results": {"spots": [
            {"where": "rocker cover no. 4", "what": "oil", "grade": 2, "fixed": True}],
            "cause": "Gasket pinched", "action": "New gasket, cleaned, run and looked at again"}}),
        Check(12, "11:00", "left", "oil_filter", oil_change(9.0, 10.5), by="Juno"),
        Check(12, "12:00", "right", "oil_filter", oil_change(8.5, 10.5), by="Juno"),
        Flown(9, "10:20", 78, pair(Eng(128.8, 25.1, 395, 9.25, blocks=HALVES),
                                   Eng(128.8, 25.1, 393, 9.5, added=1, blocks=HALVES)),
              by="Mara", oat=62),
        Flown(5, "09:50", 72, pair(Eng(130.0, 25.0, 392, 9.0, blocks=HALVES),
                                   Eng(130.0, 25.3, 391, 9.5, blocks=HALVES)),
              by="Mara", oat=51),
        Flown(2, "11:10", 66, pair(Eng(131.2, 25.3, 391, 9.0, blocks=HALVES),
                                   Eng(131.2, 25.1, 393, 9.5, blocks=HALVES)),
              by="Mara", oat=64),
    ),
)  # fmt: skip

_T_HOUR = (Block(60, 30.0, 2400, 6500, 40, 18.4, 338),)
_T_QUARTERS = (
    Block(15, 30.0, 2400, 6500, 40), Block(15, 26.5, 2400, 6500, 40),
    Block(15, 30.0, 2400, 6500, 40), Block(15, 26.5, 2400, 6500, 40),
)  # fmt: skip
_T_HALVES = (Block(30, 30.0, 2400, 6500, 40), Block(30, 26.5, 2400, 6500, 40))


def _ad(meter: float, ff: float, cht: float, level: float | None = None, **more: object) -> Eng:
    return Eng(meter, ff, cht, level, kind="ad", **more)  # type: ignore[arg-type]


QX_108 = Aircraft(
    "QX-108", "K4", "Saltreach", 68,
    (
        Fitted("VRN-6T", "V-3208", "56", finish="chrome", template="turbo", side="left", meter=640.0, fill=11.0,
               oil_kind="ad", total_time=1640.0, since_overhaul=0.0),
        Fitted("VRN-6T", "V-3209", "57", finish="nitrided", template="turbo", side="right", meter=640.0, fill=11.0,
               oil_kind="ad", total_time=1640.0, since_overhaul=0.0),
    ),
    (
        Flown(66, "10:20", 72, pair(_ad(641.2, 34.3, 351, 9.0, blocks=_T_HOUR),
                                    _ad(641.2, 34.6, 343, 9.25, blocks=_T_HOUR)),
              by="Mara", oat=53),
        Check(66, "15:00", "left", "leak", DRY),
        Check(66, "15:30", "right", "leak", DRY),
        Flown(64, "09:50", 72, pair(_ad(642.4, 34.4, 342, 9.0, added=1, blocks=_T_QUARTERS),
                                    _ad(642.4, 34.6, 337, 8.5, blocks=_T_QUARTERS)),
              by="Mara", oat=56),
        Flown(61, "11:10", 78, pair(_ad(643.8, 34.4, 336, 9.0, added=1, blocks=_T_HALVES),
                                    _ad(643.8, 34.6, 329, 9.0, added=1, blocks=_T_HALVES)),
              by="Mara", oat=52),
        Flown(58, "15:40", 84, pair(_ad(645.2, 34.4, 332, 8.75, added=1, blocks=_T_HALVES),
                                    _ad(645.2, 34.6, 325, 9.25, added=1, blocks=_T_HALVES)),
              by="Mara", oat=65),
        Flown(55, "10:05", 84, pair(_ad(646.6, 34.4, 327, 8.75, added=1, blocks=_T_HALVES),
                                    _ad(646.6, 34.7, 323, 9.0, blocks=_T_HALVES)),
              by="Mara", oat=61),
        Flown(52, "14:30", 90, pair(_ad(648.2, 34.2, 324, 8.5, added=1, blocks=_T_HALVES),
                                    _ad(648.2, 34.4, 321, 9.75, added=1, blocks=_T_HALVES)),
              by="Mara", oat=57),
        Flown(48, "10:20", 84, pair(_ad(649.6, 34.4, 323, 8.5, added=1, blocks=_T_HALVES),
                                    _ad(649.6, 34.5, 319, 9.25, blocks=_T_HALVES)),
              by="Mara", oat=63),
        Check(46, "11:00", "left", "oil_filter", oil_change(8.5, 11.0, "ad"), by="Juno"),
        Check(46, "12:00", "right", "oil_filter", oil_change(9.25, 11.0, "ad"), by="Juno"),
        Flown(45, "09:50", 90, pair(_ad(651.2, 34.3, 323, 9.0, blocks=_T_HALVES),
                                    _ad(651.2, 34.4, 318, 9.75, blocks=_T_HALVES)),
              by="Mara", oat=59),
        Flown(41, "11:10", 84, pair(_ad(652.6, 34.5, 322, 8.25, blocks=_T_HALVES),
                                    _ad(652.6, 34.5, 317, 9.5, blocks=_T_HALVES)),
              by="Mara", oat=65),
        Flown(37, "15:40", 90, pair(_ad(654.2, 34.2, 321, 8.5, added=1, blocks=_T_HALVES),
                                    _ad(654.2, 34.6, 316, 9.5, blocks=_T_HALVES)),
              by="Mara", oat=54),
        Flown(33, "10:05", 84, pair(_ad(655.6, 34.3, 319, 8.75, added=1, blocks=_T_HALVES),
                                    _ad(655.6, 34.8, 317, 9.25, blocks=_T_HALVES)),
              by="Mara", oat=60),
        Flown(29, "14:30", 90, pair(_ad(657.2, 34.5, 318, 9.25, added=1, blocks=_T_HALVES),
                                    _ad(657.2, 34.6, 316, 9.0, blocks=_T_HALVES)),
              by="Mara", oat=66),
        Flown(22, "10:20", 84, pair(_ad(658.6, 34.4, 320, 8.5, blocks=_T_HALVES),
                                    _ad(658.6, 34.7, 316, 9.0, blocks=_T_HALVES)),
              by="Mara", oat=51),
        CloseOut(20, "15:00", "right",
                 "Oil flat, filter clean, first two hours met. The left engine goes on by itself."),
        Flown(14, "09:50", 78, pair(_ad(660.0, 34.4, 321, 8.75, added=1, blocks=_T_HALVES),
                                    _ad(660.0, 34.6, 315, 9.75, added=1, blocks=_T_HALVES)),
              by="Mara", oat=63),
        Flown(8, "11:10", 84, pair(_ad(661.4, 34.3, 320, 9.25, added=1, blocks=_T_HALVES),
                                    _ad(661.4, 34.6, 316, 9.75, blocks=_T_HALVES)),
              by="Mara", oat=55),
        Flown(3, "15:40", 78, pair(_ad(662.8, 34.5, 319, 8.75, blocks=_T_HALVES),
                                    _ad(662.8, 34.6, 316, 9.5, blocks=_T_HALVES)),
              by="Mara", oat=54),
    ),
)  # fmt: skip

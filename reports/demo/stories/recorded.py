"""Two turbocharged engines and their recorders: a clock an hour ahead, and a ferry flown too high to count."""

from reports.demo.stories.common import DRY, oil_change
from reports.demo.story import Acknowledge, Aircraft, Block, Check, Eng, Fitted, Flown, Tape

_HALVES = (Block(30, 30.1, 2400, 6500, 40, 18.4, 306), Block(30, 26.6, 2400, 6500, 40, 16.2, 284))
_QUARTERS = (
    Block(15, 30.1, 2400, 6500, 41), Block(15, 26.6, 2400, 6500, 41),
    Block(15, 30.1, 2400, 6500, 41), Block(15, 26.6, 2400, 6500, 41),
)  # fmt: skip
_HOUR_AHEAD = ("Pell", "The recorder's clock is an hour ahead: its day begins an hour too early.")


def _petra(seed: int, *cruise: tuple[float, float], hours: float, oat: float, tit_over: float = 150.0) -> Tape:
    return Tape(
        "petra", seed, cruise or ((30, 75), (30, 65)), 2400, 6500, oat, ias=150, hours=hours, clock_error_s=3600,
        told=_HOUR_AHEAD,
        engines=({"seed": 1, "tit_over": tit_over},),
    )  # fmt: skip


def _ad(meter: float, **more: object) -> Eng:
    return Eng(meter, kind="ad", **more)  # type: ignore[arg-type]


QX_111 = Aircraft(
    "QX-111", "K7", "Tellamoor Field", 36,
    (Fitted("VRN-6T", "V-3111", "38", template="turbo", meter=205.0, fill=11.0, oil_kind="ad", total_time=1605.0,
            since_overhaul=0.0),),
    (
        Flown(34, "10:40", 83, {"": _ad(206.3, ff=34.5, cht=347, level=9.0, blocks=(
            Block(62, 30.1, 2400, 6500, 41, 18.4, 338),))}, by="Petra", ground=(9, 4), oat=62,
              tape=_petra(1, (62, 75), hours=0.0, oat=62)),
        Check(34, "15:00", "", "leak", DRY),
        Flown(32, "10:20", 81, {"": _ad(207.5, ff=34.5, cht=332, level=8.5, blocks=_QUARTERS)}, by="Petra",
              ground=(9, 4), oat=60, tape=_petra(2, (15, 75), (15, 65), (15, 75), (15, 65), hours=1.3, oat=60)),
        Flown(29, "16:05", 81, {"": _ad(208.7, ff=34.4, cht=332, level=9.25, added=1, blocks=_HALVES)}, by="Petra",
              ground=(9, 4), oat=66, tape=_petra(3, hours=2.5, oat=66)),
        # She looks for the peak too long this once, and the turbine inlet goes over its line.
        Flown(25, "10:15", 81, {"": _ad(210.0, ff=34.6, cht=323, level=8.5, blocks=_HALVES)}, by="Petra",
              ground=(9, 4), oat=58, note="Looked for the peak longer than it needed.",
              tape=_petra(4, hours=3.7, oat=58, tit_over=213.0)),
        Acknowledge(25, "15:00"),
        Flown(22, "10:30", 81, {"": _ad(211.2, ff=34.5, cht=321, level=8.75, added=1, blocks=_HALVES)}, by="Petra",
              ground=(9, 4), oat=57, tape=_petra(5, hours=5.0, oat=57)),
        Flown(18, "11:10", 81, {"": _ad(212.5, ff=34.5, cht=322, level=8.5, blocks=_HALVES)}, by="Petra",
              ground=(9, 4), oat=59),
        Flown(15, "10:05", 81, {"": _ad(213.7, ff=34.6, cht=319, level=9.0, added=1, blocks=_HALVES)}, by="Petra",
              ground=(9, 4), oat=55),
        Check(14, "11:00", "", "oil_filter", oil_change(8.75, 10.0, "ad"), by="Juno"),
        Flown(11, "10:25", 81, {"": _ad(215.1, ff=34.5, cht=318, level=8.75, blocks=_HALVES)}, by="Petra",
              ground=(9, 4), oat=54),
        Flown(8, "15:50", 81, {"": _ad(216.4, ff=34.5, cht=320, level=8.25, blocks=_HALVES)}, by="Petra",
              ground=(9, 4), oat=60),
        Flown(5, "10:40", 81, {"": _ad(217.7, ff=34.6, cht=315, level=9.0, added=1, blocks=_HALVES)}, by="Petra",
              ground=(9, 4), oat=52),
        Flown(2, "10:10", 81, {"": _ad(219.0, ff=34.8, cht=313, level=8.75, blocks=_HALVES)}, by="Petra",
              ground=(9, 4), oat=50, tape=_petra(6, hours=12.7, oat=50)),
    ),
)  # fmt: skip


def _vesna(seed: int, *cruise: tuple[float, float], feet: float, hours: float, oat: float) -> Tape:
    return Tape(
        "ferry", seed, cruise, 2400, feet, oat, ias=165, hours=hours,
        engines=({"seed": 2, "tit_over": 145.0},),
    )  # fmt: skip


QX_120 = Aircraft(
    "QX-120", "K13", "Tellamoor Field", 14,
    (Fitted("VRN-6T", "V-3121", "39", template="turbo", meter=12.0, fill=12.0, oil_kind="ad", total_time=1412.0,
            since_overhaul=0.0),),
    (
        Flown(12, "09:40", 46, {"": _ad(12.8, ff=34.6, cht=357, level=10.0, blocks=(
            Block(25, 30.1, 2400, 6500, 39, 18.4, 350),))}, by="Vesna", ground=(9, 4), oat=60,
              tape=_vesna(1, (25, 75), feet=6500, hours=0.0, oat=60)),
        Check(12, "15:00", "", "leak", DRY),
        # Power was made all the way, but not where the air is thick enough to cool the heads.
        Flown(10, "13:30", 207, {"": _ad(16.0, ff=34.8, cht=302, level=8.25, blocks=(
            Block(155, 29.8, 2400, 15500, -3, 18.3, 288),))}, by="Vesna", ground=(9, 4), oat=50, flight="ferry",
              note="Ferry to the survey area at 15,500 ft, as the charter needed it there.",
              tape=_vesna(2, (155, 75), feet=15500, hours=0.8, oat=50)),
        Flown(6, "10:20", 70, {"": _ad(17.0, ff=34.6, cht=333, level=8.5, added=1, blocks=(
            Block(25, 30.1, 2400, 6500, 38, 18.4, 314), Block(25, 26.6, 2400, 6500, 38, 16.2, 291)))}, by="Vesna",
              ground=(9, 4), oat=58, tape=_vesna(3, (25, 75), (25, 65), feet=6500, hours=4.0, oat=58)),
        Flown(3, "10:05", 70, {"": _ad(18.0, ff=34.7, cht=331, level=8.75, added=1, blocks=(
            Block(25, 30.1, 2400, 6500, 36, 18.4, 312), Block(25, 26.6, 2400, 6500, 36, 16.2, 289)))}, by="Vesna",
              ground=(9, 4), oat=56, tape=_vesna(4, (25, 75), (25, 65), feet=6500, hours=5.0, oat=56)),
    ),
)  # fmt: skip

"""Four owners: the model pupil, the one who tops to full, the one afraid of heat, and the one who sits."""

from reports.demo.stories.common import DRY, oil_change
from reports.demo.story import Aircraft, Block, Check, Eng, Fitted, Flown, Note

QX_101 = Aircraft(
    "QX-101", "K2", "Tellamoor Field", 28,
    (Fitted("TAV-4E", "E-2101", "21", finish="through_hardened", template="through_hardened", min_oil=5.0, fill=7.0,
            total_time=2104.0, since_overhaul=0.0, meter=412.0),),
    (
        Flown(26, "10:20", 72, {"": Eng(413.2, 15.9, 408, 5.75, blocks=(
            Block(60, 24.1, 2450, 4000, 45, 11.4, 392),))}, by="Corin", ground=(8, 3), aboard=2, oat=58),
        Check(26, "13:00", "", "leak", DRY),
        Flown(25, "09:40", 60, {"": Eng(414.2, 15.9, 402, 5.75, blocks=(
            Block(15, 24.1, 2450, 4000, 45, 11.4, 364), Block(15, 21.7, 2450, 4000, 45, 9.9, 352),
            Block(15, 24.1, 2450, 4000, 45, 11.4, 364), Block(15, 21.7, 2450, 4000, 45, 9.9, 352)))},
              by="Corin", aboard=2, oat=55),
        Flown(23, "11:05", 72, {"": Eng(415.4, 16.0, 398, 6.25, added=1)}, by="Ines", oat=60),
        Flown(21, "10:30", 66, {"": Eng(416.5, 15.8, 391, 6.0)}, by="Ines", oat=57),
        Flown(19, "16:10", 72, {"": Eng(417.7, 15.9, 388, 5.75)}, by="Ines", oat=64),
        Flown(17, "10:15", 72, {"": Eng(418.9, 15.9, 385, 5.75)}, by="Ines", oat=61),
        Flown(15, "09:50", 72, {"": Eng(420.1, 16.0, 384, 5.75)}, by="Ines", oat=52),
        Check(14, "15:00", "", "oil_filter", oil_change(5.75, 7.0)),
        Check(14, "15:40", "", "compression", {"results": {
            "input_psi": 80, "readings": {"1": 75, "2": 74, "3": 76, "4": 75}, "hot": True}}),
        Check(14, "16:20", "", "borescope", {"results": {
            "grades": {"1": 0, "2": 0, "3": 0, "4": 0}, "signs": {"1": ["hatch"], "3": ["hatch"]}}}),
        Flown(12, "10:40", 72, {"": Eng(421.3, 15.9, 382, 6.25)}, by="Ines", oat=50),
        Check(10, "09:00", "", "oil_analysis", {"results": {"ppm": {"fe": 48, "cu": 9, "al": 7}, "hours_on_oil": 7.7}}),
        Flown(9, "11:30", 78, {"": Eng(422.6, 15.9, 381, 6.25)}, by="Ines", oat=55),
        Flown(6, "10:05", 90, {"": Eng(424.1, 15.8, 383, 6.0)}, by="Ines", oat=54),
        # The same flight once more, by whoever sat beside her: the pair waits for somebody to say which one counts.
        Flown(6, "10:10", 84, {"": Eng(424.1, 15.8, 385)}, by="Corin", aboard=2, oat=54, written=(4, "18:30")),
        Flown(2, "10:50", 84, {"": Eng(425.5, 15.9, 380, 6.0)}, by="Ines", oat=51),
        Note(1, "15:10", "Pell", "For the flight five days ago we have two entries: yours with 1 h 30 min and Corin's "
             "with 1 h 24 min. Which one is right? One of them will be kept."),
    ),
    assigned=("Corin",),
)  # fmt: skip

QX_102 = Aircraft(
    "QX-102", "K3", "Tellamoor Field", 42,
    (Fitted("VRN-6D", "V-3102", "22", meter=88.0, fill=12.0, total_time=1890.0, since_overhaul=0.0),),
    (
        Flown(40, "10:10", 78, {"": Eng(89.3, 25.2, 411, 9.75, blocks=(
            Block(62, 23.8, 2500, 4000, 45, 18.0, 396),))}, by="Duff", oat=70),
        Check(40, "15:00", "", "leak", DRY),
        Flown(38, "10:10", 78, {"": Eng(90.6, 25.3, 405, 11.0, added=2, blocks=(
            Block(15, 23.8, 2500, 4000, 45), Block(15, 21.4, 2500, 4000, 45), Block(15, 23.8, 2500, 4000, 45),
            Block(15, 21.4, 2500, 4000, 45)))}, by="Duff", oat=69),
        Flown(35, "17:00", 78, {"": Eng(91.9, 25.2, 398, 11.0, added=1)}, by="Duff", oat=72),
        Flown(32, "10:30", 102, {"": Eng(93.6, 25.4, 396, 10.5, added=1)}, by="Duff", oat=66),
        Flown(29, "10:00", 90, {"": Eng(95.1, 25.2, 394, 11.0, added=1)}, by="Duff", oat=64),
        Flown(26, "11:20", 96, {"": Eng(96.7, 25.1, 391, 10.5, added=1)}, by="Duff", oat=61),
        Flown(22, "09:45", 90, {"": Eng(98.2, 25.2, 390, 11.0, added=1)}, by="Duff", oat=60),
        Check(21, "11:00", "", "oil_filter", oil_change(10.75, 10.0),
            by="Juno"),
        Flown(18, "10:20", 96, {"": Eng(99.8, 25.3, 388, 10.25, added=2)}, by="Duff", oat=58),
        Flown(14, "10:40", 96, {"": Eng(101.4, 25.2, 389, 11.0, added=2)}, by="Duff", oat=59),
        Flown(10, "15:30", 102, {"": Eng(103.1, 25.2, 387, 11.0, added=1)}, by="Duff", oat=63),
        Flown(6, "10:10", 108, {"": Eng(104.9, 25.3, 386, 11.0, added=1)}, by="Duff", oat=55),
        Flown(2, "11:00", 126, {"": Eng(107.0, 25.2, 388, 10.75, added=1)}, by="Duff", oat=52),
    ),
)  # fmt: skip

QX_103 = Aircraft(
    "QX-103", "K5", "Tellamoor Field", 17,
    (Fitted("TAV-4E", "E-2103", "23", kind="top_overhaul", min_oil=5.0, fill=7.0, meter=655.0, total_time=1655.0,
            since_overhaul=655.0),),
    (
        Flown(15, "11:10", 72, {"": Eng(656.2, 15.6, 415, 6.0, blocks=(
            Block(12, 24.1, 2450, 4000, 45, 11.3, 404), Block(44, 19.6, 2300, 4000, 45, 8.2, 341)))},
              by="Orrin", oat=61, note="No. 3 went to 415, so I throttled back to look after it."),
        Check(15, "16:00", "", "leak", DRY),
        Flown(13, "10:20", 54, {"": Eng(657.1, 15.7, 388, 5.5, blocks=(
            Block(20, 19.6, 2300, 4000, 45, 8.2, 338), Block(22, 21.7, 2450, 4000, 45, 9.8, 352)))},
              by="Orrin", oat=60),
        Flown(11, "10:00", 72, {"": Eng(658.3, 15.7, 391, 6.0, added=1, blocks=(
            Block(35, 21.7, 2450, 4000, 45, 9.8), Block(26, 19.6, 2300, 4000, 45, 8.2)))}, by="Orrin", oat=58),
        Flown(9, "15:45", 66, {"": Eng(659.4, 15.6, 386, 5.75, blocks=(
            Block(30, 21.7, 2450, 4000, 45, 9.8), Block(28, 19.6, 2300, 4000, 45, 8.2)))}, by="Orrin", oat=63),
        Flown(6, "10:35", 72, {"": Eng(660.6, 15.7, 384, 6.0, added=1, blocks=(
            Block(35, 21.7, 2450, 4000, 45, 9.8), Block(25, 19.6, 2300, 4000, 45, 8.2)))}, by="Orrin", oat=56),
        Flown(4, "10:00", 42, {"": Eng(661.3, 15.6, 380, 6.0, blocks=(
            Block(35, 19.6, 2300, 4000, 45, 8.2),))}, by="Orrin", oat=54),
        Flown(2, "11:15", 54, {"": Eng(662.2, 15.7, 382, 5.5, blocks=(
            Block(20, 21.7, 2450, 4000, 45, 9.8), Block(25, 19.6, 2300, 4000, 45, 8.2)))}, by="Orrin", oat=55),
    ),
)  # fmt: skip

QX_114 = Aircraft(
    "QX-114", "K9", "Tellamoor Field", 26,
    (Fitted("TAV-4E", "E-2114", "24", min_oil=5.0, fill=7.0, meter=31.0, total_time=1731.0, since_overhaul=0.0),),
    (
        Flown(24, "10:30", 78, {"": Eng(32.3, 16.0, 410, 6.0)}, by="Jory", oat=66),
        Check(24, "15:30", "", "leak", DRY),
    ),
)  # fmt: skip

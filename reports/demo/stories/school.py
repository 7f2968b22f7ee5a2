"""A flying school's two engines: one cylinder replaced at mid-life, and chrome bores that take their time."""

from reports.demo.stories.common import DRY, oil_change
from reports.demo.story import Aircraft, Block, Check, Eng, Fitted, Flown, Opened, Tape

HOUR = (Block(60, 23.7, 2400, 4000, 45, None, 386),)
QUARTERS = (
    Block(15, 23.7, 2400, 4000, 45), Block(15, 21.3, 2400, 4000, 45),
    Block(15, 23.7, 2400, 4000, 45), Block(15, 21.3, 2400, 4000, 45),
)  # fmt: skip
HALVES = (Block(30, 23.7, 2400, 4000, 45), Block(30, 21.3, 2400, 4000, 45))
USUAL = (Block(60, 21.3, 2400, 4000, 45),)


def _heads(seed: int, *cruise: tuple[float, float], oat: float, hours: float, over: float) -> Tape:
    """The new no. 3 lies so far over the other five, which have run for years."""
    return Tape(
        "trainer", seed, cruise, 2400, 4000, oat, field_ft=2100.0, hours=hours, lean=False, mixture=1.05,
        engines=({"seed": 7, "rise": 330.0, "over": {3: over}},),
    )  # fmt: skip


QX_112 = Aircraft(
    "QX-112", "K8", "Dunmarrow", 42,
    (Fitted("VRN-6B", "B-2112", meter=2700.0, min_oil=6.0, fill=9.0, total_time=1112.0, since_overhaul=1112.0),),
    (
        # At mid-life, before the job: about 0.11 qt/h.
        Flown(40, "10:20", 72, {"": Eng(2701.2, cht=383, level=8.0, blocks=USUAL)},
              flight="private", by="Hale", oat=58),
        Flown(37, "09:50", 84, {"": Eng(2702.6, cht=381, level=7.75, blocks=USUAL)},
              flight="private", by="Rhea", oat=54),
        Flown(34, "11:10", 78, {"": Eng(2704.0, cht=382, level=7.5, blocks=USUAL)},
              flight="private", by="Hale", oat=50),
        Flown(31, "15:40", 84, {"": Eng(2705.4, cht=381, level=7.25, blocks=USUAL)},
              flight="private", by="Rhea", oat=63),
        Flown(29, "10:05", 78, {"": Eng(2706.8, cht=382, level=7.25, blocks=USUAL)},
              flight="private", by="Hale", oat=66),
        Check(24, "10:00", "", "compression", {"results": {
            "input_psi": 80, "readings": {"1": 74, "2": 73, "3": 52, "4": 75, "5": 72, "6": 74}, "hot": True,
            "leak_heard": {"3": "exhaust"}}, "result": "watch"}),
        Opened(22, "12:00", Fitted("VRN-6B", "B-2112", "52", kind="cylinder", finish="plain_steel", template="partial",
                                   total_time=1120.0, since_overhaul=1120.0, new_cylinder=3)),
        Flown(20, "10:20", 68, {"": Eng(2708.0, cht=404, level=7.75, blocks=HOUR)}, by="Hale", oat=54, ground=(9, 4),
              note="No. 3 is the hottest by 22 F; it came down a little toward the end of the hour.",
              tape=_heads(41, (60, 75), oat=54, hours=1120, over=30)),
        Check(20, "15:00", "", "leak", DRY),
        Flown(18, "09:50", 66, {"": Eng(2709.2, cht=398, level=7.5, blocks=QUARTERS)}, by="Rhea", oat=57),
        Flown(15, "11:10", 68, {"": Eng(2710.4, cht=388, level=7.25, blocks=HALVES)}, by="Hale", oat=53, ground=(9, 4),
              note="No. 3 now within 8 F of the others.",
              tape=_heads(42, (30, 75), (30, 65), oat=53, hours=1123, over=14)),
        Flown(12, "15:40", 78, {"": Eng(2711.8, cht=385, level=7.75, added=1, blocks=HALVES)}, by="Rhea", oat=66),
        Flown(8, "10:05", 78, {"": Eng(2713.2, cht=383, level=7.5, blocks=HALVES)}, by="Hale", oat=55),
        Check(7, "10:00", "", "compression", {"results": {
            "input_psi": 80, "readings": {"1": 74, "2": 73, "3": 76, "4": 75, "5": 72, "6": 74}, "hot": True}}),
        Check(7, "11:00", "", "borescope", {"results": {
            "grades": {"1": 0, "2": 0, "3": 0, "4": 1, "5": 0, "6": 0}, "signs": {"3": ["hatch"]}}}),
        Flown(3, "14:30", 96, {"": Eng(2714.8, cht=382, level=7.5, blocks=(*HALVES, HALVES[0]))}, by="Rhea", oat=54,
              ground=(9, 4), tape=_heads(43, (30, 75), (30, 65), (28, 75), oat=54, hours=1127, over=5)),
    ),
)  # fmt: skip

QX_113 = Aircraft(
    "QX-113", "K8", "Dunmarrow", 64,
    (Fitted("VRN-6B", "B-2113", "53", finish="chrome", template="chrome", meter=1402.0, min_oil=6.0, fill=9.5,
            total_time=1402.0, since_overhaul=0.0),),
    (
        Flown(62, "10:20", 72, {"": Eng(1403.2, cht=406, level=7.5, blocks=HOUR)}, by="Rhea", oat=59),
        Check(62, "15:00", "", "leak", DRY),
        Flown(60, "09:50", 66, {"": Eng(1404.4, cht=401, level=7.75, added=1, blocks=QUARTERS)}, by="Hale", oat=62),
        Flown(57, "11:10", 78, {"": Eng(1405.8, cht=397, level=6.75, blocks=HALVES)}, by="Rhea", oat=58),
        Flown(54, "15:40", 84, {"": Eng(1407.2, cht=396, level=7.25, added=1, blocks=HALVES)}, by="Hale", oat=54),
        Flown(51, "10:05", 90, {"": Eng(1408.8, cht=391, level=7.0, added=1, blocks=HALVES)}, by="Rhea", oat=50),
        Flown(48, "14:30", 84, {"": Eng(1410.2, cht=392, level=7.5, added=1, blocks=HALVES)}, by="Hale", oat=63),
        Flown(45, "10:20", 90, {"": Eng(1411.8, cht=391, level=7.75, added=1, blocks=HALVES)}, by="Rhea", oat=59),
        Check(44, "11:00", "", "oil_filter", oil_change(7.75, 9.5), by="Juno"),
        Flown(42, "09:50", 96, {"": Eng(1413.5, cht=389, level=7.5, blocks=HALVES)}, by="Hale", oat=55),
        Flown(39, "11:10", 84, {"": Eng(1414.9, cht=389, level=8.0, added=1, blocks=HALVES)}, by="Rhea", oat=51),
        Flown(36, "15:40", 90, {"": Eng(1416.5, cht=388, level=7.25, blocks=HALVES)}, by="Hale", oat=64),
        Flown(33, "10:05", 84, {"": Eng(1417.9, cht=389, level=7.75, added=1, blocks=HALVES)}, by="Rhea", oat=60),
        Flown(30, "14:30", 90, {"": Eng(1419.5, cht=388, level=8.0, added=1, blocks=HALVES)}, by="Hale", oat=56),
        Flown(27, "10:20", 96, {"": Eng(1421.2, cht=389, level=7.5, blocks=HALVES)}, by="Rhea", oat=52),
        Flown(24, "09:50", 84, {"": Eng(1422.6, cht=388, level=8.0, added=1, blocks=HALVES)}, by="Hale", oat=65),
        Flown(21, "11:10", 90, {"": Eng(1424.2, cht=389, level=7.25, blocks=HALVES)}, by="Rhea", oat=61),
        Check(20, "11:00", "", "oil_filter", oil_change(7.0, 9.5), by="Juno"),
        Flown(18, "15:40", 84, {"": Eng(1425.6, cht=388, level=7.75, blocks=HALVES)}, by="Hale", oat=57),
        Flown(15, "10:05", 90, {"": Eng(1427.2, cht=388, level=7.25, blocks=HALVES)}, by="Rhea", oat=53),
        Flown(11, "14:30", 84, {"": Eng(1428.6, cht=388, level=8.0, added=1, blocks=HALVES)}, by="Hale", oat=59),
        Flown(7, "10:20", 90, {"": Eng(1430.2, cht=388, level=7.75, blocks=HALVES)}, by="Rhea", oat=65),
        Flown(4, "09:50", 84, {"": Eng(1431.6, cht=387, level=8.25, added=1, blocks=HALVES)}, by="Hale", oat=61),
        Flown(2, "11:10", 78, {"": Eng(1433.0, cht=389, level=7.75, blocks=HALVES)}, by="Rhea", oat=64),
    ),
)  # fmt: skip

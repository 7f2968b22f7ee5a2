"""Three twins: one new beside one mid-time engine, one whose engines changed sides, one that has not flown yet."""

from reports.demo.stories.common import DRY, oil_change
from reports.demo.story import Acknowledge, Aircraft, Block, Check, Delivery, Eng, Fitted, Flown, Swap

HOUR = (Block(60, 23.8, 2500, 4000, 45, 18.0, 392),)
SPLIT = (Block(60, 21.6, 2500, 4000, 45, 15.8, 371),)
FOUR_QUARTERS = (
    Block(15, 23.8, 2500, 4000, 45), Block(15, 21.4, 2500, 4000, 45),
    Block(15, 23.8, 2500, 4000, 45), Block(15, 21.4, 2500, 4000, 45),
)  # fmt: skip
SPLIT_QUARTERS = (
    Block(15, 21.6, 2500, 4000, 45), Block(15, 19.2, 2500, 4000, 45),
    Block(15, 21.6, 2500, 4000, 45), Block(15, 19.2, 2500, 4000, 45),
)  # fmt: skip
HALVES = (Block(30, 23.8, 2500, 4000, 45), Block(30, 21.4, 2500, 4000, 45))


def pair(left: Eng, right: Eng) -> dict[str, Eng]:
    return {"left": left, "right": right}


QX_106 = Aircraft(
    "QX-106", "K4", "Saltreach", 20,
    (
        Fitted("VRN-6D", "V-3106", "27", side="left", meter=210.0, fill=11.0, total_time=2010.0, since_overhaul=0.0),
        Fitted("VRN-6D", "V-2940", side="right", meter=210.0, fill=None, total_time=2640.0, since_overhaul=940.0),
    ),
    (
        # The pilot spares the old engine, twice; then the shop calls and the power is even.
        Flown(18, "10:30", 78, pair(Eng(211.3, 25.1, 409, 9.5, blocks=HOUR),
                                     Eng(211.3, 25.0, 392, 9.75, blocks=SPLIT)), by="Mara", oat=66),
        Check(18, "15:00", "left", "leak", DRY),
        Flown(16, "10:15", 72, pair(Eng(212.5, 25.2, 403, 9.0, blocks=FOUR_QUARTERS),
                                     Eng(212.5, 25.0, 384, 9.25, blocks=SPLIT_QUARTERS)), by="Mara", oat=65),
        Acknowledge(16, "14:00"),
        Flown(13, "10:40", 72, pair(Eng(213.7, 25.1, 399, 8.25, blocks=HALVES),
                                     Eng(213.7, 25.1, 398, 9.0, blocks=HALVES)), by="Mara", oat=64),
        Flown(11, "16:20", 78, pair(Eng(215.0, 25.2, 397, 9.0, added=1, blocks=HALVES),
                                     Eng(215.0, 25.0, 396, 8.75, blocks=HALVES)), by="Mara", oat=70),
        Flown(8, "10:05", 84, pair(Eng(216.4, 25.2, 394, 9.25, added=1, blocks=HALVES),
                                    Eng(216.4, 25.1, 395, 9.25, added=1, blocks=HALVES)), by="Mara", oat=61),
        Flown(5, "09:55", 78, pair(Eng(217.7, 25.1, 392, 9.25, blocks=HALVES),
                                    Eng(217.7, 25.0, 394, 9.25, blocks=HALVES)), by="Mara", oat=60),
        Flown(2, "10:25", 78, pair(Eng(219.0, 25.2, 391, 9.0, blocks=HALVES),
                                    Eng(219.0, 25.1, 393, 9.0, blocks=HALVES)), by="Mara", oat=58),
    ),
)  # fmt: skip

QX_119 = Aircraft(
    "QX-119", "K13", "Tellamoor Field", 34,
    (
        Fitted("VRN-6D", "V-3119", "28", side="left", meter=50.0, fill=11.0, total_time=1950.0, since_overhaul=0.0),
        Fitted("VRN-6D", "V-3120", "29", side="right", meter=50.0, fill=11.0, total_time=2200.0, since_overhaul=0.0),
    ),
    (
        Flown(32, "10:10", 72, pair(Eng(51.2, 25.2, 408, 9.5, blocks=HOUR), Eng(51.2, 25.3, 411, 9.5, blocks=HOUR)),
              by="Vesna", oat=70),
        Check(32, "15:00", "left", "leak", DRY),
        Check(32, "15:30", "right", "leak", DRY),
        Flown(29, "10:20", 66, pair(Eng(52.3, 25.1, 402, 8.75, blocks=FOUR_QUARTERS),
                                     Eng(52.3, 25.3, 404, 9.0, blocks=FOUR_QUARTERS)), by="Vesna", oat=69),
        Flown(26, "09:50", 78, pair(Eng(53.6, 25.2, 398, 8.25, blocks=HALVES),
                                     Eng(53.6, 25.2, 400, 9.0, added=1, blocks=HALVES)), by="Vesna", oat=68),
        Flown(22, "10:40", 78, pair(Eng(54.9, 25.2, 396, 9.0, added=1, blocks=HALVES),
                                     Eng(54.9, 25.3, 397, 8.5, blocks=HALVES)), by="Vesna", oat=66),
        # From here on V-3119 sits on the right and V-3120 on the left; the readings follow the serials.
        Swap(20, "14:00"),
        Flown(17, "10:30", 84, pair(Eng(56.3, 25.2, 395, 9.25, added=1, blocks=HALVES),
                                     Eng(56.3, 25.1, 394, 8.5, blocks=HALVES)), by="Vesna", oat=65),
        Flown(13, "16:00", 78, pair(Eng(57.6, 25.3, 393, 8.75, blocks=HALVES),
                                     Eng(57.6, 25.2, 392, 9.25, added=1, blocks=HALVES)), by="Vesna", oat=67),
        Flown(8, "10:15", 78, pair(Eng(58.9, 25.2, 392, 9.25, added=1, blocks=HALVES),
                                    Eng(58.9, 25.2, 391, 8.75, blocks=HALVES)), by="Vesna", oat=61),
        Check(7, "11:00", "left", "oil_filter", oil_change(9.0, 10.5), by="Juno"),
        Check(7, "12:00", "right", "oil_filter", oil_change(8.75, 10.5), by="Juno"),
        Flown(3, "10:05", 66, pair(Eng(60.0, 25.2, 390, 9.5, blocks=HALVES), Eng(60.0, 25.2, 391, 9.5, blocks=HALVES)),
              by="Vesna", oat=59),
    ),
)  # fmt: skip

QX_123 = Aircraft(
    "QX-123", "K13", "Dunmarrow", 2,
    (
        Fitted("PL-6G", "G-1123", "34", kind="new", finish="through_hardened", template="through_hardened", side="left",
               fill=11.0, total_time=0.0, since_overhaul=0.0),
        Fitted("PL-6G", "G-1124", "35", kind="new", finish="through_hardened", template="through_hardened",
               side="right", fill=11.0, total_time=0.0, since_overhaul=0.0),
    ),
    (
        # A magneto drop was chased on new rings: the shop's own ground run counts too.
        Flown(1, "11:40", 0, pair(Eng(0.0, level=10.75, blocks=(), falling="not_looked"),
                                   Eng(0.0, level=10.75, blocks=(), falling="not_looked")),
              by="Pell", ground=(24, 0), flight="ground_run", place="Tellamoor Field", oat=62,
              note="Magneto drop on the left, found at the plug."),
        # The customer would have flown it home at once and high; the shop agreed on another order with him.
        Delivery(1, "13:30", "Juno", "Dunmarrow", "Tellamoor Field", 3500, 62, "Vesna", (170, 11500, 0), "Vesna",
                 "Vesna collects it and flies it home at once."),
        Delivery(1, "16:00", "Pell", "Dunmarrow", "Tellamoor Field", 3500, 62, "Corin", (170, 9500, 2), "Vesna",
                 "Corin flies both hours here on the day before; Vesna takes it home afterwards, at any altitude."),
    ),
)  # fmt: skip

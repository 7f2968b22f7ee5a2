"""An engine closed out at 14 h whose loss stepped up at 26 h: reopened by rule."""

from reports.demo.stories.common import DRY, oil_change
from reports.demo.story import Aircraft, Block, Check, CloseOut, Eng, Fitted, Flown

_HALVES = (Block(30, 23.8, 2500, 4000, 45), Block(30, 21.4, 2500, 4000, 45))

QX_117 = Aircraft(
    "QX-117", "K12", "Tellamoor Field", 104,
    (Fitted("VRN-6D", "V-3117", "17", finish="through_hardened", template="through_hardened", meter=300.0, fill=11.0,
            total_time=2300.0, since_overhaul=0.0, ring_lot="R7"),),
    (
        Flown(102, "10:00", 72, {"": Eng(301.2, 25.1, 409, 9.5, blocks=(
            Block(60, 23.8, 2500, 4000, 45, 18.0, 394),))}, by="Corin", oat=75, aboard=2),
        Check(102, "15:00", "", "leak", DRY),
        Flown(100, "10:10", 66, {"": Eng(302.3, 25.2, 402, 9.0, blocks=(
            Block(15, 23.8, 2500, 4000, 45), Block(15, 21.4, 2500, 4000, 45), Block(15, 23.8, 2500, 4000, 45),
            Block(15, 21.4, 2500, 4000, 45)))}, by="Corin", oat=76, aboard=2),
        Flown(97, "10:20", 72, {"": Eng(303.5, 25.2, 398, 9.0, blocks=_HALVES)}, by="Quentin", oat=77),
        Flown(94, "10:05", 78, {"": Eng(304.8, 25.2, 396, 9.75, added=1, blocks=_HALVES)}, by="Quentin", oat=74),
        Flown(90, "10:30", 84, {"": Eng(306.2, 25.1, 393, 9.5, blocks=_HALVES)}, by="Quentin", oat=73),
        Flown(86, "16:00", 78, {"": Eng(307.5, 25.2, 391, 9.25, blocks=_HALVES)}, by="Quentin", oat=78),
        Flown(82, "10:10", 84, {"": Eng(308.9, 25.2, 390, 9.0, blocks=_HALVES)}, by="Quentin", oat=75),
        Check(80, "11:00", "", "oil_filter", oil_change(9.0, 11.0)),
        Flown(77, "10:40", 78, {"": Eng(310.2, 25.2, 389, 10.0, blocks=_HALVES)}, by="Quentin", oat=74),
        Flown(72, "10:15", 84, {"": Eng(311.6, 25.1, 388, 9.75, blocks=_HALVES)}, by="Quentin", oat=72),
        Flown(67, "09:55", 72, {"": Eng(312.8, 25.2, 388, 9.75, blocks=_HALVES)}, by="Quentin", oat=73),
        Flown(62, "10:25", 72, {"": Eng(314.0, 25.2, 387, 9.5, blocks=_HALVES)}, by="Quentin", oat=70),
        CloseOut(60, "15:00", "", "Oil flat at about 0.1 qt/h, filter clean, first two hours met.",
                 waiver="One reading more would say it too; the filter is clean and the owner leaves on a trip."),
        Flown(56, "10:10", 84, {"": Eng(315.4, 25.2, 386, 9.25, blocks=_HALVES)}, by="Quentin", oat=69),
        Flown(51, "10:35", 102, {"": Eng(317.1, 25.1, 386, 9.25, blocks=_HALVES)}, by="Quentin", oat=68),
        Flown(46, "11:05", 108, {"": Eng(318.9, 25.2, 385, 9.0, blocks=_HALVES)}, by="Quentin", oat=66),
        Flown(41, "10:20", 102, {"": Eng(320.6, 25.2, 386, 9.0, blocks=_HALVES)}, by="Quentin", oat=67),
        Flown(36, "10:30", 102, {"": Eng(322.3, 25.2, 385, 8.75, blocks=_HALVES)}, by="Quentin", oat=64),
        Flown(31, "10:00", 126, {"": Eng(324.4, 25.1, 386, 9.5, added=1, blocks=_HALVES)}, by="Quentin", oat=63),
        Flown(26, "10:15", 96, {"": Eng(326.0, 25.2, 387, 9.5, blocks=_HALVES)}, by="Quentin", oat=62),
        # A ring sticks: from here on about a quart in two and a half hours.
        Flown(21, "10:45", 96, {"": Eng(327.6, 25.2, 391, 9.0, blocks=_HALVES)}, by="Quentin", oat=60),
        Flown(16, "10:20", 102, {"": Eng(329.3, 25.1, 392, 8.25, blocks=_HALVES)}, by="Quentin", oat=61),
        Flown(12, "10:05", 102, {"": Eng(331.0, 25.2, 393, 8.75, added=1, blocks=_HALVES)}, by="Quentin", oat=58),
        Flown(8, "09:50", 96, {"": Eng(332.6, 25.2, 394, 9.0, added=1, blocks=_HALVES)}, by="Quentin", oat=57),
        Flown(3, "10:30", 84, {"": Eng(334.0, 25.1, 393, 8.5, blocks=_HALVES)}, by="Quentin", oat=55),
    ),
)  # fmt: skip

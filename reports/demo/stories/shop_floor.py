"""Two engines that stand in the shop: one preserved, one just out of the test cell."""

from reports.demo.story import Uninstalled

BUILD_31 = Uninstalled("TAV-4E", "E-2031", "31", "overhaul", "nitrided", "nitrided", 180, preserved=(174, 6))
# What the cell used is stored and shown, and never enters a rate.
BUILD_33 = Uninstalled(
    "PL-6G", "G-1033", "33", "new", "through_hardened", "through_hardened", 4, ring_lot="R7", cell=(2, 90, 0.9)
)

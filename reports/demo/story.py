"""The words in which the demo's stories are written: one row for each thing somebody did.

Days count back from today; times are local to the aircraft's home field; levels and amounts are US quarts; meters are
the basis clock of the engine; heads in degF, manifold pressure in inHg, altitudes in feet.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Block:
    """Some minutes at one setting, as a pilot writes them down."""

    minutes: float
    map_inhg: float | None
    rpm: float
    altitude_ft: float
    oat_degf: float
    fuel_flow: float | None = None
    cht_mean: float | None = None


@dataclass(frozen=True)
class Eng:
    """One engine on one flight. Without blocks it was flown as on the card."""

    meter: float
    ff: float | None = None
    cht: float | None = None
    level: float | None = None
    added: float = 0.0
    kind: str = "mineral"
    since: float = 20
    over: str = "no"
    falling: str = "yes"
    belly: int = 0
    blocks: tuple[Block, ...] | None = None
    more: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Flown:
    day: int
    end: str
    airborne: float
    engines: dict[str, Eng]
    by: str = ""
    ground: tuple[float, float] = (6, 3)
    flight: str = "run_in"
    place: str = ""
    oat: float | None = None
    qnh: float = 29.92
    chips: tuple[str, ...] = ("none",)
    aboard: int = 1
    note: str = ""


@dataclass(frozen=True)
class Check:
    """A technician's inspection. `values` are the fields of its kind."""

    day: int
    at: str
    side: str
    kind: str
    values: dict[str, Any]
    by: str = "Pell"


@dataclass(frozen=True)
class Swap:
    day: int
    at: str
    by: str = "Juno"
    reason: str = "even wear"


@dataclass(frozen=True)
class Acknowledge:
    """The shop took note of the open calls of an aircraft."""

    day: int
    at: str
    by: str = "Tilde"


@dataclass(frozen=True)
class CloseOut:
    day: int
    at: str
    side: str
    reason: str
    by: str = "Tilde"


@dataclass(frozen=True)
class Reopen:
    day: int
    at: str
    side: str
    reason: str
    by: str = "Tilde"


Row = Flown | Check | Swap | Acknowledge | CloseOut | Reopen


@dataclass(frozen=True)
class Fitted:
    """An engine of the aircraft. Without a build number it is not in break-in."""

    type_name: str
    serial: str
    build: str = ""
    kind: str = "overhaul"
    finish: str = "nitrided"
    template: str = "nitrided"
    side: str = "single"
    meter: float = 0.0
    min_oil: float = 8.0
    fill: float | None = 11.0
    total_time: float | None = None
    since_overhaul: float | None = None
    ring_lot: str = ""
    builder: str = "Bram"


@dataclass(frozen=True)
class Aircraft:
    registration: str
    customer: str
    home: str
    fitted_day: int
    engines: tuple[Fitted, ...]
    rows: tuple[Row, ...]
    assigned: tuple[str, ...] = ()


@dataclass(frozen=True)
class Uninstalled:
    """A build that stands in the shop."""

    type_name: str
    serial: str
    build: str
    kind: str
    finish: str
    template: str
    opened_day: int
    ring_lot: str = ""
    cell: tuple[int, float, float] | None = None  # days ago, minutes, quarts used
    preserved: tuple[int, int] | None = None  # days ago, days until it expires

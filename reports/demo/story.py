"""The words in which the demo's stories are written: one row for each thing somebody did.

Days count back from today; times are local to the aircraft's home field; levels and amounts are US quarts; meters are
the basis clock of the engine; heads in degF, manifold pressure in inHg, altitudes in feet.
"""

from __future__ import annotations

from collections.abc import Mapping
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
    container: str = "us_qt"
    oil_unit: str = "qt"  # of level and added; other than quarts are poured by measure, not by the container
    since: float = 20
    over: str = "no"
    falling: str = "yes"
    belly: int = 0
    blocks: tuple[Block, ...] | None = None
    more: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Tape:
    """One flight as a recorder saw it. Minutes, percent of rated power, feet above the sea, degF.

    cruise : (minutes, percent) in order. start, taxi, taxi_in : minutes on the ground with the engine running.
    circuits : touch-and-go landings before the climb. lean : to the first peak, else by the POH at `mixture`.
    clock_error_s : what the recorder's clock is ahead. split : percent that the right engine makes more in cruise.
    hours : that the engines had run before. engines : what is special about each, as `recorder.Engine` names it, and
    `rise`, how far its heads lie over the outside air at 75 % [ddegF], and `over`, how far one of them lies over that.
    handed_in : minutes after landing. with_flight : handed in with the flight, else found by its time.
    told : who said which flight it is, and why, where its time does not say so.
    """

    recorder: str
    seed: int
    cruise: tuple[tuple[float, float], ...]
    rpm: float
    cruise_ft: float
    field_degf: float
    field_ft: float = 620.0
    fpm: float = 700.0
    down_fpm: float = 500.0
    start: float = 3.0
    taxi: float = 4.0
    taxi_in: float = 3.0
    circuits: int = 0
    lean: bool = True
    mixture: float = 1.03
    clock_error_s: int = 0
    split: float = 0.0
    hours: float = 0.0
    engines: tuple[Mapping[str, Any], ...] = field(default=({},))
    ias: float = 120.0
    handed_in: float = 30.0
    with_flight: bool = False
    told: tuple[str, str] | None = None


@dataclass(frozen=True)
class Flown:
    """A flight as its pilot wrote it down; `tape` is what the recorder wrote meanwhile."""

    day: int
    end: str
    airborne: float | str
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
    landings: int | None = None
    written: tuple[int, str] | None = None  # (day, time) of writing it down; otherwise 20 minutes after the end
    tape: Tape | None = None


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
class NewMeter:
    """The tachometer was replaced: what the old one showed last, and the new one first [h]."""

    day: int
    at: str
    side: str
    old: float
    new: float


@dataclass(frozen=True)
class Opened:
    """An engine that flew here without a build gets work that starts one; it stays in its place."""

    day: int
    at: str
    engine: Fitted


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
    proposed_by: str = "Juno"
    waiver: str = ""  # why whatever still lacks is let stand


@dataclass(frozen=True)
class Reopen:
    day: int
    at: str
    side: str
    reason: str
    by: str = "Tilde"


@dataclass(frozen=True)
class Sent:
    """A recording that came alone, of the flight that ended at `of` (day, time); nobody has answered its questions."""

    day: int
    at: str
    by: str
    tape: Tape
    of: tuple[int, str]
    name: str


@dataclass(frozen=True)
class Sale:
    """The aircraft goes to another customer, who sees what happened before without persons and words."""

    day: int
    at: str
    to: str
    reason: str
    by: str = "Tilde"


@dataclass(frozen=True)
class Delivery:
    """The first two hours and the ferry home, planned by the shop. Both hours are flown alike."""

    day: int
    at: str
    by: str
    home: str
    field: str
    altitude_ft: float
    oat: float
    pilot: str
    ferry: tuple[float, float, float]  # minutes, altitude in feet, hours flown before it
    ferry_pilot: str
    note: str = ""


@dataclass(frozen=True)
class Note:
    """A line of the shop to whoever holds the aircraft."""

    day: int
    at: str
    by: str
    text: str


Row = Delivery | Flown | Sent | Check | Swap | NewMeter | Opened | Acknowledge | CloseOut | Reopen | Sale | Note


@dataclass(frozen=True)
class Fitted:
    """An engine of the aircraft. Without a build number it is not in break-in."""

    type_name: str
    serial: str
    build: str = ""
    kind: str = "overhaul"
    finish: str = "nitrided"
    template: str = "nitrided"  # empty: no plan is issued
    side: str = "single"
    meter: float = 0.0
    min_oil: float = 8.0
    fill: float | None = 11.0
    total_time: float | None = None
    since_overhaul: float | None = None
    ring_lot: str = ""
    oil_kind: str = "mineral"
    builder: str = "Bram"
    hobbs: float | None = None  # reading of the second meter, where there is one
    new_cylinder: int | None = None  # the only one that was worked on


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

"""Power credit of the first hours: which minutes count, and the first-two-hours verdict (rules P0, P2 to P5).

Minutes are walked block by block, in the order flown, over all flights. Hour 1 asks for one constant upper power,
hour 2 for 15 and 15 minutes; each ends when its credit is met or at its cap of run hours. Central values decide;
least and most stand beside them.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from breakin.calc.errors import BadQuantity, OutOfRange
from breakin.calc.said import Said, said

HOUR_1_NEEDED_MIN = 55.0
HOUR_2_NEEDED_MIN = 25.0
HOUR_2_CHANGES = 2
HOUR_1_MIN_PER_CHANGE = 20.0
FULL_HOUR_MIN = 60.0
STEADY_MIN = 10.0
LANDING_MIN = 10.0
CAP_HOUR_1_H = 2.0
CAP_HOUR_2_H = 3.5
SETTING_CHANGE_PCT = 3.0
FIRST_TWO_H = 2.0

Source = Literal["stated", "typed", "recording"]
StageName = Literal["hour_1", "hour_2", "later"]
Verdict = Literal["met (stated)", "met (measured)", "partly", "missed", "not achievable", "not known"]
VERDICT_WORDS: Mapping[Verdict, Said] = {
    "met (stated)": said("met (stated)"),
    "met (measured)": said("met (measured)"),
    "partly": said("partly"),
    "missed": said("missed"),
    "not achievable": said("not achievable"),
    "not known": said("not known"),
}


@dataclass(frozen=True)
class BlockPower:
    """Some minutes at one setting.

    duration_min : float [min], above 0.
    pct : float [% of rated power] or None when power is not known.
    sigma : float [%] - one sigma of pct; None with pct None.
    source : "stated" (as on the card), "typed" or "recording".
    stated_band : 75 or 65 where flown as on the card.
    band_achievable : False where the plan's power could not be had there; None when not known.
    steady : False when manifold pressure or rpm wandered: earns no credit.
    setting : False for a climb, a descent or the moments between two settings: no change is counted from or to it.
    too_high : flown above the plan's altitude for cooling: earns no credit as 75.
    shares : "75" and "65" -> share of the minutes in that band at least and at most; None works it out from sigma.
    """

    duration_min: float
    pct: float | None = None
    sigma: float | None = None
    source: Source = "typed"
    stated_band: int | None = None
    band_achievable: bool | None = None
    steady: bool = True
    setting: bool = True
    too_high: bool = False
    shares: Mapping[str, tuple[float, float]] | None = None


@dataclass(frozen=True)
class FlightPower:
    """One flight, or ground run (airborne_min 0), of one engine.

    flight_root : opaque id of the flight.
    order : sorts the flights.
    airborne_min, ground_min : float [min], at least 0.
    blocks : settings in the order flown. Airborne minutes that no block covers are of unknown power.
    run_h : float [h] on the basis clock; None takes airborne minutes.
    """

    flight_root: str
    order: float
    airborne_min: float
    ground_min: float
    blocks: tuple[BlockPower, ...] = ()
    run_h: float | None = None


@dataclass(frozen=True)
class Minutes:
    """Credited minutes: central value, least and most under the readings' doubt, and how they are known."""

    central: float = 0.0
    least: float = 0.0
    most: float = 0.0
    stated: float = 0.0
    measured: float = 0.0


@dataclass(frozen=True)
class StageCredit:
    """Credit of one stage.

    target_75, target_65 : Minutes in the plan's bands.
    changes : changes of power setting, climb and landing apart.
    airborne_min, unknown_min, light_min, between_min, unachievable_min : float [min].
    too_high_min : float [min] - in the upper band above the plan's altitude for cooling: not credited.
    met : the stage's own criterion.
    ended : "credit", "cap" or None while it runs.
    flights : roots of the flights that took part.
    """

    target_75: Minutes = Minutes()
    target_65: Minutes = Minutes()
    changes: int = 0
    airborne_min: float = 0.0
    unknown_min: float = 0.0
    light_min: float = 0.0
    between_min: float = 0.0
    unachievable_min: float = 0.0
    too_high_min: float = 0.0
    met: bool = False
    ended: Literal["credit", "cap"] | None = None
    flights: tuple[str, ...] = ()


@dataclass(frozen=True)
class Credit:
    """All that the power log of one build says.

    hour_1, hour_2, later : StageCredit.
    first_two : the verdict by central values; "not known" with ``final`` False while the stages run.
    final : both stages have ended.
    undecided : a block within its doubt of a band edge would change the verdict.
    reasons : sentences with the numbers behind the verdict.
    flights : roots of the flights in the first two stages.
    light_first_two_min : float [min] - light running in the first two run hours.
    ground_session_first_two_min : float [min] - longest ground session in the first two run hours.
    ground_session_flight : root of that session, or None.
    later_share : float [-] or None - share of later airborne time in a band.
    later_changes_per_h : float [1/h] or None.
    light_share : float [-] or None - share of all airborne time that was light.
    minutes_upper : float [min] - all minutes in the upper band, any stage.
    """

    hour_1: StageCredit
    hour_2: StageCredit
    later: StageCredit
    first_two: Verdict
    final: bool
    undecided: bool
    reasons: tuple[str, ...]
    flights: tuple[str, ...]
    light_first_two_min: float
    ground_session_first_two_min: float
    ground_session_flight: str | None
    later_share: float | None
    later_changes_per_h: float | None
    light_share: float | None
    minutes_upper: float

    @property
    def word(self) -> str:
        """The verdict in a word: "undecided" where a setting within its doubt of an edge would turn it over."""
        return "undecided" if self.undecided and self.final else self.first_two


@dataclass
class Tally:
    """A stage while it is being filled."""

    m75: list[float] = field(default_factory=lambda: [0.0] * 5)
    m65: list[float] = field(default_factory=lambda: [0.0] * 5)
    changes: int = 0
    airborne: float = 0.0
    unknown: float = 0.0
    light: float = 0.0
    between: float = 0.0
    unachievable: float = 0.0
    too_high: float = 0.0
    ended: Literal["credit", "cap"] | None = None
    flights: list[str] = field(default_factory=list)

    def freeze(self, name: StageName) -> StageCredit:
        """The finished stage."""
        return StageCredit(
            Minutes(*self.m75),
            Minutes(*self.m65),
            self.changes,
            self.airborne,
            self.unknown,
            self.light,
            self.between,
            self.unachievable,
            self.too_high,
            self.met(name),
            self.ended,
            tuple(self.flights),
        )

    def met(self, name: StageName) -> bool:
        """Whether the stage's own criterion is met by central minutes; the later stage has none."""
        if name == "hour_1":
            allowed = max(self.m75[0], HOUR_1_NEEDED_MIN) / HOUR_1_MIN_PER_CHANGE
            return self.m75[0] >= HOUR_1_NEEDED_MIN and self.changes <= allowed
        if name == "hour_2":
            both = min(self.m75[0], self.m65[0]) >= HOUR_2_NEEDED_MIN
            return both and self.changes >= HOUR_2_CHANGES
        return False


def check_flights(flights: Sequence[FlightPower]) -> list[FlightPower]:
    """The flights in order, or a refusal that names the flight and block.

    Raises
    ------
    OutOfRange : negative minutes, a block that is not above 0 minutes, or blocks longer than the flight by > 5 min.
    BadQuantity : a stated band other than 75 or 65.
    """
    for flight in flights:
        where = f"flight {flight.flight_root}"
        if flight.airborne_min < 0 or flight.ground_min < 0 or (flight.run_h or 0) < 0:
            raise OutOfRange("minutes below 0.", where=where, mend="Correct the flight's times.")
        for index, block in enumerate(flight.blocks):
            if not block.duration_min > 0:
                raise OutOfRange(f"block {index + 1} has no minutes.", where=where, mend="Give its duration.")
            if block.stated_band not in (None, 75, 65):
                mend = "Use 75 or 65."
                raise BadQuantity(f"block {index + 1}: band {block.stated_band!r}.", where=where, mend=mend)
        total = sum(block.duration_min for block in flight.blocks)
        if total > flight.airborne_min + 5.0:
            mend = "Shorten the blocks or correct the airborne time."
            raise OutOfRange(
                f"blocks of {total:.0f} min in {flight.airborne_min:.0f} airborne minutes.", where=where, mend=mend
            )
    return sorted(flights, key=lambda flight: flight.order)

"""The settings of each flight with their percent of rated power: typed, stated as on the card, or recorded."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from breakin.calc.bands import CREDITED_75, Bands, Label, classify
from breakin.calc.credit import Source
from breakin.calc.doubt import Held, spread
from breakin.calc.errors import CalcError
from breakin.calc.plan import BlockPower
from breakin.calc.power import Chart, percent_power
from breakin.calc.recording.result import EngineFlight, Piece
from breakin.picture.clock import PlacedRun
from breakin.picture.recorded import engine_of, measures_power
from breakin.record import BlockFacts, BuildRecord, InstallationFacts

# A power held in cruise for less than this is on its way to another one, not a setting [min]: own choice.
SETTING_MIN = 3.0
_SOURCES: dict[str, Source] = {"stated": "stated", "typed": "typed", "recording": "recording"}
_SHORT_MIN = 0.5  # what a recording leaves open at its ends is told from here on


@dataclass(frozen=True)
class BlockPicture:
    """Some minutes of a flight with their power: pct and sigma [% of rated], or why it is not known.

    source : "recording", "typed" or "stated". steady, setting, too_high, shares : as in BlockPower.
    chart_pct, fuel_pct : the two powers of a recording by themselves. phase : of a recording, else "".
    """

    placed: PlacedRun
    order: int
    duration_min: float
    from_h: float
    pct: float | None
    sigma: float | None
    label: Label | None
    source: str
    method: str
    why_unknown: str
    achievable: bool | None = None
    stated_band: str = ""
    steady: bool = True
    setting: bool = True
    too_high: bool = False
    shares: Mapping[str, tuple[float, float]] | None = None
    chart_pct: float | None = None
    fuel_pct: float | None = None
    phase: str = ""

    @property
    def power(self) -> BlockPower:
        """The same for the credit of the plan."""
        return BlockPower(
            self.duration_min,
            self.pct,
            self.sigma,
            _SOURCES[self.source],
            int(self.stated_band) if self.stated_band in ("75", "65") else None,
            self.achievable,
            self.steady,
            self.setting,
            self.too_high,
            self.shares,
        )

    @property
    def band(self) -> str:
        return "75" if self.label in CREDITED_75 else "65" if self.label == "target-65" else ""


def bands_of(record: BuildRecord) -> Bands:
    """The plan's bands, or the usual ones where there is no plan or it can't be read."""
    if record.plan is None:
        return Bands()
    try:
        return Bands.from_plan({"credit": record.plan.credit, "low": record.plan.low})
    except CalcError:
        return Bands()


def cooling_cap_ft(record: BuildRecord) -> float | None:
    """Above this altitude 75 % is not credited, because cooling does not follow [ft]; None for an engine without
    boost, which can't make it there.
    """
    if record.type.induction == "natural":
        return None
    caps = [stage.altitude_max_ft for stage in (record.plan.stages if record.plan else ()) if stage.altitude_max_ft]
    return min(caps, default=record.type.altitude_cap_ft)


def counted_blocks(record: BuildRecord, placed: PlacedRun, best: float | None) -> list[BlockPicture]:
    """The settings that count: those of the recording where it can tell power, else what was typed or stated.

    best : the most power to be had on this flight [% of rated], or None.
    """
    engine = engine_of(placed.run)
    if engine is not None and measures_power(placed.run):
        return _recorded_blocks(record, placed, engine, best)
    return typed_blocks(record, placed, best)


def airborne_min(placed: PlacedRun, blocks: Sequence[BlockPicture]) -> float:
    """Airborne minutes of a flight for its credit: recorded where it was, and never less than its settings."""
    if any(block.source == "recording" for block in blocks):
        return sum(block.duration_min for block in blocks)
    return placed.run.airborne_min


def typed_blocks(record: BuildRecord, placed: PlacedRun, best: float | None) -> list[BlockPicture]:
    """The settings as the pilot gave them."""
    run, cap = placed.run, cooling_cap_ft(record)
    seat, bands = record.installation_at(run.at), bands_of(record)
    minutes = [block.duration_min for block in run.blocks]
    starts = _starts(placed, minutes, max(run.airborne_min, sum(minutes)))
    pictures = []
    for facts, from_h in zip(run.blocks, starts, strict=True):
        pct, sigma, method, why = percent(record.type.chart, record.type.chart_fault, facts, seat)
        stated = pct is None and facts.stated_band in ("75", "65")
        label: Label | None = classify(pct, bands) if pct is not None else None
        if stated:
            label = "target-75" if facts.stated_band == "75" else "target-65"
        pictures.append(
            BlockPicture(
                placed,
                facts.order,
                facts.duration_min,
                from_h,
                pct,
                sigma,
                label,
                "stated" if stated else "typed",
                "as on the card" if stated else method,
                "" if stated else why,
                _achievable(best, bands),
                facts.stated_band,
                too_high=cap is not None and (facts.pressure_altitude_ft or 0.0) > cap,
            )
        )
    return pictures


def _achievable(best: float | None, bands: Bands) -> bool | None:
    return None if best is None else best >= bands.upper[0]


def _starts(placed: PlacedRun, minutes: Sequence[float], flown: float) -> list[float]:
    """The hour at which each setting starts; minutes that no setting covers come first: the climb."""
    per_min = (placed.end_h - placed.start_h) / max(flown, 1e-9)
    elapsed, starts = flown - sum(minutes), []
    for one in minutes:
        starts.append(placed.start_h + elapsed * per_min)
        elapsed += one
    return starts


def percent(
    chart: Chart | None, fault: str, facts: BlockFacts, seat: InstallationFacts | None
) -> tuple[float | None, float | None, str, str]:
    """Percent, sigma, method, and why not: instrument errors taken off, then the type's chart."""
    if chart is None:
        return None, None, "", fault
    rpm, manifold = facts.rpm, facts.map_inhg
    if seat is not None:
        rpm = None if rpm is None else rpm - seat.rpm_error
        manifold = None if manifold is None else manifold - seat.map_error_inhg
    try:
        found = percent_power(
            chart,
            rpm=rpm,
            map_inhg=manifold,
            pressure_altitude_ft=facts.pressure_altitude_ft,
            oat_degf=facts.oat_degf,
        )
    except CalcError as error:
        return None, None, "", str(error)
    return found.pct, found.sigma_pct, "; ".join((found.method, *found.assumed)), ""


def _recorded_blocks(
    record: BuildRecord, placed: PlacedRun, engine: EngineFlight, best: float | None
) -> list[BlockPicture]:
    """The pieces of a recording, and what was flown before it began or after it ended as minutes of unknown power."""
    bands = bands_of(record)
    blocks = [
        _recorded_block(placed, number, piece, engine, bands, _achievable(best, bands))
        for number, piece in enumerate(engine.pieces, start=1)
        if piece.minutes > 0
    ]
    blocks = _too_high(_with_shares(blocks, bands, engine), engine, cooling_cap_ft(record))
    blocks = _whole_flight(placed, blocks, engine)
    minutes = [block.duration_min for block in blocks]
    starts = _starts(placed, minutes, sum(minutes))
    numbered = enumerate(zip(blocks, starts, strict=True), start=1)
    return [replace(block, order=order, from_h=from_h) for order, (block, from_h) in numbered]


def _recorded_block(
    placed: PlacedRun, order: int, piece: Piece, engine: EngineFlight, bands: Bands, achievable: bool | None
) -> BlockPicture:
    held = piece.steady or (piece.phase == "cruise" and piece.minutes >= SETTING_MIN)
    why = "" if piece.pct is not None else "the recording does not tell power here"
    return BlockPicture(
        placed,
        order,
        piece.minutes,
        placed.start_h,
        piece.pct,
        piece.sigma,
        classify(piece.pct, bands) if piece.pct is not None else None,
        "recording",
        piece.method or engine.method,
        why,
        achievable,
        steady=piece.steady,
        setting=held and piece.phase == "cruise",
        chart_pct=piece.chart_pct,
        fuel_pct=piece.fuel_pct,
        phase=piece.phase,
    )


def _with_shares(blocks: Sequence[BlockPicture], bands: Bands, engine: EngineFlight) -> list[BlockPicture]:
    """The doubt of the whole recording, given to the settings nearest to an edge."""
    places = [place for place, block in enumerate(blocks) if block.steady and block.pct is not None]
    held = [Held(blocks[place].duration_min, blocks[place].pct or 0.0, blocks[place].sigma or 0.0) for place in places]
    shares: list[dict[str, tuple[float, float]]] = [{} for _ in blocks]
    for name, band in (("75", bands.upper), ("65", bands.lower)):
        span = engine.minutes.get(name)
        if span is None:
            continue
        told = {"central_min": span.central, "least_min": span.least, "most_min": span.most}
        for place, share in zip(places, spread(held, band, **told), strict=True):
            shares[place][name] = share
    return [
        replace(block, shares=found) if len(found) == 2 else block for block, found in zip(blocks, shares, strict=True)
    ]


def _too_high(blocks: Sequence[BlockPicture], engine: EngineFlight, cap_ft: float | None) -> list[BlockPicture]:
    """Take the minutes above the plan's altitude for cooling out of the upper band, the highest setting first."""
    if cap_ft is None:
        return list(blocks)
    altitudes = [piece.pressure_altitude_ft for piece in engine.pieces if piece.minutes > 0]
    upper = [place for place, block in enumerate(blocks) if block.band == "75" and altitudes[place] is not None]
    left = engine.above_cap_min
    if left is None:
        left = sum(blocks[place].duration_min for place in upper if (altitudes[place] or 0.0) > cap_ft)
    above: dict[int, float] = {}
    for place in sorted(upper, key=lambda place: -(altitudes[place] or 0.0)):
        above[place] = min(left, blocks[place].duration_min)
        left -= above[place]
    parts = []
    for place, block in enumerate(blocks):
        high = above.get(place, 0.0)
        if block.duration_min - high > 1e-6:
            parts.append(replace(block, duration_min=block.duration_min - high))
        if high > 1e-6:
            parts.append(replace(block, duration_min=high, too_high=True))
    return parts


def _whole_flight(placed: PlacedRun, blocks: list[BlockPicture], engine: EngineFlight) -> list[BlockPicture]:
    """A recorder that was switched on in the air, or off before the landing, leaves minutes of unknown power."""
    cut_before, cut_after = engine.ground_before_min is None, engine.ground_after_min is None
    missing = placed.run.airborne_min - sum(block.duration_min for block in blocks)
    if missing <= _SHORT_MIN or not (cut_before or cut_after):
        return blocks
    unknown = BlockPicture(
        placed, 0, missing, placed.start_h, None, None, None, "recording", "", "the recording does not cover it",
        steady=False, setting=False,
    )  # fmt: skip
    return [unknown, *blocks] if cut_before else [*blocks, unknown]

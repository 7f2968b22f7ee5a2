"""The settings of all flights in the order flown, each with its label and its place on the clock."""

from collections.abc import Sequence
from dataclasses import dataclass

from breakin.calc.bands import CREDITED_75, Bands, Label, classify
from breakin.calc.credit import LANDING_MIN, STEADY_MIN, BlockPower, FlightPower


@dataclass
class Piece:
    """A block as it is walked: with its label, its light minutes, and the run hour at which it starts."""

    flight_root: str
    block: BlockPower
    label: Label | None
    start_h: float
    h_per_min: float
    landing_min: float = 0.0
    first_of_flight: bool = False
    steady: bool = True


def label_of(block: BlockPower, bands: Bands) -> Label | None:
    """The label of a block: by percent power where it is known, else by the band that was stated, else None."""
    if block.pct is not None:
        return classify(block.pct, bands)
    if block.stated_band is not None:
        return "target-75" if block.stated_band == 75 else "target-65"
    return None


def pieces_of(flights: Sequence[FlightPower], bands: Bands) -> list[Piece]:
    """All blocks in order, unknown minutes included (they count as flown before the first block: the climb)."""
    pieces: list[Piece] = []
    start_h = 0.0
    for flight in flights:
        run_h = flight.run_h if flight.run_h is not None else flight.airborne_min / 60
        known = sum(block.duration_min for block in flight.blocks)
        blocks = list(flight.blocks)
        unknown = flight.airborne_min - known
        if unknown > 0.5:
            blocks.insert(0, BlockPower(unknown))
        per_min = run_h / max(flight.airborne_min, known, 1e-9) if blocks else 0.0
        elapsed, left = 0.0, sum(block.duration_min for block in blocks)
        for index, block in enumerate(blocks):
            left -= block.duration_min
            piece = Piece(flight.flight_root, block, label_of(block, bands), start_h + elapsed * per_min, per_min)
            piece.landing_min = min(block.duration_min, max(0.0, LANDING_MIN - left))
            piece.first_of_flight = index == 0
            pieces.append(piece)
            elapsed += block.duration_min
        start_h += run_h
    mark_short_runs(pieces)
    return pieces


def group(label: Label | None) -> str | None:
    """ "75" for both labels that are credited as 75, else the label itself."""
    return "75" if label in CREDITED_75 else label


def mark_short_runs(pieces: Sequence[Piece]) -> None:
    """A setting earns credit only when held, steady, for 10 minutes; steady neighbours in one band count together."""
    run: list[Piece] = []
    for piece in [*pieces, None]:
        if piece is not None and run and _together(run[-1], piece):
            run.append(piece)
            continue
        long_enough = sum(part.block.duration_min for part in run) >= STEADY_MIN
        for part in run:
            part.steady = part.block.steady and long_enough
        run = [piece] if piece is not None else []


def _together(before: Piece, piece: Piece) -> bool:
    """Do two neighbours hold one band, both of them steady, in one flight?"""
    held = before.block.steady and piece.block.steady and not piece.first_of_flight
    return held and group(before.label) == group(piece.label)

"""Walking the power log of one build through its stages, and the first-two-hours verdict (rules P3 to P5)."""

from collections.abc import Sequence
from dataclasses import replace

from breakin.calc.bands import Bands
from breakin.calc.credit import (
    CAP_HOUR_1_H,
    CAP_HOUR_2_H,
    FIRST_TWO_H,
    FULL_HOUR_MIN,
    SETTING_CHANGE_PCT,
    VERDICT_WORDS,
    Credit,
    FlightPower,
    StageName,
    Tally,
    Verdict,
    check_flights,
)
from breakin.calc.errors import OutOfRange
from breakin.calc.flown import Piece, group, mark_short_runs, pieces_of
from breakin.calc.said import said
from breakin.calc.verdict import alternatives, verdict_of

Tallies = dict[StageName, Tally]
_TINY = 1e-9


def accumulate(
    flights: Sequence[FlightPower],
    bands: Bands,
    *,
    cap_hour_1_h: float = CAP_HOUR_1_H,
    cap_hour_2_h: float = CAP_HOUR_2_H,
) -> Credit:
    """Credit of all flights of one engine since its build.

    Parameters
    ----------
    flights : FlightPower, any order; ground runs are flights without airborne minutes.
    bands : Bands of the plan.
    cap_hour_1_h, cap_hour_2_h : float [h] - run hours at which a stage ends whether met or not; second above first.

    Returns
    -------
    Credit

    Raises
    ------
    OutOfRange : impossible minutes or caps out of order.
    BadQuantity : a stated band other than 75 or 65.

    Source: the rules are the plan's; no published definition of power credit exists.

    >>> from breakin.calc.credit import BlockPower
    >>> block = BlockPower(60, pct=75, sigma=1)
    >>> accumulate([FlightPower("a", 1, 60, 5, (block,))], Bands()).hour_1.met
    True
    """
    if not 0 < cap_hour_1_h < cap_hour_2_h:
        mend = "The cap of hour 2 lies above that of hour 1."
        raise OutOfRange(f"{cap_hour_1_h:g} h and {cap_hour_2_h:g} h.", where="stage caps", mend=mend)
    ordered = check_flights(flights)
    pieces = pieces_of(ordered, bands)
    caps = (cap_hour_1_h, cap_hour_2_h)
    tallies = _walk(pieces, bands, caps, _flown_h(ordered))
    hour_1, hour_2, later = (tallies[name].freeze(name) for name in ("hour_1", "hour_2", "later"))
    verdict, reasons = verdict_of(hour_1, hour_2)
    flip = _what_decides(pieces, bands, caps, _flown_h(ordered), verdict)
    if flip:
        reasons.append(flip)
    light = sum(_light(piece, 0.0, piece.block.duration_min) for piece in pieces)
    airborne = sum(stage.airborne_min for stage in (hour_1, hour_2, later))
    in_band = later.target_75.central + later.target_65.central
    ground, ground_flight = _longest_ground(ordered)
    return Credit(
        hour_1,
        hour_2,
        later,
        verdict,
        hour_1.ended is not None and hour_2.ended is not None,
        bool(flip),
        tuple(reasons),
        tuple(dict.fromkeys((*hour_1.flights, *hour_2.flights))),
        sum(_light(piece, 0.0, _minutes_before(piece, FIRST_TWO_H)) for piece in pieces),
        ground,
        ground_flight,
        in_band / later.airborne_min if later.airborne_min else None,
        later.changes / (later.airborne_min / 60) if later.airborne_min else None,
        light / airborne if airborne else None,
        sum(stage.target_75.central for stage in (hour_1, hour_2, later)),
    )


def _flown_h(flights: Sequence[FlightPower]) -> float:
    return sum(flight.run_h if flight.run_h is not None else flight.airborne_min / 60 for flight in flights)


def _minutes_before(piece: Piece, hour: float) -> float:
    if piece.h_per_min <= 0:
        return piece.block.duration_min if piece.start_h < hour else 0.0
    return min(piece.block.duration_min, max(0.0, (hour - piece.start_h) / piece.h_per_min))


def _light(piece: Piece, start: float, end: float) -> float:
    """Light minutes of a part of a piece, the last ten minutes before landing left out [min]."""
    if piece.label != "light":
        return 0.0
    return max(0.0, min(end, piece.block.duration_min - piece.landing_min) - start)


def _longest_ground(flights: Sequence[FlightPower]) -> tuple[float, str | None]:
    longest, root, start_h = 0.0, None, 0.0
    for flight in flights:
        if start_h < FIRST_TWO_H and flight.ground_min > longest:
            longest, root = flight.ground_min, flight.flight_root
        start_h += flight.run_h if flight.run_h is not None else flight.airborne_min / 60
    return longest, root


def _walk(pieces: Sequence[Piece], bands: Bands, caps: tuple[float, float], flown_h: float) -> Tallies:
    """Give every minute to a stage."""
    tallies: Tallies = {"hour_1": Tally(), "hour_2": Tally(), "later": Tally()}
    stage: StageName = "hour_1"
    setting: tuple[Piece, StageName] | None = None  # the last one that was set and held
    for piece in pieces:
        done = 0.0
        while piece.block.duration_min - done > _TINY:
            now_h = piece.start_h + done * piece.h_per_min
            stage = _stage_at(stage, tallies, piece, done, now_h, caps)
            portion = _portion(stage, tallies[stage], piece, done, now_h, caps)
            if done == 0 and setting and setting[1] == stage and _changed(setting[0], piece):
                tallies[stage].changes += 1
            _book(tallies[stage], piece, done, done + portion, bands)
            done += portion
        if piece.block.setting or piece.first_of_flight:
            setting = (piece, stage)
    _stage_at(stage, tallies, None, 0.0, flown_h, caps)
    return tallies


def _stage_at(
    stage: StageName, tallies: Tallies, piece: Piece | None, done: float, now_h: float, caps: tuple[float, float]
) -> StageName:
    """The stage that the next minute belongs to; closes those that have ended. ``piece`` None: after all flights."""
    if stage == "hour_1":
        tally = tallies["hour_1"]
        on_it = piece is not None and _earns_75(piece) and not (piece.first_of_flight and done == 0)
        full = tally.m75[0] >= FULL_HOUR_MIN - _TINY
        if tally.met("hour_1") and (full or not on_it):
            tally.ended = "credit"
        elif now_h >= caps[0] - _TINY:
            tally.ended = "cap"
        if tally.ended:
            stage = "hour_2"
    if stage == "hour_2":
        tally = tallies["hour_2"]
        if tally.met("hour_2"):
            tally.ended = "credit"
        elif now_h >= caps[1] - _TINY:
            tally.ended = "cap"
        if tally.ended:
            stage = "later"
    return stage


def _earns_75(piece: Piece) -> bool:
    return group(piece.label) == "75" and not piece.block.too_high


def _portion(
    stage: StageName, tally: Tally, piece: Piece, done: float, now_h: float, caps: tuple[float, float]
) -> float:
    """Minutes of this piece until the stage may change."""
    left = piece.block.duration_min - done
    if stage == "later":
        return left
    if piece.h_per_min > 0:
        left = min(left, max(_TINY * 10, (caps[0 if stage == "hour_1" else 1] - now_h) / piece.h_per_min))
    if stage == "hour_1" and _earns_75(piece) and piece.steady and tally.m75[0] < FULL_HOUR_MIN - _TINY:
        left = min(left, FULL_HOUR_MIN - tally.m75[0])
    return left


def _changed(before: Piece, after: Piece) -> bool:
    """A change of power setting in flight; climb, unknown power, and the approach do not count as settings."""
    if after.first_of_flight:
        return False
    for piece in (before, after):
        approach = piece.label == "light" and piece.landing_min >= piece.block.duration_min
        if piece.label in (None, "climb") or approach or not piece.block.setting:
            return False
    if group(before.label) != group(after.label):
        return True
    pair = (before.block.pct, after.block.pct)
    return pair[0] is not None and pair[1] is not None and abs(pair[0] - pair[1]) > SETTING_CHANGE_PCT


def _book(tally: Tally, piece: Piece, start: float, end: float, bands: Bands) -> None:
    minutes = end - start
    if not tally.flights or tally.flights[-1] != piece.flight_root:
        tally.flights.append(piece.flight_root)
    tally.airborne += minutes
    label = piece.label
    if label is None:
        tally.unknown += minutes
    tally.light += _light(piece, start, end)
    tally.between += minutes if label == "between" else 0.0
    if piece.block.band_achievable is False and group(label) != "75":
        tally.unachievable += minutes
    if not piece.steady:
        return
    if piece.block.too_high and group(label) == "75":
        tally.too_high += minutes
        return
    for row, name, band, mine in (
        (tally.m75, "75", bands.upper, group(label) == "75"),
        (tally.m65, "65", bands.lower, label == "target-65"),
    ):
        least, most = _shares(piece, name, band, mine)
        # Numbers that a pilot wrote down are still his statement; only an instrument's file measures.
        measured = piece.block.pct is not None and piece.block.source == "recording"
        for index, share in enumerate((float(mine), least, most, mine and not measured, mine and measured)):
            row[index] += minutes * share


def _shares(piece: Piece, name: str, band: tuple[float, float], mine: bool) -> tuple[float, float]:
    """Share of a piece that lies in a band at least and at most."""
    if piece.block.shares is not None:
        least, most = piece.block.shares.get(name, (0.0, 0.0))
        # A label that is tried on another side of its edge takes its minutes along.
        return min(least, float(mine)), max(most, float(mine))
    pct, sigma = piece.block.pct, piece.block.sigma or 0.0
    if pct is None:
        return float(mine), float(mine)
    surely = band[0] <= pct - sigma and pct + sigma <= band[1]
    maybe = pct + sigma >= band[0] and pct - sigma <= band[1]
    return float(surely), float(maybe)


def _what_decides(
    pieces: list[Piece], bands: Bands, caps: tuple[float, float], flown_h: float, verdict: Verdict
) -> str | None:
    """A sentence when settings within their doubt of a band edge would change the verdict, else None."""
    for labels, words in alternatives(pieces, bands, caps[1]):
        tried = [
            replace(piece, label=labels[place]) if place in labels else replace(piece)
            for place, piece in enumerate(pieces)
        ]
        mark_short_runs(tried)
        tallies = _walk(tried, bands, caps, flown_h)
        flipped, _ = verdict_of(tallies["hour_1"].freeze("hour_1"), tallies["hour_2"].freeze("hour_2"))
        if flipped != verdict:
            return said(
                "Undecided: {words}; on the other side of it the verdict would read {verdict}.",
                words=words,
                verdict=VERDICT_WORDS[flipped],
            )
    return None

"""Walking the power log of one build through its stages, and the first-two-hours verdict (rules P3 to P5)."""

from collections.abc import Sequence

from breakin.calc.bands import Bands, Label, classify
from breakin.calc.credit import (
    CAP_HOUR_1_H,
    CAP_HOUR_2_H,
    FIRST_TWO_H,
    FULL_HOUR_MIN,
    HOUR_1_NEEDED_MIN,
    HOUR_2_CHANGES,
    HOUR_2_NEEDED_MIN,
    SETTING_CHANGE_PCT,
    Credit,
    FlightPower,
    Piece,
    StageCredit,
    StageName,
    Tally,
    Verdict,
    check_flights,
    group,
    mark_short_runs,
    pieces_of,
)
from breakin.calc.errors import OutOfRange

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
    verdict, reasons = _verdict(hour_1, hour_2)
    flip = _block_that_decides(pieces, bands, caps, _flown_h(ordered), verdict)
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
    previous: tuple[Piece, StageName] | None = None
    for piece in pieces:
        done = 0.0
        while piece.block.duration_min - done > _TINY:
            now_h = piece.start_h + done * piece.h_per_min
            stage = _stage_at(stage, tallies, piece, done, now_h, caps)
            portion = _portion(stage, tallies[stage], piece, done, now_h, caps)
            if done == 0 and previous and previous[1] == stage and _changed(previous[0], piece):
                tallies[stage].changes += 1
            _book(tallies[stage], piece, done, done + portion, bands)
            done += portion
        previous = (piece, stage)
    _stage_at(stage, tallies, None, 0.0, flown_h, caps)
    return tallies


def _stage_at(
    stage: StageName, tallies: Tallies, piece: Piece | None, done: float, now_h: float, caps: tuple[float, float]
) -> StageName:
    """The stage that the next minute belongs to; closes those that have ended. ``piece`` None: after all flights."""
    if stage == "hour_1":
        tally = tallies["hour_1"]
        on_it = piece is not None and group(piece.label) == "75" and not (piece.first_of_flight and done == 0)
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


def _portion(
    stage: StageName, tally: Tally, piece: Piece, done: float, now_h: float, caps: tuple[float, float]
) -> float:
    """Minutes of this piece until the stage may change."""
    left = piece.block.duration_min - done
    if stage == "later":
        return left
    if piece.h_per_min > 0:
        left = min(left, max(_TINY * 10, (caps[0 if stage == "hour_1" else 1] - now_h) / piece.h_per_min))
    if stage == "hour_1" and group(piece.label) == "75" and piece.steady and tally.m75[0] < FULL_HOUR_MIN - _TINY:
        left = min(left, FULL_HOUR_MIN - tally.m75[0])
    return left


def _changed(before: Piece, after: Piece) -> bool:
    """A change of power setting in flight; climb, unknown power, and the approach do not count as settings."""
    if after.first_of_flight:
        return False
    for piece in (before, after):
        approach = piece.label == "light" and piece.landing_min >= piece.block.duration_min
        if piece.label in (None, "climb") or approach:
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
    for row, band, mine in (
        (tally.m75, bands.upper, group(label) == "75"),
        (tally.m65, bands.lower, label == "target-65"),
    ):
        surely, maybe = mine, mine
        pct, sigma = piece.block.pct, piece.block.sigma or 0.0
        if pct is not None:
            surely = band[0] <= pct - sigma and pct + sigma <= band[1]
            maybe = pct + sigma >= band[0] and pct - sigma <= band[1]
        # Numbers that a pilot wrote down are still his statement; only an instrument's file measures.
        measured = pct is not None and piece.block.source == "recording"
        for index, counts in enumerate((mine, surely, maybe, mine and not measured, mine and measured)):
            row[index] += minutes if counts else 0.0


def _verdict(hour_1: StageCredit, hour_2: StageCredit) -> tuple[Verdict, list[str]]:
    reasons = [
        f"Hour 1: {hour_1.target_75.central:.0f} min at 75 % of {HOUR_1_NEEDED_MIN:.0f} asked for "
        f"({hour_1.target_75.least:.0f} to {hour_1.target_75.most:.0f}), {hour_1.changes} changes of setting.",
        f"Hour 2: {hour_2.target_75.central:.0f} min at 75 % and {hour_2.target_65.central:.0f} min at 65 % of "
        f"{HOUR_2_NEEDED_MIN:.0f} asked for at each, {hour_2.changes} changes of {HOUR_2_CHANGES} asked for.",
    ]
    if hour_1.met and hour_2.met:
        measured = (
            hour_1.target_75.measured >= HOUR_1_NEEDED_MIN
            and min(hour_2.target_75.measured, hour_2.target_65.measured) >= HOUR_2_NEEDED_MIN
        )
        return ("met (measured)" if measured else "met (stated)"), reasons
    if hour_1.ended is None or hour_2.ended is None:
        return "not known", [*reasons, "The first two hours are not over yet."]
    airborne = hour_1.airborne_min + hour_2.airborne_min
    unknown = hour_1.unknown_min + hour_2.unknown_min
    if unknown >= airborne / 2:
        return "not known", [*reasons, f"Power is not known for {unknown:.0f} of {airborne:.0f} min."]
    short_1 = 0.0 if hour_1.met else max(0.0, HOUR_1_NEEDED_MIN - hour_1.target_75.central)
    short_2 = 0.0 if hour_2.met else max(0.0, HOUR_2_NEEDED_MIN - hour_2.target_75.central)
    out_of_reach = hour_1.unachievable_min + hour_2.unachievable_min
    if out_of_reach > 0 and out_of_reach >= short_1 + short_2:
        return "not achievable", [*reasons, f"75 % could not be had in {out_of_reach:.0f} min flown."]
    earned = min(hour_1.target_75.central, HOUR_1_NEEDED_MIN)
    earned += min(hour_2.target_75.central, HOUR_2_NEEDED_MIN) + min(hour_2.target_65.central, HOUR_2_NEEDED_MIN)
    half = earned >= (HOUR_1_NEEDED_MIN + 2 * HOUR_2_NEEDED_MIN) / 2
    return ("partly" if hour_1.met or hour_2.met or half else "missed"), reasons


def _block_that_decides(
    pieces: list[Piece], bands: Bands, caps: tuple[float, float], flown_h: float, verdict: Verdict
) -> str | None:
    """A sentence when one block within its doubt of a band edge would change the verdict, else None."""
    for piece in pieces:
        pct, sigma = piece.block.pct, piece.block.sigma
        if pct is None or not sigma or piece.start_h >= caps[1]:
            continue
        for edge in (*bands.lower, *bands.upper):
            if abs(pct - edge) > sigma:
                continue
            kept: Label | None = piece.label
            other_side = edge - 0.01 if pct >= edge else edge + 0.01
            piece.label = classify(other_side, bands)
            if group(piece.label) == group(kept):
                # Exactly on an edge that belongs to the band: the other side lies the other way.
                piece.label = classify(edge + 0.01 if other_side < edge else edge - 0.01, bands)
            mark_short_runs(pieces)
            tallies = _walk(pieces, bands, caps, flown_h)
            flipped, _ = _verdict(tallies["hour_1"].freeze("hour_1"), tallies["hour_2"].freeze("hour_2"))
            piece.label = kept
            mark_short_runs(pieces)
            if flipped != verdict:
                return (
                    f"Undecided: one setting of {pct:.0f} ± {sigma:.1f} % lies within its doubt of the band edge "
                    f"{edge:g} %; on the other side of it the verdict would read {flipped}."
                )
    return None

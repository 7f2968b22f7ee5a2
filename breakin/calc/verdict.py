"""The first-two-hours verdict, and the settings whose doubt would turn it over (rules P2 to P4)."""

from collections.abc import Iterator, Sequence

from breakin.calc.bands import Bands, Label, classify
from breakin.calc.credit import (
    HOUR_1_NEEDED_MIN,
    HOUR_2_CHANGES,
    HOUR_2_NEEDED_MIN,
    Minutes,
    StageCredit,
    Verdict,
)
from breakin.calc.flown import Piece, group
from breakin.calc.said import fixed, number, said

_JUST = 0.01  # how far beyond an edge the other side of it begins [%]


def verdict_of(hour_1: StageCredit, hour_2: StageCredit) -> tuple[Verdict, list[str]]:
    """The verdict by central values, with its numbers in sentences.

    Parameters
    ----------
    hour_1, hour_2 : StageCredit

    Returns
    -------
    the verdict, and the sentences behind it.
    """
    reasons: list[str] = [_first_hour(hour_1.target_75, hour_1.changes), _second_hour(hour_2)]
    too_high = hour_1.too_high_min + hour_2.too_high_min
    if too_high >= 0.5:
        reasons.append(
            said(
                "{minutes} min at 75 % above the plan's altitude for cooling are not credited.",
                minutes=fixed(too_high, 0),
            )
        )
    if hour_1.met and hour_2.met:
        return ("met (measured)" if _measured(hour_1, hour_2) else "met (stated)"), reasons
    if hour_1.ended is None or hour_2.ended is None:
        return "not known", [*reasons, said("The first two hours are not over yet.")]
    airborne = hour_1.airborne_min + hour_2.airborne_min
    unknown = hour_1.unknown_min + hour_2.unknown_min
    if unknown >= airborne / 2:
        why = said(
            "Power is not known for {unknown} of {minutes} min.", unknown=fixed(unknown, 0), minutes=fixed(airborne, 0)
        )
        return "not known", [*reasons, why]
    short_1 = 0.0 if hour_1.met else max(0.0, HOUR_1_NEEDED_MIN - hour_1.target_75.central)
    short_2 = 0.0 if hour_2.met else max(0.0, HOUR_2_NEEDED_MIN - hour_2.target_75.central)
    out_of_reach = hour_1.unachievable_min + hour_2.unachievable_min
    if out_of_reach > 0 and out_of_reach >= short_1 + short_2:
        why = said("75 % could not be had in {minutes} min flown.", minutes=fixed(out_of_reach, 0))
        return "not achievable", [*reasons, why]
    earned = min(hour_1.target_75.central, HOUR_1_NEEDED_MIN)
    earned += min(hour_2.target_75.central, HOUR_2_NEEDED_MIN) + min(hour_2.target_65.central, HOUR_2_NEEDED_MIN)
    half = earned >= (HOUR_1_NEEDED_MIN + 2 * HOUR_2_NEEDED_MIN) / 2
    return ("partly" if hour_1.met or hour_2.met or half else "missed"), reasons


def _first_hour(credit: Minutes, changes: int) -> str:
    """In a sentence, with the range only where whole minutes show one."""
    minutes, least, most = (fixed(value, 0) for value in (credit.central, credit.least, credit.most))
    needed, times = fixed(HOUR_1_NEEDED_MIN, 0), fixed(changes, 0)
    if round(credit.least) == round(credit.most):
        return said(
            "Hour 1: {minutes} of {needed} min at 75 %; changes of setting: {changes}.",
            minutes=minutes,
            needed=needed,
            changes=times,
        )
    return said(
        "Hour 1: {minutes} of {needed} min at 75 % ({least} to {most} by the doubt of the power); changes of setting: "
        "{changes}.",
        minutes=minutes,
        needed=needed,
        least=least,
        most=most,
        changes=times,
    )


def _second_hour(hour: StageCredit) -> str:
    return said(
        "Hour 2: {upper} of {needed} min at 75 %, {lower} of {needed} min at 65 %; changes of setting: {changes} of "
        "{wanted}.",
        upper=fixed(hour.target_75.central, 0),
        lower=fixed(hour.target_65.central, 0),
        needed=fixed(HOUR_2_NEEDED_MIN, 0),
        changes=fixed(hour.changes, 0),
        wanted=fixed(HOUR_2_CHANGES, 0),
    )


def _measured(hour_1: StageCredit, hour_2: StageCredit) -> bool:
    """Would the recorded minutes alone have met both hours?"""
    second = min(hour_2.target_75.measured, hour_2.target_65.measured)
    return hour_1.target_75.measured >= HOUR_1_NEEDED_MIN and second >= HOUR_2_NEEDED_MIN


def alternatives(pieces: Sequence[Piece], bands: Bands, until_h: float) -> Iterator[tuple[dict[int, Label], str]]:
    """What the labels could be as well: places of pieces -> other labels, and how to say it.

    First each setting by itself; then those of recordings together, all a little less or all a little more, because
    what an instrument reads wrong it reads wrong in the same direction all along.

    Parameters
    ----------
    pieces : in order.
    bands : Bands
    until_h : float [h] - settings that start later decide nothing.
    """
    less: dict[int, Label] = {}
    more: dict[int, Label] = {}
    for place, piece in enumerate(pieces):
        pct, sigma = piece.block.pct, piece.block.sigma
        if pct is None or not sigma or piece.start_h >= until_h:
            continue
        for edge in (*bands.lower, *bands.upper):
            if abs(pct - edge) > sigma:
                continue
            other, below = _other_side(pct, edge, piece.label, bands)
            words = said(
                "one setting of {pct} ± {sigma} % lies within its doubt of the band edge {edge} %",
                pct=fixed(pct),
                sigma=fixed(sigma),
                edge=number(edge),
            )
            yield {place: other}, words
            if piece.block.source == "recording":
                (less if below else more)[place] = other
    if len(less) > 1:
        yield (
            less,
            said(
                "{settings} recorded settings lie within their doubt of a band edge, all a little less",
                settings=fixed(len(less), 0),
            ),
        )
    if len(more) > 1:
        yield (
            more,
            said(
                "{settings} recorded settings lie within their doubt of a band edge, all a little more",
                settings=fixed(len(more), 0),
            ),
        )


def _other_side(pct: float, edge: float, label: Label | None, bands: Bands) -> tuple[Label, bool]:
    """The label beyond an edge, and whether that lies below it."""
    below = pct >= edge
    other = classify(edge - _JUST if below else edge + _JUST, bands)
    if group(other) == group(label):
        # Exactly on an edge that belongs to the band: the other side lies the other way.
        below = not below
        other = classify(edge - _JUST if below else edge + _JUST, bands)
    return other, below

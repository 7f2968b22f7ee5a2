"""The three lines of the dipstick: hold, add, no-go (rules O2 and O3).

The oil level that the POH/AFM asks for, and the pilot's judgement, always win over these lines.
"""

from dataclasses import dataclass
from typing import Literal

from breakin.calc.errors import MissingData, OutOfRange

# An engine settles about two quarts under its full mark: experience of the trade, no source.
SETTLE_BELOW_FULL_QT = 2.0
ADD_BELOW_SETTLE_QT = 1.0
SMALLEST_MARGIN_QT = 1.0
MARGIN_FACTOR = 1.3
ONE_CAN_QT = 1.0

Code = Literal["below_no_go", "add_one", "leave", "above_hold"]


@dataclass(frozen=True)
class OilLines:
    """Lines of one engine for one planned flight.

    hold : float [qt] - never pour above it.
    add : float [qt] - below it add one quart; between add and hold leave it.
    no_go : float [qt] - POH/AFM minimum.
    margin : float [qt] - kept above no_go for the planned flight.
    full : float [qt] - the sump's full mark.
    settle : float [qt] - where the level is expected to settle.
    notes : sentences for the reader, each with its numbers.
    """

    hold: float
    add: float
    no_go: float
    margin: float
    full: float
    settle: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Advice:
    """What to do at this level: a code for the program, a sentence for the person."""

    code: Code
    sentence: str


def expected_settle_qt(full_qt: float) -> float:
    """Where the level is expected to settle until the engine's own steady windows teach better (rule O2).

    Parameters
    ----------
    full_qt : float [qt], 3 to 60 - the sump's full mark.

    Returns
    -------
    float [qt]

    Raises
    ------
    OutOfRange : a sump so small that two quarts below full say nothing.

    Source: experience of the trade (8 to 6, 10 to 8, 12 to 10 quarts), no published source.

    >>> expected_settle_qt(8.0)
    6.0
    """
    if not 3 <= full_qt <= 60:
        mend = "Give the settling level of this engine by hand."
        raise OutOfRange(f"{full_qt:g} qt is outside 3 to 60 qt.", where="full mark", mend=mend)
    return full_qt - SETTLE_BELOW_FULL_QT


def oil_lines(
    full_qt: float,
    settle_qt: float,
    no_go_qt: float | None,
    planned_h: float,
    rate: float | None,
    u_rate: float | None,
) -> OilLines:
    """Hold, add and no-go line for the next flight (rule O3).

    Parameters
    ----------
    full_qt : float [qt], 1 to 60.
    settle_qt : float [qt], above 0, at most full_qt.
    no_go_qt : float [qt], below full_qt - minimum for flight of the POH/AFM. None is refused.
    planned_h : float [h], 0 to 14 - length of the planned flight.
    rate : float [qt/h] or None when not known yet; a negative rate counts as 0.
    u_rate : float [qt/h], at least 0 - its one-sigma uncertainty; None with rate None.

    Returns
    -------
    OilLines

    Raises
    ------
    MissingData : no minimum for flight is on record.
    OutOfRange : the levels are not in order, or the planned time is impossible.

    >>> lines = oil_lines(8, 6, 5, 1.0, 0.1, 0.05)
    >>> lines.add, lines.hold
    (6.0, 7.0)
    """
    if no_go_qt is None:
        mend = "Enter the minimum of the POH/AFM with the installation."
        raise MissingData("the POH/AFM minimum is not on record.", where="minimum oil for flight", mend=mend)
    if not 0 < settle_qt <= full_qt <= 60:
        mend = "Check the sump's full mark and the settling level."
        raise OutOfRange(f"{settle_qt:g} qt under {full_qt:g} qt cannot be.", where="settling level", mend=mend)
    if not 0 <= no_go_qt < full_qt:
        wrong = f"{no_go_qt:g} qt is not below full, {full_qt:g} qt."
        raise OutOfRange(wrong, where="minimum oil for flight", mend="Check the POH/AFM minimum.")
    if not 0 <= planned_h <= 14:
        wrong = f"{planned_h:g} h is outside 0 to 14 h."
        raise OutOfRange(wrong, where="planned flight time", mend="Give it in hours.")
    notes: list[str] = []
    if rate is None:
        margin = SMALLEST_MARGIN_QT
        notes.append(f"Loss not known yet: the smallest margin, {margin:g} qt, is kept above the minimum.")
    else:
        # A gain on the dipstick must not make the margin smaller than no loss at all would.
        expected = MARGIN_FACTOR * planned_h * max(0.0, rate + (u_rate or 0.0))
        margin = max(SMALLEST_MARGIN_QT, expected)
    add = max(settle_qt - ADD_BELOW_SETTLE_QT, no_go_qt + margin)
    hold = min(full_qt, max(settle_qt, add + ONE_CAN_QT))
    notes += _notes(full_qt, settle_qt, no_go_qt, planned_h, margin, add, hold)
    return OilLines(float(hold), float(add), float(no_go_qt), margin, float(full_qt), float(settle_qt), tuple(notes))


def _notes(
    full: float, settle: float, no_go: float, planned_h: float, margin: float, add: float, hold: float
) -> list[str]:
    notes = []
    if hold > settle:
        notes.append(
            f"The hold line, {hold:.2f} qt, lies above the settling level, {settle:.2f} qt: what is above it is "
            "expected to go out of the breather."
        )
    if add > settle:
        notes.append(
            f"{margin:.2f} qt are kept above the minimum, {no_go:.2f} qt, for {planned_h:.1f} h: the add line lies "
            "above the settling level. Fly shorter legs."
        )
    if add >= full:
        notes.append(
            f"The sump, {full:.2f} qt, does not hold enough above the minimum for {planned_h:.1f} h at this loss. "
            "Do not plan this leg."
        )
    return notes


def advise(level_qt: float, lines: OilLines) -> Advice:
    """What to do at a level before flight.

    Parameters
    ----------
    level_qt : float [qt], at least 0.
    lines : OilLines

    Returns
    -------
    Advice - "below_no_go", "add_one", "leave" or "above_hold", with a sentence that gives the numbers.

    Raises
    ------
    OutOfRange : a level below 0 or more than 2 qt above the full mark.

    >>> advise(5.5, oil_lines(8, 6, 4, 1.0, 0.1, 0.05)).code
    'leave'
    """
    if not 0 <= level_qt <= lines.full + 2:
        mend = "Read the dipstick again and check the unit."
        raise OutOfRange(f"{level_qt:g} qt is outside 0 to {lines.full + 2:g} qt.", where="oil level", mend=mend)
    level = f"{level_qt:.2f} qt"
    if level_qt < lines.no_go:
        short = lines.add - level_qt
        return Advice(
            "below_no_go",
            f"{level} is below the POH/AFM minimum, {lines.no_go:.2f} qt. Do not fly at this level; about "
            f"{short:.1f} qt are missing to the add line. Find out where the oil went.",
        )
    if level_qt < lines.add:
        return Advice("add_one", f"{level} is below the add line, {lines.add:.2f} qt: add one quart.")
    if level_qt <= lines.hold:
        return Advice(
            "leave",
            f"{level} lies between the add line, {lines.add:.2f} qt, and the hold line, {lines.hold:.2f} qt: leave it. "
            "The POH/AFM minimum and the pilot's judgement always win.",
        )
    return Advice(
        "above_hold",
        f"{level} is above the hold line, {lines.hold:.2f} qt: add nothing. What is above about {lines.settle:.2f} qt "
        "is expected to go out of the breather and says nothing about the rings.",
    )

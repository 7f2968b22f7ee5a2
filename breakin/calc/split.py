"""Power split between the two engines of a twin (rule P6)."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from breakin.calc.errors import OutOfRange
from breakin.calc.said import fixed, inhg, said

# A hand-flown pair cannot be set closer than this. The project's own choice.
EVEN_MAP_INHG = 0.5
EVEN_RPM = 25.0
EVEN_PCT = 3.0
CALL_PCT = 6.0
CALL_AFTER_MIN = 10.0
SHORTEST_MIN = 2.0  # less of both engines at one time is a change of power, not a split


@dataclass(frozen=True)
class SplitBlock:
    """One setting of one engine: how long [min], and what was read (None = not observed)."""

    duration_min: float
    pct: float | None = None
    map_inhg: float | None = None
    rpm: float | None = None


@dataclass(frozen=True)
class SplitResult:
    """How evenly the two engines were run.

    code : "even", "note", "call", or "not observed".
    worst_pct : float [%] - largest difference, left minus right, by size, or of a recording the mean; None when power
        was never known on both.
    minutes_over_call : float [min] - with more than 6 percent between them.
    compared_min : float [min] - in which anything could be compared.
    reasons : sentences with numbers.
    """

    code: Literal["even", "note", "call", "not observed"]
    worst_pct: float | None
    minutes_over_call: float
    compared_min: float
    reasons: tuple[str, ...]


def _overlaps(left: Sequence[SplitBlock], right: Sequence[SplitBlock]) -> list[tuple[float, SplitBlock, SplitBlock]]:
    """Pairs of settings that ran at the same time, with their common minutes."""
    pairs = []
    i = j = 0
    used_left = used_right = 0.0
    while i < len(left) and j < len(right):
        common = min(left[i].duration_min - used_left, right[j].duration_min - used_right)
        pairs.append((common, left[i], right[j]))
        used_left += common
        used_right += common
        if used_left >= left[i].duration_min - 1e-9:
            i, used_left = i + 1, 0.0
        if used_right >= right[j].duration_min - 1e-9:
            j, used_right = j + 1, 0.0
    return pairs


def _difference(left: float | None, right: float | None) -> float | None:
    return None if left is None or right is None else left - right


def split(blocks_left: Sequence[SplitBlock], blocks_right: Sequence[SplitBlock]) -> SplitResult:
    """Compare the settings of both engines minute by minute.

    Parameters
    ----------
    blocks_left, blocks_right : sequences of SplitBlock in order from the same moment.

    Returns
    -------
    SplitResult

    Raises
    ------
    OutOfRange : a duration that is not above 0.

    >>> split([SplitBlock(20, pct=75)], [SplitBlock(20, pct=66)]).code
    'call'
    """
    for side, blocks in (("left", blocks_left), ("right", blocks_right)):
        for index, block in enumerate(blocks):
            if not block.duration_min > 0:
                where = f"{side} engine, block {index + 1}"
                raise OutOfRange(f"{block.duration_min:g} min is not above 0.", where=where, mend="Give its minutes.")
    return _judged(_gathered(_overlaps(blocks_left, blocks_right)))


@dataclass(frozen=True)
class TimedSetting:
    """Some minutes of one engine at one power: from and to [s] on a clock that both engines share."""

    t0: float
    t1: float
    pct: float | None = None
    map_inhg: float | None = None
    rpm: float | None = None

    def block(self, minutes: float) -> SplitBlock:
        """Some of its minutes [min]."""
        return SplitBlock(minutes, self.pct, self.map_inhg, self.rpm)


def split_timed(
    left: Sequence[TimedSetting],
    right: Sequence[TimedSetting],
    *,
    mean_pct: float | None = None,
    over_min: float | None = None,
) -> SplitResult:
    """Compare both engines of one recording, where both were in cruise at one time for at least two minutes.

    Parameters
    ----------
    left, right : TimedSetting of cruise.
    mean_pct : float [%] or None - left minus right over the whole cruise, where it was worked out row by row.
    over_min : float [min] or None - minutes with more than 6 percent between them, likewise.

    Returns
    -------
    SplitResult. Its worst_pct is the mean where that was given: a moment in which one lever has been moved and the
    other not yet is no split.

    >>> split_timed([TimedSetting(0, 1200, 75)], [TimedSetting(0, 1200, 66)], mean_pct=9.0, over_min=20.0).code
    'call'
    """
    pairs = []
    for one in left:
        for other in right:
            minutes = (min(one.t1, other.t1) - max(one.t0, other.t0)) / 60.0
            if minutes >= SHORTEST_MIN:
                pairs.append((minutes, one.block(minutes), other.block(minutes)))
    found = _gathered(pairs)
    if mean_pct is not None:
        found.worst, found.mean = mean_pct, True
        found.compared = max(found.compared, over_min or 0.0, sum(one.t1 - one.t0 for one in left) / 60.0)
    if over_min is not None:
        found.over = over_min
    return _judged(found)


@dataclass
class _Gathered:
    """What the minutes of both engines have shown; `mean` when `worst` is a mean over all of them."""

    worst: float | None = None
    over: float = 0.0
    compared: float = 0.0
    map_worst: float = 0.0
    rpm_worst: float = 0.0
    mean: bool = False


def _gathered(pairs: Sequence[tuple[float, SplitBlock, SplitBlock]]) -> _Gathered:
    found = _Gathered()
    for minutes, left, right in pairs:
        pct = _difference(left.pct, right.pct)
        manifold = _difference(left.map_inhg, right.map_inhg)
        speed = _difference(left.rpm, right.rpm)
        if pct is None and manifold is None and speed is None:
            continue
        found.compared += minutes
        found.map_worst = max(found.map_worst, abs(manifold or 0.0))
        found.rpm_worst = max(found.rpm_worst, abs(speed or 0.0))
        if pct is not None:
            found.worst = pct if found.worst is None or abs(pct) > abs(found.worst) else found.worst
            found.over += minutes if abs(pct) > CALL_PCT else 0.0
    return found


def _judged(found: _Gathered) -> SplitResult:
    if not found.compared:
        return SplitResult("not observed", None, 0.0, 0.0, (said("No minute has readings of both engines."),))
    worst, reasons = found.worst, []
    if worst is not None and abs(worst) > EVEN_PCT:
        apart = fixed(abs(worst), 0)
        if found.mean and worst > 0:
            words = said("On average in cruise {apart} % of rated power apart, left engine higher.", apart=apart)
        elif found.mean:
            words = said("On average in cruise {apart} % of rated power apart, right engine higher.", apart=apart)
        elif worst > 0:
            words = said("Up to {apart} % of rated power apart, left engine higher.", apart=apart)
        else:
            words = said("Up to {apart} % of rated power apart, right engine higher.", apart=apart)
        reasons.append(words)
    if found.map_worst > EVEN_MAP_INHG:
        reasons.append(said("Manifold pressure up to {apart} apart.", apart=inhg(found.map_worst)))
    if found.rpm_worst > EVEN_RPM:
        reasons.append(said("Engine speed up to {apart} rpm apart.", apart=fixed(found.rpm_worst, 0)))
    long = found.over > CALL_AFTER_MIN
    if long:
        reasons.append(
            said(
                "More than {line} % apart for {minutes} min. Both are to run at even power.",
                line=fixed(CALL_PCT, 0),
                minutes=fixed(found.over, 0),
            )
        )
    code: Literal["even", "note", "call"] = "call" if long else "note" if reasons else "even"
    return SplitResult(code, worst, found.over, found.compared, tuple(reasons))

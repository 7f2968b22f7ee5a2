"""Power split between the two engines of a twin (rule P6)."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from breakin.calc.errors import OutOfRange

# A hand-flown pair cannot be set closer than this. The project's own choice.
EVEN_MAP_INHG = 0.5
EVEN_RPM = 25.0
EVEN_PCT = 3.0
CALL_PCT = 6.0
CALL_AFTER_MIN = 10.0


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
    worst_pct : float [%] - largest difference, left minus right, by size; None when never known on both.
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
    worst: float | None = None
    over = compared = 0.0
    map_worst = rpm_worst = 0.0
    for minutes, left, right in _overlaps(blocks_left, blocks_right):
        pct = _difference(left.pct, right.pct)
        manifold = _difference(left.map_inhg, right.map_inhg)
        speed = _difference(left.rpm, right.rpm)
        if pct is None and manifold is None and speed is None:
            continue
        compared += minutes
        map_worst = max(map_worst, abs(manifold or 0.0))
        rpm_worst = max(rpm_worst, abs(speed or 0.0))
        if pct is not None:
            worst = pct if worst is None or abs(pct) > abs(worst) else worst
            over += minutes if abs(pct) > CALL_PCT else 0.0
    if not compared:
        return SplitResult("not observed", None, 0.0, 0.0, ("No minute has readings of both engines.",))
    reasons = []
    if worst is not None and abs(worst) > EVEN_PCT:
        higher = "left" if worst > 0 else "right"
        reasons.append(f"Up to {abs(worst):.0f} % of rated power apart, {higher} engine higher.")
    if map_worst > EVEN_MAP_INHG:
        reasons.append(f"Manifold pressure up to {map_worst:.1f} inHg apart.")
    if rpm_worst > EVEN_RPM:
        reasons.append(f"Engine speed up to {rpm_worst:.0f} rpm apart.")
    if over > CALL_AFTER_MIN:
        reasons.append(f"More than {CALL_PCT:.0f} % apart for {over:.0f} min. Both engines are to run at even power.")
        return SplitResult("call", worst, over, compared, tuple(reasons))
    return SplitResult("note" if reasons else "even", worst, over, compared, tuple(reasons))

"""Credit bands of a run-in plan, and the schedule that the reading of a recording works from (rule P2)."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from breakin.calc.errors import BadQuantity, OutOfRange

Label = Literal["target-75", "high", "target-65", "light", "between", "climb"]
Phase = Literal["hour1", "hour2", "later"]

# Above 75 + 3 percent a setting still counts for the upper band, with a note. The project's own choice.
HIGH_FROM_PCT = 78.0
CREDITED_75: tuple[Label, ...] = ("target-75", "high")


@dataclass(frozen=True)
class Bands:
    """Percent-power bands of a plan, both edges included.

    upper : (least, most) [%] credited as 75.
    lower : (least, most) [%] credited as 65.
    low : float [%] - airborne below it is light running.
    """

    upper: tuple[float, float] = (72.0, 85.0)
    lower: tuple[float, float] = (62.0, 68.0)
    low: float = 60.0

    @classmethod
    def from_plan(cls, plan: Mapping[str, Any]) -> "Bands":
        """Read ``{"credit": {"75": [72, 85], "65": [62, 68]}, "low": 60}``.

        Raises
        ------
        BadQuantity : a band is missing or not two numbers.
        OutOfRange : the bands are not in order: low <= 65 band < 75 band <= 110.

        >>> Bands.from_plan({"credit": {"75": [72, 85], "65": [62, 68]}, "low": 60}).upper
        (72.0, 85.0)
        """
        credit = plan.get("credit")
        edges: dict[str, tuple[float, float]] = {}
        for name in ("75", "65"):
            pair = credit.get(name) if isinstance(credit, Mapping) else None
            if not isinstance(pair, list | tuple) or len(pair) != 2 or not all(_finite(edge) for edge in pair):
                mend = "Write it as two percentages, for example [72, 85]."
                raise BadQuantity(f"{pair!r} is not a band.", where=f"credit band {name}", mend=mend)
            edges[name] = (float(pair[0]), float(pair[1]))
        low = plan.get("low", 60.0)
        if not _finite(low):
            raise BadQuantity(f"{low!r} is not a percentage.", where="light running below", mend="Write 60, say.")
        (least_65, most_65), (least_75, most_75) = edges["65"], edges["75"]
        if not 0 < low <= least_65 < most_65 < least_75 < most_75 <= 110:
            raise OutOfRange(
                f"low {low:g}, 65 band {least_65:g} to {most_65:g}, 75 band {least_75:g} to {most_75:g}: not in order.",
                where="credit bands",
                mend="Put them in rising order without overlap.",
            )
        return cls(edges["75"], edges["65"], float(low))

    @property
    def edges(self) -> tuple[float, ...]:
        """All band edges [%], rising."""
        return (self.low, *self.lower, *self.upper)


def _finite(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def classify(pct: float, bands: Bands) -> Label:
    """The label of a percent power.

    Parameters
    ----------
    pct : float [% of rated power], finite.
    bands : Bands

    Returns
    -------
    "target-75", "high" (78 and above, credited as 75), "target-65", "light", "between", or "climb" (above all bands).

    Raises
    ------
    BadQuantity : NaN or infinite.

    >>> [classify(p, Bands()) for p in (74, 80, 65, 55, 70, 90)]
    ['target-75', 'high', 'target-65', 'light', 'between', 'climb']
    """
    if not math.isfinite(pct):
        raise BadQuantity(f"{pct} is not a percentage.", where="percent power", mend="Leave it out when not known.")
    if pct < bands.low:
        return "light"
    if bands.lower[0] <= pct <= bands.lower[1]:
        return "target-65"
    if bands.upper[0] <= pct <= bands.upper[1]:
        return "high" if pct > HIGH_FROM_PCT else "target-75"
    return "climb" if pct > bands.upper[1] else "between"


def schedule(
    bands: Bands,
    phase: Phase,
    *,
    cht_limit_degf: float,
    minutes: float | None = None,
    cht_drop_limit_degf_per_min: float = 50.0,
    egt_tolerance_degf: float = 50.0,
) -> dict[str, Any]:
    """The schedule of one flight, as the analysis of a recording takes it.

    Parameters
    ----------
    bands : Bands
    phase : "hour1" (constant 75 %), "hour2" (15 and 15 min) or "later" (30 and 30 min).
    cht_limit_degf : float [degF] - the maker's limit of head temperature.
    minutes : float [min] or None - planned length; None takes 60, 60 or 120.
    cht_drop_limit_degf_per_min : float [ddegF/min] - fastest cooling; 50 is Lycoming's figure (SI 1094D).
    egt_tolerance_degf : float [ddegF]

    Returns
    -------
    dict with phase, bands, tol, low, minutes, constant or block_min and block_tol_min, cht_limit_f,
    cht_drop_limit_f_min, egt_tol_f, and ``credit``, the exact bands.

    Raises
    ------
    BadQuantity : unknown phase.

    >>> schedule(Bands(), "hour1", cht_limit_degf=460)["tol"]
    3.0
    """
    if phase not in ("hour1", "hour2", "later"):
        raise BadQuantity(f"{phase!r} is not a phase.", where="phase", mend="Use hour1, hour2 or later.")
    targets = [75] if phase == "hour1" else [75, 65]
    reach = [75 - bands.upper[0]]
    if phase != "hour1":
        reach += [65 - bands.lower[0], bands.lower[1] - 65]
    made: dict[str, Any] = {
        "phase": phase,
        "bands": targets,
        "tol": min(reach),
        "low": bands.low,
        "minutes": minutes if minutes is not None else (120 if phase == "later" else 60),
        "cht_limit_f": cht_limit_degf,
        "cht_drop_limit_f_min": cht_drop_limit_degf_per_min,
        "egt_tol_f": egt_tolerance_degf,
        "credit": {"75": list(bands.upper), "65": list(bands.lower)},
    }
    if phase == "hour1":
        made["constant"] = True
    else:
        made["block_min"], made["block_tol_min"] = (15, 3) if phase == "hour2" else (30, 5)
    return made

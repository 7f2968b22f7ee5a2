"""What is believed of an engine's oil beforehand, and the estimate of its loss from the log (rule O4)."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from breakin.calc.errors import CalcError
from breakin.calc.oil import OilEntry
from breakin.calc.oil.estimate import estimate
from breakin.calc.oil.prior import Prior, partial_prior
from breakin.calc.said import said
from breakin.picture.clock import Clock
from breakin.picture.oil_rows import Leak
from breakin.record import BuildRecord

FINISH_SLOWEST_FIRST = ("chrome", "nitrided", "plain_steel", "through_hardened", "nickel")
CYLINDER = {"chrome": "chrome", "nitrided": "nitrided", "plain_steel": "steel", "through_hardened": "steel"}


def governing_finish(record: BuildRecord) -> str:
    """The slowest finish among the disturbed cylinders; "" when none is on record."""
    fitted = {position.finish for position in record.positions if position.disturbed}
    return next((finish for finish in FINISH_SLOWEST_FIRST if finish in fitted), "")


def believed(record: BuildRecord, prior: Prior, before: tuple[float, float] | None = None) -> Prior:
    """What is believed of this build beforehand: the type's own settling level, a partial build's own loss before it.

    Parameters
    ----------
    record : BuildRecord
    prior : Prior of a whole engine.
    before : rate and its one-sigma doubt [qt/h] before a partial job; None when not known.

    Returns
    -------
    Prior; its name tells the loss before where that is used. A loss before that is no rate to return to (none measured,
    or over 2 qt/h) leaves the prior, and its name, as of a whole engine.
    """
    own = record.type.settle_qt
    if own is not None:
        prior = replace(prior, settle_below_full_qt=record.type.sump_full_qt - own)
    new = sum(position.disturbed for position in record.positions)
    if not record.partial or before is None or new == 0:
        return prior
    try:
        return partial_prior(before[0], new / record.type.cylinders, prior, u_qt_h=before[1])
    except CalcError:
        return prior


def log_for_estimate(
    record: BuildRecord, clock: Clock, entries: Sequence[OilEntry], leaks: Sequence[Leak]
) -> dict[str, Any]:
    """The log in the plain form that the estimate reads."""
    rows: list[dict[str, Any]] = []
    for entry in entries:
        if entry.kind == "reading":
            row = {
                "kind": "reading",
                "hours": entry.hours,
                "level": entry.level_qt,
                "u": entry.u_qt,
                "when": entry.when,
            }
        elif entry.kind == "addition":
            row = {"kind": "add", "hours": entry.hours, "amount": entry.amount_qt}
        else:
            row = {"kind": "change", "hours": entry.hours, "fill": entry.fill_qt}
        rows.append(row)
    spans = [{"kind": "unlogged", "from": span.from_h, "to": span.to_h} for span in clock.unlogged]
    spans += [{"kind": "leak", "from": from_h, "to": clock.hours if to is None else to} for from_h, to, _, _ in leaks]
    seat = record.installation
    return {
        "engine_id": record.engine_id,
        "capacity": record.type.sump_full_qt,
        "unit": "qt",
        "meter": "hobbs" if seat and seat.basis_clock == "hobbs" else "tach",
        "cylinder": CYLINDER.get(governing_finish(record)),
        "dipstick_step": 0.25,
        "limit_qt_h": record.plan.accept_qt_h if record.plan else None,
        "entries": rows,
        "spans": spans,
    }


def estimated(
    record: BuildRecord, clock: Clock, entries: Sequence[OilEntry], leaks: Sequence[Leak], prior: Prior
) -> tuple[Mapping[str, Any] | None, str]:
    if record.type.log_only:
        return None, said("This type stands outside the standard rules: its oil is logged, not judged.")
    if record.plan is None:
        return None, said("No run-in plan has been issued, so there is no accept rate to judge by.")
    if not entries:
        return None, said("No oil reading yet.")
    try:
        found = estimate(log_for_estimate(record, clock, entries, leaks), prior, trace=True)
    except CalcError as error:
        return None, str(error)
    if found.get("refusal") or found["rate_now"] is None or not math.isfinite(found["rate_now"]):
        return None, str(found.get("refusal") or said("Not enough readings yet."))
    return found, ""

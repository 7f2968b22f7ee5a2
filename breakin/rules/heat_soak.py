"""E10: many short sessions on the ground in one day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date

from breakin.calc.said import fixed, said, sentences
from breakin.picture.clock import PlacedRun
from breakin.picture.picture import Picture
from breakin.picture.recorded import sessions_min
from breakin.rules.base import WATCH, Answer, Hit, answer, flight_evidence, rule
from breakin.rules.oil_pressure import GROUND_UNTIL_H


@rule(
    "E10",
    version=1,
    needs=("run", "ground minutes", "plan"),
    severity="watch",
    title=said("Short flights and much ground on one day"),
    text="Short flights on a warm day, with hot restarts and a queue before each, soak the heads and add up on the "
    "ground without any one session being long: more than 20 min in all on one day of the first 5 h is watched. "
    "Common practice, no published source.",
)
def ground_minutes_of_a_day(picture: Picture) -> Answer:
    return answer(_days(picture), "No day of the first 5 h added up to much time on the ground.")


def _days(picture: Picture) -> Iterator[Hit]:
    plan = picture.record.plan
    assert plan is not None  # noqa: S101 - the rule needs a plan
    days: dict[date, list[PlacedRun]] = defaultdict(list)
    for placed in picture.clock.runs:
        if placed.start_h < GROUND_UNTIL_H:
            days[placed.run.local_date].append(placed)
    for ran in days.values():
        sessions = [minutes for placed in ran for minutes in sessions_min(placed.run)]
        total, line = float(sum(sessions)), plan.ground_call_min
        # One long session is the matter of E7; one run alone is no hot restart.
        if len(ran) < 2 or total <= line or max(sessions) > line:
            continue
        first = ran[0]
        text = sentences(
            said(
                "{minutes} min on the ground in {runs} runs on one day at {hours} h; line: {line} min.",
                minutes=fixed(total, 0),
                runs=fixed(len(ran), 0),
                hours=fixed(first.start_h),
                line=fixed(line, 0),
            ),
            said("Take an early, cool slot, and one long flight instead of several short ones."),
        )
        evidence = tuple(
            flight_evidence(one.run.root, f"{sum(sessions_min(one.run)):.0f} min on the ground") for one in ran
        )
        numbers = {"minutes": total, "line_min": line, "runs": float(len(ran))}
        yield Hit(str(first.run.root), WATCH, text, plan.name[:200], ran[-1].run.at, numbers, evidence)

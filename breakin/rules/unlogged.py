"""N4 and N8: running that nobody logged. A meter shows it, or an instrument's file.

Asked on sight, chased after 3 days, a call after 7, the manager after 14: common practice, no published source.
"""

from __future__ import annotations

from datetime import datetime

from breakin.calc.said import Day, Values, fixed, said, sentences
from breakin.picture.picture import Picture
from breakin.record import UnloggedRecorded
from breakin.rules.base import Answer, Asked, flight_evidence, rule
from breakin.rules.reminders import DAY, LADDER, answered, in_break_in, step_by_time

KINDS = {
    "flight": said("a flight"),
    "ground_run": said("a ground run"),
    "aborted": said("an aborted take-off"),
}


@rule(
    "N4",
    version=1,
    needs=("meter",),
    severity="none",
    title=said("Who flew the unlogged hours?"),
    text="When a meter shows running that nobody logged: asked on sight, chased after 3 days, a call after 7, the "
    "manager after 14. Logging the flight answers it.",
    judges_log_only=True,
)
def unlogged_hours(picture: Picture) -> Answer:
    if not in_break_in(picture):
        return Answer("not applicable", "The build is not in break-in.")
    runs = {placed.run.root: placed.run for placed in picture.clock.runs}
    asked = []
    for span in picture.clock.unlogged:
        seen = runs[span.root].received_at
        reached, moments = step_by_time(picture.now, _steps(seen))
        asked.append(
            Asked(
                occurrence=str(span.root),
                kind="answer",
                title=said("Unlogged running"),
                text=said(
                    "The meter shows {hours} h that nobody logged. Log the flight, or say what ran.",
                    hours=fixed(span.hours),
                ),
                state="late" if reached >= 3 else "due",
                opened_at=seen,
                escalation=LADDER[reached],
                due_at=seen,
                evidence=(flight_evidence(span.root, "its meter shows the gap"),),
                changes_at=moments,
            )
        )
    return answered(asked, "No unlogged running.")


def _steps(seen: datetime) -> list[tuple[datetime, int]]:
    return [(seen, 1), (seen + 3 * DAY, 2), (seen + 7 * DAY, 3), (seen + 14 * DAY, 4)]


@rule(
    "N8",
    version=1,
    severity="none",
    title=said("A recorded flight that nobody logged"),
    text="When an instrument's file shows running that stands in no log: asked on sight, chased after 3 days, a call "
    "after 7, the manager after 14. It closes when the flight is logged, or the recording is put to a logged one.",
    judges_log_only=True,
)
def recorded_unlogged(picture: Picture) -> Answer:
    if not in_break_in(picture):
        return Answer("not applicable", "The build is not in break-in.")
    asked = [_recorded(picture, row) for row in picture.record.unlogged_recorded]
    return answered(asked, "Every recorded flight stands in the log.")


def _recorded(picture: Picture, row: UnloggedRecorded) -> Asked:
    # Seen is when the file was read: a pilot isn't chased for a file that came in yesterday.
    seen = max(row.seen_at or row.ended_at, row.ended_at)
    reached, moments = step_by_time(picture.now, _steps(seen))
    told: Values = {
        "what": KINDS.get(row.kind, said("running")),
        "minutes": fixed(row.run_min, 0),
        "day": Day(row.began_at.date()),
        "time": f"{row.began_at:%H:%M}",
    }
    shown = (
        said(
            "A recording shows {what} of {minutes} min, {air} of them in the air, begun {day} {time} UTC, that nobody "
            "logged.",
            air=fixed(row.airborne_min, 0),
            **told,
        )
        if row.airborne_min > 0
        else said("A recording shows {what} of {minutes} min, begun {day} {time} UTC, that nobody logged.", **told)
    )
    return Asked(
        occurrence=f"recorded:{row.recorded_flight_id}",
        kind="answer",
        title=said("Recorded and not logged"),
        text=sentences(shown, said("Log it from the recording, or say which logged flight it is.")),
        state="late" if reached >= 3 else "due",
        opened_at=seen,
        escalation=LADDER[reached],
        due_at=seen,
        evidence=({"kind": "recorded_flight", "root": str(row.recorded_flight_id), "words": f"{row.run_min:.0f} min"},),
        changes_at=moments,
    )

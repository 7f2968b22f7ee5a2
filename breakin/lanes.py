"""The lane of the board: the first that holds, with its reasons in sentences."""

from __future__ import annotations

from dataclasses import dataclass

from breakin.calc.said import Day
from breakin.picture.picture import Picture
from breakin.rules.base import Asked

STOPPED, CALL, LATE, SLOW, QUIET, REVIEW, RUNNING, FOLLOW_UP, NOT_FLYING = range(1, 10)


@dataclass(frozen=True)
class Standing:
    """What the lane is decided by. `due` holds open items only; `calls` those that nobody has acknowledged."""

    picture: Picture
    phase: str
    stops: tuple[str, ...]
    calls: tuple[str, ...]
    due: tuple[Asked, ...]
    slow: bool

    @property
    def called(self) -> tuple[Asked, ...]:
        """Due items that have come to the step at which a person phones."""
        return tuple(item for item in self.due if item.escalation in ("call", "manager"))


def lane_of(standing: Standing) -> tuple[int, tuple[str, ...]]:
    """The lane and why.

    Returns
    -------
    lane number as in breakin.models.Lane, and sentences, the gravest first.
    """
    if standing.stops:
        return STOPPED, standing.stops
    if standing.calls or standing.called:
        return CALL, (*standing.calls, *(item.text for item in standing.called))
    late = tuple(item.text for item in standing.due if item.state == "late" and item.kind != "flight")
    if late:
        return LATE, late
    if standing.slow:
        expected = standing.picture.record.plan
        high = f"{expected.expected_high_h:.0f} h" if expected else "what is usual"
        return SLOW, (f"{standing.picture.hours:.1f} h run and not settled; usual are up to {high}.",)
    quiet = tuple(item.text for item in standing.due if item.kind == "flight" and item.escalation)
    if quiet:
        return QUIET, quiet
    if standing.phase == "review":
        return REVIEW, (_review_words(standing.picture),)
    if standing.phase in ("closed", "follow_up", "incomplete"):
        waiting = tuple(item.text for item in standing.due if item.kind == "follow_up")
        return FOLLOW_UP, waiting[:1]
    if standing.phase in ("preserved", "awaiting"):
        return NOT_FLYING, ()
    return RUNNING, ()


def _review_words(picture: Picture) -> str:
    proposal = picture.record.proposal
    if proposal is None:
        return "Everything that a review asks for is met."
    return f"Close-out proposed by {proposal.by} on {Day(proposal.at.date())}: it waits for the second look."

"""What a break-in has to meet before it can be closed out: each criterion with what is lacking and how to mend it.

The list is the shop's own; where a number comes from the plan, the plan is its source. The shares of evidence and of
estimated hours are common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from breakin.calc.said import Day, said
from breakin.picture.picture import Picture
from breakin.picture.recorded import evidence_grade
from breakin.rules.base import RULES
from breakin.rules.oil import settled_chance, settling

EVIDENCE_SHARE = 0.7
ESTIMATED_SHARE = 0.1
OPEN_ITEMS = "open"  # the one criterion that nobody can waive: it is met by answering


@dataclass(frozen=True)
class Criterion:
    """key : names it for ever, in waivers and in sealed files. why : how it stands, in a sentence with its numbers.

    waivable : a manager may let it stand unmet, with a reason.
    """

    key: str
    what: str
    why: str
    mend: str
    met: bool
    waivable: bool = True


def criteria_of(picture: Picture) -> tuple[Criterion, ...]:
    """Every criterion that the facts alone decide. Findings that stand open come beside them, in breakin.review."""
    record = picture.record
    if record.type.log_only:
        why = "This type stands outside the standard rules: it is logged, not judged."
        return (
            Criterion("judgement", said("Judged by the standard rules"), why, said("Follow the maker's plan."), False),
        )
    if record.plan is None:
        return (
            Criterion(
                "plan", said("Run-in plan issued"), "No plan has been issued.", said("Issue a plan."), False, False
            ),
        )
    found = [*_oil(picture), *_flown(picture), *_looked(picture), *_evidence(picture)]
    again = _since_reopening(picture)
    return tuple([*found, again] if again else found)


def _oil(picture: Picture) -> Iterable[Criterion]:
    state, oil = settling(picture), picture.oil
    why = oil.refusal if oil.estimate is None else f"{settled_chance(oil.estimate)} {' '.join(state.vetoes)}"
    yield Criterion(
        "settled",
        said("Oil loss provisionally settled"),
        why.strip(),
        said("Fly on; read the oil after each flight."),
        state.provisional,
    )
    reasons = " ".join(oil.paper.reasons) if oil.paper else "There is no paper window yet."
    passes = oil.paper is not None and oil.paper.verdict == "passes"
    yield Criterion(
        "paper",
        said("The paper window passes and agrees"),
        f"The paper window: {state.agrees}. {reasons}".strip(),
        said("More readings from 10 min after shutdown, on level ground."),
        passes and state.agrees == "agrees",
    )


def _flown(picture: Picture) -> Iterable[Criterion]:
    plan, clock, credit = picture.record.plan, picture.clock, picture.power.credit
    least = plan.minimum_h if plan else 0.0
    yield Criterion(
        "hours", f"At least {least:g} h run", f"{clock.hours:.1f} h run.", said("Fly on."), clock.hours >= least
    )
    verdict = credit.first_two if credit else "not known"
    known = credit is not None and credit.final and verdict != "not known"
    early = "" if credit is None or credit.final else " The first two hours are not over."
    yield Criterion(
        "first_two",
        said("First two hours known"),
        f"Verdict: {verdict}.{early}",
        said("Log the power blocks of the first flights."),
        known,
    )
    looked = any(row.kind == "borescope" for row in picture.record.inspections)
    if known and verdict == "missed":
        why = "The first two hours were missed" + ("; a borescope look is on record." if looked else ".")
        yield Criterion("added_watch", said("Added watch done"), why, said("Record a borescope look."), looked)


def _looked(picture: Picture) -> Iterable[Criterion]:
    rows = picture.record.inspections
    filters = [row for row in rows if row.kind == "oil_filter" and row.results.get("opened") is not False]
    normal = [row for row in filters if row.result == "normal"]
    bare = (
        f"{len(filters)} filters on record, none of them normal." if filters else "No filter inspection is on record."
    )
    yield Criterion(
        "filter",
        said("First filter opened and normal"),
        f"Opened and normal on {Day(normal[0].at.date())}." if normal else bare,
        said("Complete the first oil and filter."),
        bool(normal),
    )
    cut = RULES["I6"].ask(picture)
    yield Criterion(
        "filters_cut",
        said("Every filter that came off was looked into"),
        cut.text,
        said("Complete the filter that was not cut open."),
        cut.word != "not met",
    )
    dry = [row for row in rows if row.kind in ("leak", "torque") and row.result == "normal"]
    bare = "No leak or torque look without a finding is on record."
    yield Criterion(
        "leak",
        said("Leak and torque look done"),
        f"Done on {Day(dry[0].at.date())}." if dry else bare,
        said("Complete the leak and torque look."),
        bool(dry),
    )


def _evidence(picture: Picture) -> Iterable[Criterion]:
    clock = picture.clock
    yield Criterion(
        "known_hours",
        said("Hours known"),
        f"{clock.estimated_share * 100:.0f} % of the hours are estimated or unlogged; at most "
        f"{ESTIMATED_SHARE * 100:.0f} % may be.",
        said("Log the missing flights or the basis clock."),
        clock.estimated_share <= ESTIMATED_SHARE,
    )
    good = sum(1 for placed in clock.flights if evidence_grade(placed.run) in "AB")
    share = good / len(clock.flights) if clock.flights else 0.0
    yield Criterion(
        "evidence",
        f"At least {EVIDENCE_SHARE * 100:.0f} % of flights with grade A or B",
        f"{good} of {len(clock.flights)} flights have it.",
        said("Log flights on the day, or hand in recordings."),
        bool(clock.flights) and share >= EVIDENCE_SHARE,
    )


def _since_reopening(picture: Picture) -> Criterion | None:
    """A break-in that was taken up again has to show anew that its loss is low."""
    plan = picture.record.plan
    again = next((one for one in reversed(picture.record.events) if one.kind == "reopened"), None)
    if again is None or plan is None:
        return None
    from_h = again.hours if again.hours is not None else picture.clock.hours_at(again.at)
    since = [one for one in picture.oil.sliding if one.assessable and one.h1 >= from_h - 1e-9]
    low = [one for one in since if one.rate + one.u_rate <= plan.accept_qt_h]
    if since:
        last = since[-1]
        why = f"Loss {last.rate:.2f} ± {last.u_rate:.2f} qt/h between {last.h1:.1f} h and {last.h2:.1f} h"
        why += f", {plan.accept_qt_h:.2f} qt/h accepted."
    else:
        why = f"No window since {from_h:.1f} h, when it was reopened, can be judged yet."
    what = said("Loss accepted in a window since the reopening")
    return Criterion("since_reopened", what, why, said("Fly on; read the oil after each flight."), bool(low))

"""C-rules: what is found of a build after its close-out, and what takes the break-in up again by itself.

A close-out file is never changed. Facts that come in or are corrected later are compared with it; a loss that goes up,
a store without preservation or the wrong oil found afterwards reopen the same build, and the file stays.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, time, timedelta
from itertools import pairwise

from breakin.calc.oil import Window
from breakin.calc.said import Day, fixed, joined, qt_h, said, sentences
from breakin.picture.picture import Picture
from breakin.picture.storage import unprotected_days
from breakin.record import OilFacts
from breakin.rules.base import CALL, WATCH, Answer, Hit, answer, oil_evidence, rule
from breakin.rules.confirming import confirming, windows_since
from breakin.rules.inspect_rings import breather, compression
from breakin.rules.oil import loss_words, row_of, separator_changes, surely_over
from breakin.rules.oil_level import other_oil
from breakin.rules.sealed import changes_since, evidence_key, fallen_criteria, what_differs

TIMES_CLOSING = 2.0
STORED_DAYS = 183
NOT_CLOSED = Answer("not applicable", "The build has not been closed out.")
AGAIN = said("The break-in is taken up again; the close-out file stays as it was sealed.")
TRADE = "common practice, no published source"


@rule(
    "C1",
    version=1,
    severity="watch",
    title=said("Evidence changed after close-out"),
    text="A fact that went into the close-out file was corrected or withdrawn, or one from before it came in later. "
    "The file is not changed: what it would say now is said here.",
    judges_log_only=True,
)
def evidence_changed(picture: Picture) -> Answer:
    sealed = picture.record.sealed
    if sealed is None or picture.record.state != "closed":
        return NOT_CLOSED
    changed = changes_since(picture.record, sealed)
    if not changed:
        return Answer("met", f"Every fact is as it was sealed in file {sealed.number}.")
    which = "; ".join(one.words for one in changed)
    text = f"Since close-out file {sealed.number} was sealed: {which}. {what_differs(picture, sealed)}"
    hit = Hit(
        f"file {sealed.number} {evidence_key(changed)}",
        WATCH,
        text,
        f"close-out file {sealed.number}",
        max(one.at for one in changed),
        {"changed": len(changed)},
        tuple({"kind": one.kind, "root": one.root, "words": one.words} for one in changed),
        for_customer=False,
    )
    return Answer("not met", text, (hit,))


@rule(
    "C2",
    version=1,
    needs=("plan",),
    severity="call",
    title=said("A criterion fell after close-out"),
    text="Evidence was corrected so that a criterion which was met at the close-out is met no more, judged anew as of "
    "that day. The break-in is taken up again.",
)
def criterion_fell(picture: Picture) -> Answer:
    sealed = picture.record.sealed
    if sealed is None:
        return NOT_CLOSED
    changed = changes_since(picture.record, sealed)
    fallen = fallen_criteria(picture.record, sealed) if changed else ()
    if not fallen:
        return Answer("met", "Every criterion that was met at the close-out still is, judged by the facts as they are.")
    which = joined((said("{what}: {why}", what=one.what, why=one.why) for one in fallen), "; ")
    text = sentences(
        said("Judged again as of the close-out, by the facts as they are now: {which}", which=which), AGAIN
    )
    hit = Hit(
        f"file {sealed.number} {' '.join(one.key for one in fallen)}"[:110],
        CALL,
        text,
        f"close-out file {sealed.number}",
        max(one.at for one in changed),
        {"criteria": ", ".join(one.key for one in fallen)},
        tuple({"kind": one.kind, "root": one.root, "words": one.words} for one in changed),
        reopens=True,
    )
    return Answer("not met", text, (hit,))


@rule(
    "C3",
    version=2,
    needs=("two readings", "plan"),
    severity="call",
    title=said("Loss up since close-out"),
    text="Two windows in a row, each over twice the loss at the close-out even with its doubt taken off, or one over "
    "the alarm rate: a stuck or broken ring, or a leak. The break-in is taken up again. Where an oil separator was "
    "fitted or taken out since, only the alarm rate is asked: the two losses are not compared.",
)
def loss_up(picture: Picture) -> Answer:
    sealed, plan = picture.record.sealed, picture.record.plan
    if sealed is None or plan is None:
        return NOT_CLOSED
    since = windows_since(picture)
    if not since:
        return Answer("not known", "No window since the close-out can be judged yet.")
    alarmed = next((one for one in since if surely_over(one, plan.alarm_qt_h)), None)
    compared = not any(seat.since > sealed.at for seat, _ in separator_changes(picture))
    line = TIMES_CLOSING * sealed.rate_qt_h if sealed.rate_qt_h is not None and compared else None
    twice = None if line is None else _second_over(since, line)
    if alarmed is None and twice is None:
        return Answer("met", f"{loss_words(since[-1])}, {sealed.rate_qt_h or 0:.2f} qt/h at the close-out.")
    window = min((one for one in (alarmed, twice) if one is not None), key=lambda one: one.h2)
    over = said("{loss}: over the alarm rate of {alarm}.", loss=loss_words(window), alarm=qt_h(plan.alarm_qt_h))
    if window is not alarmed:
        over = said(
            "{loss}: the second in a row over twice the {rate} at the close-out.",
            loss=loss_words(window),
            rate=qt_h(sealed.rate_qt_h or 0.0),
        )
    text = sentences(over, said("Compression, borescope, breather, leaks."), AGAIN)
    numbers = {"rate_qt_h": window.rate, "u_qt_h": window.u_rate, "closing_qt_h": sealed.rate_qt_h}
    evidence = tuple(oil_evidence(root, "in the window") for root in window.roots)
    at = row_of(picture, window.roots[-1]).placed.event.at
    hit = Hit(window.roots[-1], CALL, text, plan.name[:200], at, numbers, evidence, reopens=True)
    return Answer("not met", text, (hit,))


def _second_over(since: Sequence[Window], line: float) -> Window | None:
    """The second of the first two windows in a row that both lie over a line for sure."""
    return next((b for a, b in pairwise(since) if surely_over(a, line) and surely_over(b, line)), None)


@rule(
    "C4",
    version=1,
    needs=("plan",),
    severity="call",
    title=said("Confirming window"),
    text="The first window since the close-out that decides it: it confirms when it is at or under the accept rate "
    "with its doubt and close to the window of the close-out, and fails when it is over the accept rate even with its "
    "doubt taken off. What fails is taken up again.",
)
def confirming_window(picture: Picture) -> Answer:
    plan = picture.record.plan
    if picture.record.sealed is None or plan is None:
        return NOT_CLOSED
    verdict = confirming(picture)
    if verdict.word == "confirmed":
        return Answer("met", verdict.text)
    window = verdict.window
    if verdict.word == "not known" or window is None:
        return Answer("not known", verdict.text)
    text = sentences(said("The confirming window fails."), verdict.text, AGAIN)
    numbers = {"rate_qt_h": window.rate, "u_qt_h": window.u_rate, "accept_qt_h": plan.accept_qt_h}
    evidence = tuple(oil_evidence(root, "in the window") for root in window.roots)
    at = row_of(picture, window.roots[-1]).placed.event.at
    hit = Hit(window.roots[-1], CALL, text, plan.name[:200], at, numbers, evidence, reopens=True)
    return Answer("not met", text, (hit,))


@rule(
    "C5",
    version=1,
    needs=("plan",),
    severity="call",
    title=said("Stored without preservation"),
    text="Half a year without running and without a preservation that holds, while follow-ups are outstanding: bores "
    "rust. The break-in is taken up again.",
    judges_log_only=True,
)
def stored(picture: Picture) -> Answer:
    sealed, plan = picture.record.sealed, picture.record.plan
    if sealed is None or plan is None:
        return NOT_CLOSED
    watched_until_h = sealed.hours + max(plan.follow_up_h, default=0.0)
    changes: tuple[datetime, ...] = ()
    hits = []
    for start, end, hours, key in _still(picture):
        if hours >= watched_until_h - 1e-9:
            break
        bare = unprotected_days(picture.record.preservations, start.date(), end.date())
        if bare > STORED_DAYS:
            text = sentences(
                said(
                    "{days} days not run and not preserved since {day}. Look for rust before it runs: borescope.",
                    days=fixed(bare, 0),
                    day=Day(start.date()),
                ),
                AGAIN,
            )
            hits.append(Hit(key, CALL, text, TRADE, start + timedelta(days=STORED_DAYS), {"days": bare}, reopens=True))
        elif end == picture.now and picture.record.state == "closed":
            changes = (_when_too_long(picture, bare),)
    found = answer(hits, f"Never {STORED_DAYS} days without running or preservation since the close-out.")
    return Answer(found.word, found.text, found.hits, (), changes)


def _still(picture: Picture) -> Iterator[tuple[datetime, datetime, float, str]]:
    """Spans since the close-out in which the engine did not run: from, to, hours then, and the fact it began with."""
    sealed = picture.record.sealed
    if sealed is None:
        return
    start, hours, key = sealed.at, sealed.hours, f"file {sealed.number}"
    for placed in picture.clock.runs:
        if placed.run.at > sealed.at:
            yield start, placed.run.started_at, hours, key
            start, hours, key = placed.run.at, placed.end_h, str(placed.run.root)
    yield start, picture.now, hours, key


def _when_too_long(picture: Picture, bare: int) -> datetime:
    today = picture.now.date()
    held = [one.expires_on for one in picture.record.preservations if one.ended_on is None]
    begins = max([today, *held])
    return datetime.combine(begins + timedelta(days=STORED_DAYS + 1 - bare), time(), UTC)


@rule(
    "C6",
    version=1,
    needs=("plan",),
    severity="call",
    title=said("Wrong oil found after close-out"),
    text="It came out after the close-out that a full fill or three quarts of another kind than the plan's were used "
    "during the break-in. It is taken up again, to decide by the plan's source.",
)
def wrong_oil_found(picture: Picture) -> Answer:
    sealed, plan = picture.record.sealed, picture.record.plan
    if sealed is None or plan is None:
        return NOT_CLOSED
    late = {str(one.root) for one in picture.record.oil if _told_late(one, sealed.at)}
    hits = [
        Hit(
            hit.occurrence, CALL, sentences(said("Told after the close-out: {what}", what=hit.text), AGAIN), hit.source,
            hit.at, hit.numbers, hit.evidence, reopens=True,
        )
        for hit in other_oil(picture, plan)
        if hit.severity >= CALL and hit.occurrence in late
    ]  # fmt: skip
    return answer(hits, "No other oil was told of after the close-out.")


def _told_late(event: OilFacts, sealed_at: datetime) -> bool:
    return event.at <= sealed_at < event.received_at


@rule(
    "C7",
    version=1,
    needs=("inspection",),
    severity="call",
    title=said("Rings leak after close-out"),
    text="After the close-out two cylinders are low in compression and what passes the rings shows at the breather "
    "too: air heard there, or oil heavy in it. The break-in is taken up again.",
)
def rings_leak(picture: Picture) -> Answer:
    sealed = picture.record.sealed
    if sealed is None:
        return NOT_CLOSED
    low = [hit for hit in compression(picture).hits if hit.at > sealed.at and len(hit.numbers) >= 2]
    oily = [hit for hit in breather(picture).hits if hit.at > sealed.at]
    both = next((hit for hit in low if hit.severity >= CALL or oily), None)
    if both is None:
        return Answer("met", "Nothing after the close-out shows that the rings leak.")
    text = sentences(both.text, *(hit.text for hit in oily), AGAIN)
    evidence = (*both.evidence, *(each for hit in oily for each in hit.evidence))
    hit = Hit(both.occurrence, CALL, text, both.source, both.at, both.numbers, evidence, reopens=True)
    return Answer("not met", hit.text, (hit,))

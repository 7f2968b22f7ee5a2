"""O-rules that look at the whole log: flat but high, slow, partial builds, the forecast, and what the estimate doubts.

O6 and O11 to O17. The estimate and its definition of "stabilized" are the project's own; limits come from the plan.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import datetime
from itertools import pairwise

from breakin.calc.oil import Window
from breakin.calc.said import Values, fixed, percent, qt, qt_h, said, sentences
from breakin.picture.oil_doubts import bad_readings, unlogged_additions
from breakin.picture.oil_rows import OilRow
from breakin.picture.picture import Picture
from breakin.rules.base import CALL, NOTE, WATCH, Answer, Hit, answer, oil_evidence, rule
from breakin.rules.oil import SETTLED_AFTER_H, apart, loss_words, row_of, settling, surely_over
from breakin.rules.oil_level import rises

MODEL = "the estimate of the oil log; the project's own definition of stabilized"
SAME_QT_H, SAME_SIGMAS = 0.08, 1.6
SLOW_SHARE, MANAGER_SHARE = 1.5, 2.0
GLAZE_LIGHT_SHARE = 0.3
FORECAST_ANCHORS = 6
LAST_ADDITIONS = 3


@rule(
    "O6",
    version=1,
    needs=("two readings", "plan"),
    severity="watch; call at the second window",
    title=said("Flat but high"),
    text="A loss that no longer falls and lies over the accept rate even with its doubt taken off has not settled: "
    "glazed bores or a ring the wrong way up look like this. Watched at the first window, a call at the second in a "
    "row that says the same.",
)
def flat_but_high(picture: Picture) -> Answer:
    oil, plan = picture.oil, picture.record.plan
    if plan is None or oil.estimate is None:
        return Answer("not known", oil.refusal)
    if not oil.estimate["not_settling"]:
        return Answer("met", "Nothing shows that the loss stays over the accept rate.")
    windows = [one for one in oil.sliding if one.h1 >= SETTLED_AFTER_H - 1e-9]
    high = apart([one for one in windows if surely_over(one, plan.accept_qt_h)])
    second = next((after for before, after in pairwise(high) if _same(before, after)), None)
    window = second or (high[0] if high else None)
    chance: Values = {"chance": fixed(oil.estimate["p_not_settling"], 2), "accept": qt_h(plan.accept_qt_h)}
    if window is None:
        text = said(
            "The estimate gives {chance} that it stays over the accept rate, {accept}; no window from {hours} h on "
            "shows it on paper yet.",
            hours=fixed(SETTLED_AFTER_H, 0),
            **chance,
        )
        return Answer("not met", text, (_high_by_estimate(picture, text),))
    text = sentences(
        said(
            "{loss}, over the accept rate; the estimate gives {chance} that it stays over the accept rate, {accept}.",
            loss=loss_words(window),
            **chance,
        ),
        said("The second such window: borescope, compression, breather.") if second else said("Watch the next window."),
    )
    last = row_of(picture, window.roots[-1]).placed.event
    numbers = {
        "rate_qt_h": window.rate,
        "u_qt_h": window.u_rate,
        "accept_qt_h": plan.accept_qt_h,
        "p_not_settling": oil.estimate["p_not_settling"],
    }
    evidence = tuple(oil_evidence(root, "in the window") for root in window.roots)
    severity = CALL if second else WATCH
    hit = Hit(window.roots[-1], severity, text, plan.name[:200], last.at, numbers, evidence)
    return Answer("not met", text, (hit,))


def _high_by_estimate(picture: Picture, text: str) -> Hit:
    rows = picture.oil.readings[-4:]
    evidence = tuple(oil_evidence(row.placed.event.root, f"{row.level_qt:.2f} qt") for row in rows)
    found = picture.oil.estimate or {}
    numbers = {name: found[name] for name in ("p_not_settling", "rate_now", "rate_lo", "rate_hi")}
    key = str(_fill_start(picture).placed.event.root)
    return Hit(key, WATCH, text, MODEL, rows[-1].placed.event.at, numbers, evidence)


def _same(before: Window, after: Window) -> bool:
    """Do two windows tell the same loss, within what they can tell?"""
    return abs(after.rate - before.rate) <= max(SAME_QT_H, SAME_SIGMAS * math.hypot(before.u_rate, after.u_rate))


@rule(
    "O11",
    version=2,
    needs=("flight", "plan"),
    severity="call; watch for glaze",
    title=said("Slow to settle"),
    text="Half as long again as this kind of build usually takes, and not settled: call, borescope, compression and "
    "breather pressure; at twice as long the manager talks to the maker or the cylinder supplier. Missed first hours "
    "lengthen what is expected. With missed first hours or more than 30 % of light running, glaze is suspected.",
)
def slow_to_settle(picture: Picture) -> Answer:
    plan = picture.record.plan
    if plan is None or picture.record.state != "open":
        return Answer("not applicable", "The build is not open.")
    if settling(picture).provisional:
        return Answer("met", "Provisionally settled.")
    expected = expected_high_h(picture)
    if picture.hours <= SLOW_SHARE * expected:
        return Answer("met", f"{picture.hours:.1f} h run of {expected:.0f} h expected at most.")
    line = MANAGER_SHARE if picture.hours > MANAGER_SHARE * expected else SLOW_SHARE
    text = said(
        "{hours} h run and not settled; this kind of build usually takes up to {expected} h. Borescope, compression "
        "and breather pressure.",
        hours=fixed(picture.hours),
        expected=fixed(expected, 0),
    )
    if line == MANAGER_SHARE:
        text = sentences(text, said("Manager: talk to the maker or the cylinder supplier."))
    placed = next(run for run in picture.clock.flights if run.end_h > line * expected)
    evidence = (
        {"kind": "flight", "root": str(placed.run.root), "words": f"{placed.end_h:.1f} h"},
        *(oil_evidence(row.placed.event.root, f"{row.level_qt:.2f} qt") for row in picture.oil.readings[-3:]),
    )
    numbers = {"hours": picture.hours, "expected_h": expected, "times": line}
    hit = Hit(f"{line:g} times expected", CALL, text, plan.name[:200], placed.run.at, numbers, evidence)
    glaze = _glaze(picture, placed.run.at)
    return Answer("not met", text, (hit, glaze) if glaze else (hit,))


def _glaze(picture: Picture, at: datetime) -> Hit | None:
    """Slow, and flown so that bores glaze: the first two hours missed, or much of the time at light power."""
    credit = picture.power.credit
    if credit is None:
        return None
    reasons = []
    if credit.final and credit.first_two == "missed":
        reasons.append(said("the first two hours were missed"))
    light = credit.light_share
    if light is not None and light > GLAZE_LIGHT_SHARE:
        reasons.append(said("{share} of the time was flown light", share=percent(light)))
    if not reasons:
        return None
    why = said("{first} and {second}", first=reasons[0], second=reasons[1]) if len(reasons) > 1 else reasons[0]
    text = said(
        "Slow to settle, and {why}: suspect glazed bores. Borescope: is the hatch still to be seen?",
        why=why,
    )
    evidence = tuple({"kind": "flight", "root": str(root), "words": "first two hours"} for root in credit.flights)
    numbers = {"light_share": light, "line": GLAZE_LIGHT_SHARE}
    return Hit(
        "glaze", WATCH, text, "common practice, no published source", at, numbers, evidence, said("Glaze suspicion")
    )


def expected_high_h(picture: Picture) -> float:
    """The longest expected of this build [h]: the plan's, half as long again when the first hours were missed."""
    plan, credit = picture.record.plan, picture.power.credit
    high = plan.expected_high_h if plan else math.inf
    return high * 1.5 if credit is not None and credit.final and credit.first_two == "missed" else high


@rule(
    "O13",
    version=1,
    needs=("reading", "plan"),
    severity="none",
    title=said("When it will settle"),
    text="From six good readings on, the hours between which the loss will likely settle. Never a promise.",
)
def forecast(picture: Picture) -> Answer:
    oil = picture.oil
    if oil.estimate is None:
        return Answer("not known", oil.refusal)
    good = sum(row.anchor for row in oil.readings)
    if good < FORECAST_ANCHORS:
        return Answer("not known", f"No forecast yet: {good} good readings of {FORECAST_ANCHORS}.")
    span = forecast_range(picture)
    if span is not None:
        return Answer("met", f"Likely to settle between {span[0]:.0f} and {span[1]:.0f} h. Not a promise.")
    if settling(picture).declared:
        return Answer("met", "The loss has stabilized, as far as the estimate can tell.")
    if oil.estimate["not_settling"] or oil.estimate["rising"]:
        return Answer("not known", "The loss is not on its way to settle, so no hours can be said.")
    return Answer("not known", "By its fall it should have settled already; the readings do not show it clearly yet.")


def forecast_range(picture: Picture) -> tuple[float, float] | None:
    """Hours between which it will likely settle; None when that cannot be said, or it has happened already."""
    oil = picture.oil
    if oil.estimate is None or sum(row.anchor for row in oil.readings) < FORECAST_ANCHORS:
        return None
    if settling(picture).declared or oil.estimate["not_settling"] or oil.estimate["rising"]:
        return None
    low, high = max(oil.estimate["settle_lo"], picture.hours), oil.estimate["settle_hi"]
    return (low, high) if high >= low + 0.5 else None


@rule(
    "O14",
    version=1,
    needs=("two readings", "plan"),
    severity="watch; call over the accept rate",
    title=said("Loss climbs again"),
    text="A loss that had fallen and climbs again: a stuck or broken ring, or a leak. Watched; a call when it lies "
    "over the accept rate even at the low end of its band.",
)
def rising(picture: Picture) -> Answer:
    oil, plan = picture.oil, picture.record.plan
    if plan is None or oil.estimate is None:
        return Answer("not known", oil.refusal)
    if not oil.estimate["rising"]:
        return Answer("met", "Nothing shows that the loss climbs.")
    low, rate = oil.estimate["rate_lo"], oil.estimate["rate_now"]
    over = low > plan.accept_qt_h
    text = sentences(
        said(
            "The loss climbs again: {rate} now, at least {low} with 95 %, probability {chance}.",
            rate=qt_h(rate),
            low=qt_h(low, bare=True),
            chance=fixed(oil.estimate["p_rising"], 2),
        ),
        said("Call: compression, borescope, breather, leaks.")
        if over
        else said("Read after each flight; look for a leak."),
    )
    rows = oil.readings[-4:]
    evidence = tuple(oil_evidence(row.placed.event.root, f"{row.level_qt:.2f} qt") for row in rows)
    numbers = {"rate_qt_h": rate, "rate_lo_qt_h": low, "accept_qt_h": plan.accept_qt_h}
    severity, since = CALL if over else WATCH, _fill_start(picture)
    hit = Hit(str(since.placed.event.root), severity, text, MODEL, rows[-1].placed.event.at, numbers, evidence)
    return Answer("not met", text, (hit,))


def _fill_start(picture: Picture) -> OilRow:
    """The fact that stands for the present fill: what goes on in it is found once a fill."""
    rows = picture.oil.rows
    return next((row for row in reversed(rows) if row.placed.event.kind == "drain_fill"), rows[0])


@rule(
    "O15",
    version=1,
    needs=("two readings", "plan"),
    severity="watch",
    title=said("Oil that nobody noted"),
    text="The level stands higher than the loss so far allows: somebody seems to have poured oil in and not noted it. "
    "Ask that first, before anything else is concluded.",
)
def unnoted_oil(picture: Picture) -> Answer:
    risen = {hit.occurrence for hit in rises(picture)}
    hits = []
    for row in unlogged_additions(picture.oil):
        event = row.placed.event
        if str(event.root) in risen:
            continue  # O8 asks already
        text = said(
            "{level} at {hours} h is more than the loss so far allows. Ask: did someone else add? If so, log how much "
            "and of which kind.",
            level=qt(row.level_qt or 0.0),
            hours=fixed(row.placed.hours),
        )
        evidence = (oil_evidence(event.root, f"{row.level_qt:.2f} qt"),)
        hits.append(Hit(str(event.root), WATCH, text, MODEL, event.at, {"level_qt": row.level_qt}, evidence))
    return answer(hits, "No level asks for oil that nobody noted.")


@rule(
    "O16",
    version=1,
    needs=("two readings", "plan"),
    severity="note",
    title=said("Topping up too high"),
    text="Two of the last three additions ended more than half a quart above the settling level: what lies above it "
    "goes out of the breather. Pour to the hold line, not above.",
)
def topping_high(picture: Picture) -> Answer:
    oil = picture.oil
    if oil.estimate is None:
        return Answer("not known", oil.refusal)
    if not oil.estimate["topping_high"]:
        return Answer("met", "The last additions did not end above the settling level.")
    poured = [row for row in oil.rows if row.placed.event.kind == "addition"][-LAST_ADDITIONS:]
    level = oil.estimate["level_settle"]
    text = (
        said(
            "The last additions ended above where the level settles, about {level}, hold line {hold}: that oil is "
            "thrown out.",
            level=qt(level, 1),
            hold=qt(oil.lines.hold),
        )
        if oil.lines
        else said(
            "The last additions ended above where the level settles, about {level}: that oil is thrown out.",
            level=qt(level, 1),
        )
    )
    evidence = tuple(oil_evidence(row.placed.event.root, f"{row.placed.event.amount_qt or 0:.2f} qt") for row in poured)
    numbers = {"settle_level_qt": level, "additions": len(poured)}
    at = poured[-1].placed.event.at
    hit = Hit(str(_fill_start(picture).placed.event.root), NOTE, text, MODEL, at, numbers, evidence)
    return Answer("not met", text, (hit,))


@rule(
    "O17",
    version=2,
    needs=("two readings", "plan"),
    severity="note",
    title=said("Reading that does not fit"),
    text="A reading that the rest of the log contradicts: read too soon after shutdown, on a slope, or mistyped. It is "
    "kept and shown, and left out of the estimate. Correct it if it was mistyped.",
)
def bad_reading(picture: Picture) -> Answer:
    return answer(_bad(picture), "Every reading fits the others.")


def _bad(picture: Picture) -> Iterator[Hit]:
    # Dated by the newest reading, since it is the whole log that contradicts it: a later holder's, perhaps.
    known_at = max((row.placed.event.at for row in picture.oil.readings), default=None)
    for bad in bad_readings(picture.oil):
        event = bad.row.placed.event
        text = said(
            "{level} at {hours} h {reason}. Left out of the estimate.",
            level=qt(bad.row.level_qt or 0.0),
            hours=fixed(bad.row.placed.hours),
            reason=bad.reason,
        )
        numbers = {} if bad.off_qt is None else {"off_qt": bad.off_qt}
        evidence = (oil_evidence(event.root, f"{bad.row.level_qt:.2f} qt"),)
        yield Hit(str(event.root), NOTE, text, MODEL, known_at or event.at, numbers, evidence)

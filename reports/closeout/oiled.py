"""The oil log with its chart and rates, and the inspections with their photos, as sections."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reports.closeout.drawings import oil_chart
from reports.closeout.parts import NONE, UNITS, PhotoPart, Section, day, hours, table, told
from reports.engine.tables import windows
from reports.inspect.words import in_a_sentence
from reports.quantities import level, oil_rate

Document = dict[str, Any]


def sections(document: Document) -> Iterator[Section]:
    yield _oil(document)
    yield _inspections(document)


def _oil(document: Document) -> Section:
    oil = document["assessment"]["oil"]
    figure = oil_chart(document)
    balance = windows(oil, UNITS)
    paper = oil["paper"]
    said = [oil["sentence"], f"Paper window: {paper['verdict']}. {' '.join(paper['reasons'])}".strip()]
    if oil.get("ceiling_qt_h") is not None:
        said.append(f"Ceiling {oil['ceiling_qt_h']:.2f}\u202fqt/h: {oil['ceiling_basis']}.")
    if oil["over_fill"]:
        spans = ", ".join(f"{low:.1f} to {high:.1f}\u202fh" for low, high in oil["over_fill"])
        said.append(f"Over-fill loss, not the rings': {spans}.")
    if oil["leak"]:
        spans = ", ".join(f"{low:.1f} to {high:.1f}\u202fh" for low, high in oil["leak"])
        said.append(f"Leak open, left out of every rate: {spans}.")
    judged = [
        (f"{row['from_h']:.1f} to {row['to_h']:.1f}\u202fh", oil_rate(row["rate_qt_h"], row["u_qt_h"], UNITS))
        for row in document["oil_windows"]
    ]
    where = {row["root"]: row for row in oil["entries"]}
    rows = [_event(row, where.get(row["root"], {})) for row in document["oil_events"]]
    heads = ("Date", "At", "What", "Level or amount", "How it was read", "Judged by", "Grade")
    caption = "Every oil event, oldest first. A level stands with its doubt, one standard deviation."
    return Section(
        "Oil",
        tuple(said),
        (
            ("Loss at the close-out", oil_rate(oil["rate_qt_h"], oil["u_qt_h"], UNITS)),
            ("Accepted up to", NONE if oil["accept_qt_h"] is None else f"{oil['accept_qt_h']:.2f}\u202fqt/h"),
            ("Settles at", level(oil["settle_level_qt"], None, UNITS)),
            ("Known beforehand", str(oil["prior"])),
        ),
        (
            *table("Windows that can be judged: 4\u202fh and more, with little doubt", ("Between", "Loss"), judged),
            *((balance,) if balance else ()),
            *table(caption, heads, rows),
        ),
        (figure,) if figure else (),
    )


def _event(row: dict[str, Any], placed: dict[str, Any]) -> tuple[str, ...]:
    when = f"{row['kind']}, {row['when']} the flight" if row["when"] else row["kind"]
    how = [
        f"{row['minutes_since_shutdown']:.0f}\u202fmin after shutdown"
        if row["minutes_since_shutdown"] is not None
        else "",
        {True: "level", False: "sloping"}.get(row["level_ground"], ""),
        {True: "wiped twice", False: "not wiped twice"}.get(row["wiped_twice"], ""),
        "from memory" if row["recalled"] else "",
        f"belly oil: {row['belly_oil']}" if row["belly_oil"] else "",
    ]
    amount = NONE
    if row["level_qt"] is not None:
        amount = level(placed.get("level_qt", row["level_qt"]), placed.get("u_qt"), UNITS)
    elif row["filled_qt"] is not None:
        out = "" if row["drained_qt"] is None else f"{told(row['drained_qt'], 'volume')} out, "
        amount = f"{out}{told(row['filled_qt'], 'volume')} in"
    elif row["amount_qt"] is not None:
        amount = told(row["amount_qt"], "volume", 2)
    kind = ", ".join(part for part in (row["oil_kind"], row["brand"]) if part)
    judged = ""
    if row["level_qt"] is not None:
        judged = placed.get("bad") or ("yes" if placed.get("anchor") else str(placed.get("why_not") or "no"))
    place = hours(placed.get("hours")) + (" est." if placed.get("estimated") else "")
    return (
        day(row["happened_at"]),
        place,
        f"{when}, {kind}" if kind else when,
        amount,
        ", ".join(part for part in how if part) or NONE,
        judged or NONE,
        row["grade"],
    )


def _inspections(document: Document) -> Section:
    rows = []
    photos = []
    for row in document["inspections"]:
        by = row["performed_by"] + (f", seen by {row['inspector']}" if row["inspector"] else "")
        found = in_a_sentence(row["kind_code"], row["results"], UNITS)
        words = f"{found} {row['note']}".strip()
        rows.append((day(row["happened_at"]), hours(row["hours"]), row["kind"], row["result"], words or NONE, by))
        for number, each in enumerate(row["photos"], start=1):
            caption = f"{row['kind'][0].upper()}{row['kind'][1:]} of {day(row['happened_at'])}, photo {number}"
            caption += f": {each['caption']}" if each["caption"] else ""
            photos.append(
                PhotoPart(each["id"], each["file"], f"Photo. {caption}.", f"{caption}. SHA-256 {each['sha256'][:16]}…")
            )
    return Section(
        "Inspections",
        () if rows else ("No inspection is on record.",),
        tables=table(
            "Filter and screen, compression, borescope, analysis, leaks and torque, in order",
            ("Date", "At", "What", "Result", "Found", "By"),
            rows,
        ),
        photos=tuple(photos),
    )

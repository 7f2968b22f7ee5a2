"""What is said about the break-in: the close-out itself with its criteria, and everything people said afterwards."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from reports.closeout.parts import Section, day, hours, moment, table

Document = dict[str, Any]


def head(document: Document) -> Iterator[Section]:
    """Whose break-in, how it ended, by whom, and the criteria."""
    file, clock, zone = document["file"], document["clocks"], document["shop"]["zone"]
    proposed, signature = document.get("proposed") or {}, document.get("signed") or {}
    seat = document["installations"][-1] if document["installations"] else {}
    first_two = document["assessment"]["credit"]["first_two"]
    text = [f"{file['closed'][0].upper()}{file['closed'][1:]} at {clock['hours']:.1f}\u202fh run."]
    text += [f"Reservation: {line}" for line in file["reservations"]]
    if proposed.get("notes"):
        text.append(f"What decided it: {proposed['notes']}")
    if signature.get("words"):
        text.append(signature["words"])
    yield Section(
        "The close-out",
        tuple(text),
        (
            ("Engine", f"{document['engine']['type']}, serial {document['engine']['serial']}"),
            ("Aircraft", _place(seat)),
            ("Build", f"{file['build']}, {document['build']['kind']}, opened {day(document['build']['opened_at'])}"),
            ("Run hours", hours(clock["hours"])),
            ("First two hours", str(first_two["verdict"])),
            ("Oil loss", document["assessment"]["oil"]["sentence"]),
            ("Proposed by", _by(proposed, zone, "not proposed yet")),
            ("Signed by", _by(signature, zone, "not signed yet")),
        ),
    )
    waived = {row["criterion"] for row in document["waivers"]}
    rows = [
        (row["what"], "met" if row["met"] else "waived" if row["key"] in waived else "not met", row["why"])
        for row in document["criteria"]
    ]
    yield Section(
        "Break-in criteria", tables=table("Each criterion and how it stood", ("Criterion", "Stood", "How"), rows)
    )


def _by(act: dict[str, Any], zone: str, none: str) -> str:
    return f"{act['by']}, {moment(act['at'], zone)}" if act else none


def _place(seat: dict[str, Any]) -> str:
    if not seat:
        return "not installed"
    side = "" if seat["position"] == "single" else f" {seat['position']}"
    return f"{seat['registration']}{side}"


def after(document: Document) -> Iterator[Section]:
    """Findings, waivers, corrections, what is missing, follow-ups, versions, how to check."""
    zone = document["shop"]["zone"]
    yield _findings(document)
    yield Section(
        "Waivers",
        () if document["waivers"] else ("Nothing was waived.",),
        tables=table(
            "Criteria that were not met and that a manager let stand",
            ("Criterion", "What lacked", "Reason", "By"),
            [
                (row["what"], row["lacked"], row["reason"], f"{row['by']}, {moment(row['at'], zone)}")
                for row in document["waivers"]
            ],
        ),
    )
    yield Section(
        "Corrections",
        () if document["corrections"] else ("No entry was corrected.",),
        tables=table(
            "Entries that were corrected. The earlier versions are kept.",
            ("Entry", "Of", "Corrected", "By", "Why"),
            [
                (row["of"], day(row["happened_at"]), moment(row["corrected_at"], zone), row["by"], _why(row))
                for row in document["corrections"]
            ],
        ),
    )
    yield Section("What is missing", tuple(document["missing"]) or ("Nothing that is asked for is missing.",))
    yield Section(
        "What was not assessed",
        () if document["not_assessed"] else ("Every rule of the break-in could be answered.",),
        tables=table(
            "Rules that had nothing to judge by",
            ("Rule", "Answer", "Why"),
            [(f"{row['rule']} {row['title']}", row["answer"], row["why"]) for row in document["not_assessed"]],
        ),
    )
    yield _ahead(document)


def _why(row: dict[str, Any]) -> str:
    words = f"withdrawn: {row['reason']}" if row["withdrawn"] else row["reason"]
    return f"{words}. {row['note']}" if row["note"] else words


def _findings(document: Document) -> Section:
    zone = document["shop"]["zone"]
    rows = []
    for row in document["findings"]:
        verdicts = [
            f"{one['verdict']}: {one['cause']}; {one['action']} ({one['by']}, {moment(one['at'], zone)})"
            for one in row["verdicts"]
        ]
        taken = f"acknowledged by {row['acknowledged_by']}" if row["acknowledged_by"] else ""
        state = "; ".join(part for part in (row["state"], taken, *verdicts) if part)
        rows.append((day(row["happened_at"]), f"{row['rule']} {row['title']}", row["severity"], row["text"], state))
    return Section(
        "Findings and what was said of them",
        () if rows else ("No rule found anything.",),
        tables=table("Findings in order of happening", ("Of", "Finding", "Severity", "In words", "How it ended"), rows),
    )


def _ahead(document: Document) -> Section:
    versions = document["versions"]
    rows = [
        (
            f"+{row['after_h']:g}\u202fh",
            hours(row["at_h"]),
            "-" if row.get("after_days") is None else f"{row['after_days']:g} days after close-out",
            row["asks"],
        )
        for row in document["follow_ups"]
    ]
    return Section(
        "Follow-ups and how to check this file",
        (
            "The break-in is taken up again by rule when the loss goes up, the confirming window fails, the engine "
            "stands half a year unpreserved, or evidence is corrected so that a criterion falls. This file then stays "
            "as it is, and the next one has the next number.",
            document["format"]["how_to_check"],
            document["format"]["units"],
        ),
        (
            ("Rules", versions["rules"]),
            ("Software", versions["software"]),
            ("Sum of the evidence", versions["evidence"]),
            *(
                (
                    f"Earlier file {row['number']}",
                    f"{moment(row['signed_at'], document['shop']['zone'])}, {row['sha256']}",
                )
                for row in document["build"]["earlier_files"]
            ),
        ),
        table("Follow-ups after the close-out", ("After", "At", "At the latest", "What is looked at"), rows),
    )

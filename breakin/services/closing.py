"""Close a break-in and take it up again: waivers, the proposal, the second look that seals the file, giving up.

No close-out is a return to service: that is a legal act outside this book.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import Any

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction

from breakin.closeout.canonical import canonical, sha256
from breakin.closeout.document import Draft, drafted, signed
from breakin.load import load
from breakin.models import (
    Assessment,
    CloseOutFile,
    CloseOutProposal,
    Finding,
    FindingState,
    ProposalReturn,
    Severity,
    Waiver,
)
from breakin.rules.criteria import Criterion
from breakin.services.common import audit, is_staff, judge, lock_build, lock_engines, need_reason, roles_of
from breakin.services.ending import end, need_open, turn
from engines.models import Build, BuildEvent, BuildEventKind, BuildState
from shop.access import STAFF
from shop.errors import Problem, Refusal
from shop.models import Person, Role, ShopRole
from shop.version import VERSION

LONGEST = 2000
MOVED = "The evidence moved since this page was shown: nothing is sealed. Look at it again."
# A document and the SHA-256 of its bytes, to the bytes of its print.
PrintOut = Callable[[dict[str, Any], str], bytes]


@transaction.atomic
def waive(*, by: Person, build: Build, criterion: str, reason: str, now: datetime) -> Waiver:
    """Let a criterion stand that is not met. The reason is shown wherever the criteria are.

    Raises
    ------
    Refusal : "forbidden" for anybody but a manager; no reason; the criterion is met, unknown or can't be waived.
    """
    _need_manager(by, now, "waives a criterion")
    build = lock_build(build)
    need_open(build)
    lacking = _lacking(build, criterion, now)
    row = Waiver.objects.create(
        build=build,
        criterion=criterion,
        reason=_words("reason", need_reason(reason, "A waiver")),
        lacked=f"{lacking.what}: {lacking.why}",
        by=by,
        at=now,
    )
    audit(by=by, act="waive_criterion", subject=row, now=now, detail={"criterion": criterion, "reason": row.reason})
    judge([build], now)
    return row


@transaction.atomic
def ask_again(*, by: Person, build: Build, criterion: str, reason: str, now: datetime) -> Waiver:
    """Take a waiver back: the criterion has to be met again.

    Raises
    ------
    Refusal : "forbidden" for anybody but a manager; no reason; there is no waiver that holds.
    """
    _need_manager(by, now, "takes a waiver back")
    build = lock_build(build)
    need_open(build)
    draft = drafted(build, None, now)
    waived = next((row for row in draft.review.waived if row.criterion.key == criterion), None)
    if waived is None:
        raise Refusal.of("criterion", "No waiver holds for this criterion. Load the page again.", "conflict")
    row = Waiver.objects.create(
        build=build,
        criterion=criterion,
        granted=False,
        reason=_words("reason", need_reason(reason, "Taking a waiver back")),
        lacked=f"{waived.criterion.what}: {waived.criterion.why}",
        by=by,
        at=now,
    )
    audit(by=by, act="unwaive_criterion", subject=row, now=now, detail={"criterion": criterion, "reason": row.reason})
    judge([build], now)
    return row


@transaction.atomic
def propose(
    *, by: Person, build: Build, notes: str, reservations: Sequence[str] = (), now: datetime
) -> CloseOutProposal:
    """Say that a break-in can be closed out. Another person signs, after a second look.

    Raises
    ------
    Refusal : "forbidden" outside the shop; the build is not open, a Stop stands, or it was proposed before; no notes.
    """
    if not is_staff(by, now):
        raise Refusal.of("", "A close-out is proposed by the shop.", "forbidden")
    build = lock_build(build)
    need_open(build)
    _need_no_stop(build)
    if (before := standing_proposal(build)) is not None:
        raise Refusal.of(
            "build",
            f"{before.by.name} proposed the close-out on {before.at:%Y-%m-%d}. It waits for the second look.",
            "conflict",
        )
    problems = [] if notes.strip() else [Problem("notes", "What decided it? Say it in a few words.")]
    kept = [line.strip() for line in reservations if line.strip()]
    problems += [
        Problem(name, f"{len(text)} characters are too long. Keep it under {LONGEST}.")
        for name, text in (("notes", notes.strip()), *(("reservations", line) for line in kept))
        if len(text) > LONGEST
    ]
    if problems:
        raise Refusal(problems)
    proposal = CloseOutProposal.objects.create(build=build, by=by, at=now, notes=notes.strip(), reservations=kept)
    audit(by=by, act="propose_close_out", subject=proposal, now=now, detail={"reservations": kept})
    judge([build], now)
    return proposal


@transaction.atomic
def give_back(*, by: Person, proposal: CloseOutProposal, reason: str, now: datetime) -> ProposalReturn:
    """Give a proposal back with what is still to be done, or take one's own back.

    Raises
    ------
    Refusal : "forbidden" for anybody but a manager and its proposer; no reason; it no longer stands.
    """
    build = lock_build(proposal.build)
    if by != proposal.by:
        _need_manager(by, now, "gives a proposal back")
    if standing_proposal(build) != proposal:
        raise Refusal.of("build", "This proposal no longer stands. Load the page again.", "conflict")
    row = ProposalReturn.objects.create(
        proposal=proposal, by=by, at=now, reason=_words("reason", need_reason(reason, "Giving a proposal back"))
    )
    audit(by=by, act="return_proposal", subject=row, now=now, detail={"reason": row.reason})
    judge([build], now)
    return row


def standing_proposal(build: Build) -> CloseOutProposal | None:
    """The proposal that waits for its second look."""
    if build.state != BuildState.OPEN:
        return None
    ended = (BuildEventKind.CLOSED_OUT, BuildEventKind.CLOSED_INCOMPLETE, BuildEventKind.REOPENED)
    last = build.events.filter(kind__in=ended).order_by("-at", "-id").first()
    rows = CloseOutProposal.objects.filter(build=build, returned__isnull=True, file__isnull=True).select_related("by")
    rows = rows.filter(at__gt=last.at) if last is not None else rows
    return rows.order_by("-at", "-id").first()


def only_one_person(now: datetime) -> bool:
    """Does the shop have a single person? Then that one signs what he proposed, and the file says so."""
    held = ShopRole.objects.filter(role__in=STAFF, since__lte=now).exclude(until__lte=now)
    return held.values("person").distinct().count() == 1


def sign(*, by: Person, proposal: CloseOutProposal, seen: str, print_out: PrintOut, now: datetime) -> CloseOutFile:
    """Seal the file and close the build, after a look at the whole of it.

    seen : Draft.seen of what the signer looked at. print_out : makes the print from the document.

    Raises
    ------
    Refusal : "forbidden" for anybody but a manager, and for the proposer unless the shop has one person; "conflict"
        when the evidence moved since; a Stop stands, or something is lacking and not waived.
    """
    _need_manager(by, now, "signs a close-out")
    alone = by == proposal.by
    if alone and not only_one_person(now):
        raise Refusal.of("", "Whoever proposed the close-out does not sign it: a second person looks.", "forbidden")
    draft = drafted(proposal.build, proposal, now)
    _check_draft(draft, proposal, seen)
    number = CloseOutFile.objects.filter(build=proposal.build).count() + 1
    document = signed(draft, by=by, number=number, alone=alone, now=now)
    content = canonical(document)
    digest = sha256(content)
    printed = print_out(document, digest)
    names: list[str] = []
    try:
        with transaction.atomic():
            lock_engines([proposal.build.engine_id])
            build = lock_build(proposal.build)
            need_open(build)
            if load([build.pk], now)[build.pk].digest() != draft.record.digest():
                raise Refusal.of("seen", MOVED, "conflict")
            stem = f"close-out/{now:%Y/%m}/{build.pk}-{number}-{digest[:16]}"
            names.append(default_storage.save(f"{stem}.json", ContentFile(content)))
            names.append(default_storage.save(f"{stem}.pdf", ContentFile(printed)))
            file = CloseOutFile.objects.create(
                build=build,
                number=number,
                proposal=proposal,
                proposed_by=proposal.by,
                signed_by=by,
                signed_at=now,
                alone=alone,
                reservations=document["file"]["reservations"],
                hours=draft.hours,
                rules_version=draft.judgement.rules_version,
                software_version=VERSION,
                document=names[0],
                document_sha256=digest,
                print=names[1],
                print_sha256=sha256(printed),
                sealed=draft.sealed(),
                recorded_at=now,
            )
            audit(by=by, act="sign_close_out", subject=file, now=now, detail={"sha256": digest})
            end(
                build, BuildState.CLOSED, BuildEventKind.CLOSED_OUT, by=by, reason=proposal.notes, at=now, now=now,
                hours=draft.hours,
            )  # fmt: skip
            return file
    except BaseException:
        for name in names:
            default_storage.delete(name)
        raise


def _check_draft(draft: Draft, proposal: CloseOutProposal, seen: str) -> None:
    build = draft.build
    need_open(build)
    if standing_proposal(build) != proposal:
        raise Refusal.of("build", "This proposal no longer stands. Load the page again.", "conflict")
    _need_no_stop(build)
    if draft.review.lacking:
        named = "; ".join(row.what for row in draft.review.lacking)
        raise Refusal.of("lacking", f"Still lacking and not waived: {named}. Mend it or waive it first.", "conflict")
    if draft.seen != seen:
        raise Refusal.of("seen", MOVED, "conflict")


@transaction.atomic
def close_incomplete(*, by: Person, build: Build, reason: str, now: datetime, at: datetime | None = None) -> BuildEvent:
    """Give the break-in up: sold abroad, no answer, engine removed. Not counted as a success; no file is sealed.

    Raises
    ------
    Refusal : the build is not open, or no reason is given.
    """
    build = lock_build(build)
    need_open(build)
    reason = need_reason(reason, "Closing a build as incomplete")
    return end(
        build, BuildState.INCOMPLETE, BuildEventKind.CLOSED_INCOMPLETE, by=by, reason=reason, at=at or now, now=now
    )


@transaction.atomic
def reopen(*, by: Person, build: Build, reason: str, now: datetime, at: datetime | None = None) -> BuildEvent:
    """Take a closed break-in up again. The file of the close-out stays.

    Raises
    ------
    Refusal : the build is not closed, the engine has another open build, or no reason is given.
    """
    lock_engines([build.engine_id])
    build = lock_build(build)
    if build.state not in (BuildState.CLOSED, BuildState.INCOMPLETE):
        raise Refusal.of(
            "build", f"Build {build.number} is {build.get_state_display()}; only a closed one is reopened.", "conflict"
        )
    reason = need_reason(reason, "Reopening")
    other = Build.objects.filter(engine_id=build.engine_id, state=BuildState.OPEN).first()
    if other is not None:
        raise Refusal.of("build", f"Build {other.number} of this engine is open. There is one at a time.", "conflict")
    Assessment.objects.filter(build=build).update(reopened=True)
    return turn(
        build, BuildState.OPEN, BuildEventKind.REOPENED, by=by, reason=reason, at=at or now, now=now, closed_at=None
    )


def _need_manager(by: Person, now: datetime, what: str) -> None:
    if Role.MANAGER not in roles_of(by, now) and not (by.user is not None and by.user.is_superuser):
        raise Refusal.of("", f"A manager {what}.", "forbidden")


def _need_no_stop(build: Build) -> None:
    still = (FindingState.OPEN, FindingState.ACKNOWLEDGED)
    stop = Finding.objects.filter(build=build, severity=Severity.STOP, state__in=still).first()
    if stop is not None:
        raise Refusal.of(
            "build", f"A Stop stands: {stop.title}. A technician clears it before the close-out.", "conflict"
        )


def _lacking(build: Build, criterion: str, now: datetime) -> Criterion:
    found = next((row for row in drafted(build, None, now).review.lacking if row.key == criterion), None)
    if found is None:
        raise Refusal.of("criterion", "This is not lacking, or is waived already. Load the page again.", "conflict")
    if not found.waivable:
        raise Refusal.of("criterion", f"“{found.what}” can't be waived. {found.mend}", "conflict")
    return found


def _words(field: str, text: str) -> str:
    if len(text) > LONGEST:
        raise Refusal.of(field, f"{len(text)} characters are too long. Keep it under {LONGEST}.")
    return text

"""The notices page: what people were told, who, why, when it is due, what became of it, and whether it was answered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from urllib.parse import urlencode

from django.db.models import Count, Q, QuerySet
from django.urls import reverse

from breakin.models import DueItem, Finding, Message, MessageState, Notice, NoticeLevel, NoticeState, Severity, ShopNote
from breakin.notices.wanted import why_by_phone
from shop.templatetags.words import localwhen

PAGE = 50
UNANSWERED = Q(answered_at__isnull=True)
# Tab, its words, what it shows. Those with work in them carry their count.
TABS: dict[str, tuple[str, Q]] = {
    "": ("All", Q()),
    "phone": ("Use the phone", Q(state=NoticeState.PHONE) & UNANSWERED),
    "failed": ("Could not be sent", Q(state=NoticeState.FAILED) & UNANSWERED),
    "held": ("Held by a restore", Q(state=NoticeState.HELD)),
    "waiting": ("Waiting", Q(state=NoticeState.WAITING)),
    "sent": ("Sent", Q(state=NoticeState.SENT)),
    "answered": ("Answered", Q(answered_at__isnull=False)),
    "dropped": ("Dropped", Q(state=NoticeState.DROPPED)),
}
COUNTED = ("phone", "failed", "held", "waiting")
STATE_SHAPES = {"phone": "call", "failed": "failed", "waiting": "waiting", "sent": "sent", "dropped": "note"}
LEVEL_SHAPES = {NoticeLevel.NOTE: "note", NoticeLevel.NUDGE: "note", NoticeLevel.STOP: "stop"}
LEVEL_WHY = {
    NoticeLevel.NOTE: "The shop wrote to the holder.",
    NoticeLevel.NUDGE: "The owner and the pilot are reminded first.",
    NoticeLevel.CHASE: "The reminder went unanswered: the technicians take it up.",
    NoticeLevel.CALL: "It has to be settled by a call: somebody of the shop phones.",
    NoticeLevel.MANAGER: "Nobody has settled it in time: the manager decides.",
    NoticeLevel.STOP: "A Stop is told to everybody at once.",
}


@dataclass(frozen=True)
class Asked:
    """The page as asked for in the address. Values that mean nothing are left out."""

    state: str = ""
    aircraft: str = ""
    person: str = ""
    before: int | None = None

    @classmethod
    def of(cls, query: Mapping[str, str]) -> Asked:
        state, before = query.get("state", ""), query.get("before", "")
        return cls(
            state=state if state in TABS else "",
            aircraft=query.get("aircraft", "").strip()[:12],
            person=query.get("person", "").strip()[:80],
            before=int(before) if before.isascii() and before.isdigit() and len(before) < 19 else None,
        )

    @property
    def narrowed(self) -> bool:
        return bool(self.aircraft or self.person)

    def url(self, **changes: Any) -> str:
        """The address of the same page with some of it changed, from its first page on unless `before` is given."""
        asked = replace(self, **({"before": None} | changes))
        parts = {"state": asked.state, "aircraft": asked.aircraft, "person": asked.person, "before": asked.before}
        kept = {name: value for name, value in parts.items() if value not in ("", None)}
        return reverse("notices") + (f"?{urlencode(kept)}" if kept else "")


@dataclass(frozen=True)
class Body:
    """The mail that carried a notice, word for word."""

    subject: str
    address: str
    text: str
    state: str
    error: str


@dataclass(frozen=True)
class Row:
    """One notice as the page prints it. Texts are ready; an empty one is left out."""

    id: int
    level: str
    level_kind: str
    headline: str
    text: str
    about: str
    engine: str
    url: str
    name: str
    phone: str
    why: tuple[str, ...]
    due: str
    state: str
    state_kind: str
    state_words: str
    made_at: datetime
    answered: str
    body: Body | None
    may_bounce: bool
    held: bool


@dataclass(frozen=True)
class NoticesPage:
    asked: Asked
    tabs: tuple[dict[str, Any], ...]
    rows: tuple[Row, ...]
    first_url: str
    next_url: str
    clear_url: str
    all_url: str


def notices_page(asked: Asked) -> NoticesPage:
    """One page of notices, newest first: a fixed number of queries. Times are said in the active zone."""
    found = list(_filtered(asked)[: PAGE + 1])
    more, page = len(found) > PAGE, found[:PAGE]
    return NoticesPage(
        asked=asked,
        tabs=_tabs(asked),
        rows=tuple(_row(notice) for notice in page),
        first_url=asked.url() if asked.before else "",
        next_url=asked.url(before=page[-1].pk) if more else "",
        clear_url=asked.url(aircraft="", person=""),
        all_url=asked.url(state=""),
    )


def _filtered(asked: Asked) -> QuerySet[Notice]:
    rows = Notice.objects.filter(TABS[asked.state][1]).order_by("-id")
    if asked.aircraft:
        rows = rows.filter(aircraft__registration__istartswith=asked.aircraft)
    if asked.person:
        rows = rows.filter(recipient__name__istartswith=asked.person)
    if asked.before:
        rows = rows.filter(pk__lt=asked.before)
    return rows.select_related(
        "recipient",
        "aircraft",
        "finding",
        "due_item",
        "note__by",
        "message",
        "build__engine__engine_type",
        "build__assessment",
    )


def _tabs(asked: Asked) -> tuple[dict[str, Any], ...]:
    counts = Notice.objects.aggregate(**{name: Count("pk", filter=TABS[name][1]) for name in COUNTED})
    return tuple(
        {"url": asked.url(state=name), "label": label, "count": counts.get(name), "current": asked.state == name}
        for name, (label, _) in TABS.items()
    )


def _row(notice: Notice) -> Row:
    subject = notice.finding or notice.due_item or notice.note
    assessment = getattr(notice.build, "assessment", None)
    side = (assessment.side if assessment else "").upper()
    return Row(
        id=notice.pk,
        level=notice.get_level_display().capitalize(),
        level_kind=LEVEL_SHAPES.get(NoticeLevel(notice.level), "call"),
        headline=notice.headline,
        text=notice.text,
        about=notice.aircraft.registration if notice.aircraft else "not installed",
        engine=" ".join(part for part in (side if side in ("LEFT", "RIGHT") else "", str(notice.build.engine)) if part),
        url=reverse("engine", args=[notice.build.engine_id]),
        name=notice.recipient.name,
        phone=notice.recipient.phone,
        why=_why(notice, subject),
        due=_due(subject),
        state=notice.get_state_display().capitalize(),
        state_kind=STATE_SHAPES.get(notice.state, "watch"),
        state_words=_state_words(notice),
        made_at=notice.created_at,
        answered=f"Answered {localwhen(notice.answered_at)}" if notice.answered_at else "Not answered yet",
        body=_body(notice.message),
        may_bounce=notice.message is not None
        and notice.message.state == MessageState.SENT
        and notice.message.bounced_at is None,
        held=notice.state == NoticeState.HELD,
    )


def _why(notice: Notice, subject: Finding | DueItem | ShopNote | None) -> tuple[str, ...]:
    lines = [LEVEL_WHY[NoticeLevel(notice.level)]]
    if isinstance(subject, Finding):
        if subject.severity == Severity.STOP and notice.level == NoticeLevel.MANAGER:
            lines = ["Nobody answered this Stop within an hour of working time."]
        lines += [subject.why, f"Rule {subject.rule}; the limit is from: {subject.source}"]
    elif isinstance(subject, ShopNote):
        lines = [f"{subject.by.name} wrote to the holder."]
    elif subject is not None:
        lines += [subject.text, f"Rule {subject.rule}"]
    return tuple(line for line in lines if line and line != notice.text)


def _due(subject: Finding | DueItem | ShopNote | None) -> str:
    if isinstance(subject, ShopNote):
        return f"written {localwhen(subject.at)}"
    if isinstance(subject, Finding):
        return f"since {localwhen(subject.happened_at)}"
    if subject is None:
        return ""
    parts = [f"at {subject.due_h:.1f}\u202fh" if subject.due_h is not None else ""]
    parts.append(localwhen(subject.due_at) if subject.due_at else "")
    return " or ".join(part for part in parts if part)


def _state_words(notice: Notice) -> str:
    if notice.state == NoticeState.SENT:
        return localwhen(notice.sent_at)
    if notice.state == NoticeState.PHONE:
        return f"{why_by_phone(notice.recipient)}; number {notice.recipient.phone or 'not known'}"
    if notice.state != NoticeState.WAITING:
        return notice.why_not_sent
    message = notice.message
    if message is None:
        return f"not before {localwhen(notice.not_before)}"
    if message.state == MessageState.RETRY and message.attempts:
        return f"tried {message.attempts} times, again at {localwhen(message.retry_at)}: {message.last_error}"
    return "being sent"


def _body(message: Message | None) -> Body | None:
    if message is None or not message.attempts:
        return None
    return Body(message.subject, message.address, message.text, message.get_state_display(), message.last_error)

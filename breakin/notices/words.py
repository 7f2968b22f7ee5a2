"""What a mail says: to one person, about one aircraft, in his units and his zone.

Pilots get it in their language. The shop's side is written in English, and so are the mails to its people.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.conf import settings
from django.urls import NoReverseMatch, reverse
from django.utils import translation
from django.utils.translation import gettext as _

from breakin.calc.said import Said, fixed, said
from breakin.calc.units import Kind, show
from breakin.models import Assessment, DueItem, Finding, Message, Notice, NoticeLevel, Phase, ShopNote
from breakin.notices import steps
from breakin.notices.claiming import is_stop
from breakin.notices.people import Concerned, concerned
from breakin.notices.wanted import Subject
from breakin.saying import field_for, read, say
from engines.models import Build
from shop import mail
from shop.models import Person, Shop
from shop.templatetags.words import localwhen
from shop.written import day, digits

LEVELS = {
    NoticeLevel.NOTE: said("Message"),
    NoticeLevel.NUDGE: said("Nudge"),
    NoticeLevel.CHASE: said("Chase"),
    NoticeLevel.CALL: said("Call"),
    NoticeLevel.MANAGER: said("Manager"),
    NoticeLevel.STOP: said("Stop"),
}
ORDER = {level: place for place, level in enumerate(NoticeLevel)}


@dataclass(frozen=True)
class Matter:
    """One thing the mail is about. `facts` are (label, value) in the reader's units.

    asks : an entry of the pilot or the shop answers it, and it goes by itself once that has come. note : words of the
    shop, which nothing but an answer settles.
    """

    word: str
    engine: str
    headline: str
    text: str
    source: str
    happened_at: datetime | None
    facts: tuple[tuple[str, str], ...]
    next_step: str
    url: str
    action: str
    asks: bool = False
    note: bool = False


def compose(message: Message, notices: list[Notice], now: datetime) -> mail.Words:
    """The words of one message from its notices (all to one person, about one aircraft or one Stop)."""
    person = message.recipient
    around = concerned({notice.build for notice in notices}, now)
    language = settings.LANGUAGE_CODE if around.staff.includes(person.pk) else person.language
    with translation.override(language):
        return _composed(person, notices, around, language)


def _composed(person: Person, notices: list[Notice], around: Concerned, language: str) -> mail.Words:
    """The words in the active language."""
    shop = Shop.objects.first()
    matters = [_matter(notice, person, around, shop) for notice in _once_each(notices)]
    name = _name(notices[0], around)
    stop = is_stop(notices[0])
    context = {
        "person": person,
        "name": name,
        "matters": matters,
        "only_notes": all(matter.note for matter in matters),
        "goes_away": _goes_away(matters),
        "criteria": _criteria(notices, around),
        "subject": _subject(name, matters, stop),
        "why": _why(person, name, around, notices[0].build),
        "shop_name": shop.name if shop else "",
        "shop_phone": shop.phone if shop else "",
        "language": language,
    }
    return mail.render(f"breakin/mail/{'stop' if stop else 'reminder'}", context, zone=person.zone, language=language)


def _once_each(notices: Iterable[Notice]) -> list[Notice]:
    """One notice of each matter, the most urgent: who is nudged and called about one thing reads it once."""
    best: dict[tuple[object, ...], Notice] = {}
    for notice in sorted(notices, key=lambda row: (ORDER[NoticeLevel(row.level)], -row.pk)):
        # Whom to phone stands in the headline, so that each call is a matter of its own.
        best[notice.finding_id, notice.due_item_id, notice.note_id, notice.headline] = notice
    return sorted(best.values(), key=lambda row: (-ORDER[NoticeLevel(row.level)], row.pk))


def _matter(notice: Notice, person: Person, around: Concerned, shop: Shop | None) -> Matter:
    subject = _subject_of(notice)
    crew = around.crew(notice.build)
    customer = crew.flies(person.pk) and not around.staff.includes(person.pk)
    name, args, action = steps.door(subject, customer, notice.build, around.seat(notice.build))
    phoned = ":for-" in notice.key  # whom to phone is for the shop
    return Matter(
        word=say(LEVELS[NoticeLevel.STOP if is_stop(notice) else NoticeLevel(notice.level)]),
        engine=_engine(notice.build, around),
        headline=notice.headline if phoned else _headline(notice, subject, person),
        # Whom to phone is said as it was planned; the rest as it stands now, which may have moved since.
        text=notice.text if phoned or isinstance(subject, ShopNote) else field_for(subject, "text", person.units),
        source=subject.source if isinstance(subject, Finding) else "",
        happened_at=_moment(subject),
        facts=_facts(notice.build, subject if isinstance(subject, DueItem) else None, person),
        next_step=steps.next_step(notice, subject, customer, crew.contacts, shop),
        url=link(name, *args),
        action=action,
        asks=isinstance(subject, DueItem),
        note=isinstance(subject, ShopNote),
    )


def _goes_away(matters: list[Matter]) -> str:
    """What of this mail needs no answer of its own once the entry has come; "" where nothing asks for an entry."""
    if all(matter.asks for matter in matters):
        return _("It goes away by itself once the entry it asks for has come.")
    if any(matter.asks for matter in matters):
        return _("What asks for an entry goes away by itself once that entry has come.")
    return ""


def _headline(notice: Notice, subject: Subject, person: Person) -> str:
    if isinstance(subject, ShopNote):
        return say(said("A message from the shop"))
    return read(notice.headline, subject.said.get("title"), person.units)


def _moment(subject: Subject) -> datetime | None:
    if isinstance(subject, ShopNote):
        return subject.at
    return subject.happened_at if isinstance(subject, Finding) else None


def _subject_of(notice: Notice) -> Subject:
    subject = notice.finding or notice.due_item or notice.note
    if subject is None:
        raise ValueError(f"Notice {notice.pk} is about nothing.")
    return subject


def _facts(build: Build, due: DueItem | None, person: Person) -> tuple[tuple[str, str], ...]:
    rows: list[tuple[str, str]] = []
    assessment = _assessment(build)
    if assessment is not None:
        rows.append((_("Run since this build"), _quantity(assessment.hours, Kind.HOURS, person)))
        if assessment.oil_level_qt is not None:
            rows.append((_("Last oil level"), _quantity(assessment.oil_level_qt, Kind.VOLUME, person)))
    if due is not None and due.due_h is not None:
        rows.append((_("Due at"), _quantity(due.due_h, Kind.HOURS, person)))
    if due is not None and due.due_at is not None:
        since = _("Asked for since") if due.state in ("due", "late") else _("Due")
        rows.append((since if due.due_h is None else _("Or on"), localwhen(due.due_at, person.zone)))
    if due is not None and due.forecast_on is not None:
        rows.append((_("Likely reached"), day(due.forecast_on)))
    return tuple(rows)


def _quantity(value: float, kind: Kind, person: Person) -> str:
    return digits(show(value, kind, person.units))


def _criteria(notices: list[Notice], around: Concerned) -> list[tuple[str, str]]:
    """(engine, sentence) for each engine that the mail is about."""
    builds = {notice.build_id: notice.build for notice in notices}
    return [(_engine(build, around), say(criteria(_assessment(build)))) for build in builds.values()]


def criteria(assessment: Assessment | None) -> Said:
    """Whether the criteria of the break-in are met, in the only three words this software has for it."""
    review = (assessment.detail or {}).get("review") if assessment else None
    silent = assessment is None or assessment.phase in (Phase.LOG_ONLY, Phase.PRESERVED, Phase.AWAITING)
    if silent or not review:
        return said("break-in criteria not known")
    lacking = len(review.get("lacking", ()))
    if not lacking:
        return said("break-in criteria met")
    return said("break-in criteria not met, {lacking} open", lacking=fixed(lacking, 0))


def _assessment(build: Build) -> Assessment | None:
    return getattr(build, "assessment", None)


def _engine(build: Build, around: Concerned) -> str:
    seat = around.seat(build)
    if seat is None or seat.position not in ("left", "right"):
        return str(build.engine)
    left = seat.position == "left"
    return say(
        said("LEFT engine, {engine}", engine=str(build.engine))
        if left
        else said("RIGHT engine, {engine}", engine=str(build.engine))
    )


def _name(notice: Notice, around: Concerned) -> str:
    seat = around.seat(notice.build)
    return seat.aircraft.registration if seat else say(said("engine {serial}", serial=notice.build.engine.serial))


def _subject(name: str, matters: list[Matter], stop: bool) -> str:
    first = matters[0].headline
    if stop:
        return say(said("STOP {aircraft}: {first}", aircraft=name, first=first))
    more = len(matters) - 1
    if not more:
        return f"{name}: {first}"
    return say(said("{aircraft}: {first} and {more} more", aircraft=name, first=first, more=fixed(more, 0)))


def _why(person: Person, name: str, around: Concerned, build: Build) -> str:
    if around.staff.includes(person.pk):
        return f"you look after {name} in the shop."
    if any(person.pk == pilot.pk for pilot in around.crew(build).assigned):
        return say(said("you are the break-in pilot assigned to {aircraft}.", aircraft=name))
    return say(said("you hold or fly {aircraft}.", aircraft=name))


def link(name: str, *args: int) -> str:
    """The full address of a page; of the first page where this server has no such page."""
    try:
        return settings.SITE_URL + reverse(name, args=args)
    except NoReverseMatch:
        return settings.SITE_URL + "/"

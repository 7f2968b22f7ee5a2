"""What to do next about a matter, and where: the sentence and the page a mail ends with.

Common practice in the trade, no published source, except where the sentence points to the POH/AFM or the maker.
"""

from __future__ import annotations

from breakin.calc.said import said, sentences
from breakin.models import DueItem, Finding, Notice, NoticeLevel, Severity, ShopNote
from breakin.notices.people import Seat
from breakin.saying import say
from engines.models import Build
from shop.models import Person, Shop

PILOT_STEPS = {
    "oil_reading": said(
        "Read the dipstick on level ground, 10 to 30 minutes after shutdown, wiped and read twice. Send the "
        "level as it is; an estimate marked as one is better than none."
    ),
    "oil_filter": said(
        "Agree on a day with the shop before the hours run out. Tell the shop if a long trip is planned."
    ),
    "flight": said(
        "Fly the next flight as its card says, or send the log if it was flown. If the aircraft cannot fly, ask "
        "the shop about preserving the engine. Running it on the ground is no substitute."
    ),
    "leak": said("Have the cowls off and the engine looked over before the next flight; agree on it with the shop."),
    "follow_up": said("Agree on a day with the shop for this follow-up."),
    "look_metal": said("Agree with the shop on a day for the look, soon, and before long trips."),
    "look_rings": said("Agree with the shop on a day for the look, soon, and before long trips."),
    "borescope": said("Agree on a day with the shop for the look into the bores."),
    "look_cooling": said("Agree with the shop on the look before the next flight."),
    "look_induction": said("Agree with the shop on the look before the next flight."),
    "accessory": said("Agree on a day with the shop before the hours or the date run out."),
    "answer": said("Answer the shop's question with a log entry, or phone."),
}
TELL_ALL = said("Tell everybody who might fly this aircraft.")
PILOT_STEP = said("Ask the shop what is needed, or answer with a log entry.")

STAFF_STEPS = {
    "oil_reading": "Get the reading from the pilot, or take it at the aircraft, and enter it.",
    "oil_filter": "Do the oil and filter, open the filter, and complete the check with what was found.",
    "flight": "Find out why it does not fly. Fly it, preserve it, or keep it on the ground as the engine maker says; "
    "running it on the ground is no substitute.",
    "preservation": "Renew the preservation and enter the new date, by the engine maker's current instructions.",
    "leak": "Look for leaks and chafe, check the clamps and the maker's torque list, and complete the check.",
    "follow_up": "Agree on a day with the customer, do the follow-up and complete it.",
    "cut_filter": "Cut the filter that came off, or the next one, and enter what was in it.",
    "look_metal": "Open the filter again or look into the bores, and enter what was found.",
    "look_rings": "Look into the bores or measure compression again, and enter what was found.",
    "look_cooling": "Check baffles, timing or fuel flow, and enter what was found and left.",
    "look_induction": "Check the intake and the gauge, and enter what was found and left.",
    "borescope": "Look into the bores with the borescope, and enter a grade for each.",
    "accessory": "Do the work by the maker's current instructions, and enter it for this accessory.",
    "answer": "Get the answer from the customer and enter it.",
}
UNANSWERED = "Nobody has answered this Stop for an hour of working time. "
STAFF_STEP = "Take it up and enter what was found."


def next_step(
    notice: Notice,
    subject: Finding | DueItem | ShopNote,
    customer: bool,
    contacts: tuple[Person, ...],
    shop: Shop | None,
) -> str:
    """One or two sentences: what this reader is to do."""
    if isinstance(subject, Finding):
        late = notice.level == NoticeLevel.MANAGER
        return (UNANSWERED if late else "") + _of_finding(subject, customer, contacts, shop)
    if isinstance(subject, ShopNote):
        return say(said("Answer by phone, or with your next entry.")) if customer else _phone(contacts)
    if customer:
        return say(PILOT_STEPS.get(subject.kind, PILOT_STEP))
    step = STAFF_STEPS.get(subject.kind, STAFF_STEP)
    if notice.level in (NoticeLevel.CALL, NoticeLevel.MANAGER):
        return f"{_phone(contacts)} {step}"
    return step


def _of_finding(finding: Finding, customer: bool, contacts: tuple[Person, ...], shop: Shop | None) -> str:
    if finding.severity == Severity.STOP:
        if customer:
            ask = said("Phone the shop: {phone}.", phone=shop.phone) if shop and shop.phone else said("Phone the shop.")
            return say(sentences(ask, TELL_ALL))
        return (
            "A technician looks at the engine, and clears the Stop on the engine page with cause and action. "
            f"{_phone(contacts)}"
        )
    if customer:
        return say(said("The shop will phone. Speak with it before the next flight."))
    return f"{_phone(contacts)} Acknowledge it on the engine page once somebody has."


def _phone(contacts: tuple[Person, ...]) -> str:
    if not contacts:
        return "No customer is known who could be phoned."
    people = [f"{person.name} ({person.phone or 'no number known'})" for person in contacts]
    return f"Phone {' or '.join(people)}."


def door(
    subject: Finding | DueItem | ShopNote, customer: bool, build: Build, seat: Seat | None
) -> tuple[str, tuple[int, ...], str]:
    """Name and arguments of the page to go to, and the words of its link."""
    if not customer:
        return "engine", (build.engine_id,), "Open the engine page"
    kind = subject.kind if isinstance(subject, DueItem) else ""
    if kind == "oil_reading":
        return "oil_reading", (build.engine_id,), say(said("Send the oil reading"))
    if kind in ("flight", "answer") and seat is not None:
        return "log_flight", (seat.aircraft.pk,), say(said("Log a flight"))
    return "portal", (), say(said("Open your engines"))

"""What a story asks of a judgement: what was found and how grave, what is asked for, what a rule answers."""

from __future__ import annotations

from datetime import datetime

from breakin.judgement import AskedItem, Judgement, judge
from breakin.picture.picture import Picture
from breakin.record import BuildRecord
from breakin.rules import RULES, Answer
from shop.models import Person, User
from tests.breakin.records import after

SOON = after(30)


def judged(record: BuildRecord, day: float = 30) -> Judgement:
    return judge(record, after(day))


def severities(of: Judgement, rule: str) -> list[int]:
    return [one.hit.severity for one in of.findings if one.rule.id == rule]


def words(of: Judgement, rule: str) -> str:
    """All that a rule found, in its own words."""
    return " ".join(one.hit.text for one in of.findings if one.rule.id == rule)


def asked(of: Judgement, kind: str) -> list[AskedItem]:
    return [one for one in of.due if one.asked.kind == kind]


def said(record: BuildRecord, rule: str, now: datetime = SOON) -> Answer:
    return RULES[rule].ask(Picture(record, now))


def lacking(of: Judgement) -> set[str]:
    """Keys of the criteria that keep a build from review."""
    return {one.key for one in of.review.lacking}


def user_of(person: Person) -> User:
    """The sign-in of somebody of the cast."""
    assert person.user is not None
    return person.user

"""The page of ring and barrel lots: alarms in sentences with every engine of the lot, and the counts of each lot."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from breakin.batches import SLOW_BUILDS, STOPS_OF_A_KIND, Alarm, LotCount, alarms, lot_counts
from breakin.load_batches import batch_rows
from breakin.rules import RULES
from engines.models import Build

PAGE = 50


@dataclass(frozen=True)
class EngineLine:
    """One build of a lot: where its page is, its name, how it stands, and whether it shows the trouble."""

    url: str
    label: str
    state: str
    shows: bool


@dataclass(frozen=True)
class AlarmView:
    title: str
    say: str
    engines: tuple[EngineLine, ...]


@dataclass(frozen=True)
class LotRow:
    name: str
    builds: int
    running: int
    slow: int
    stops: str
    alarm: bool


@dataclass(frozen=True)
class LotsPage:
    """`alarms` are all there are, on every page; `rows` one page of the lots."""

    alarms: tuple[AlarmView, ...]
    rows: tuple[LotRow, ...]
    lots: int
    first_url: str
    next_url: str
    slow_line: int = SLOW_BUILDS
    stops_line: int = STOPS_OF_A_KIND


def lots_page(after: str) -> LotsPage:
    """The page behind the lot named `after`; "" for the first. A fixed number of queries."""
    rows = batch_rows()
    counts, raised = lot_counts(rows), alarms(rows)
    beyond = [each for each in counts if _key(each) > after]
    page, more = beyond[:PAGE], len(beyond) > PAGE
    builds = _builds(build for alarm in raised for build in alarm.builds)
    alarmed = {alarm.lot for alarm in raised}
    return LotsPage(
        alarms=tuple(_alarm(each, builds) for each in raised),
        rows=tuple(_row(each, each.lot in alarmed) for each in page),
        lots=len(counts),
        first_url=reverse("lots") if after else "",
        next_url=f"{reverse('lots')}?{urlencode({'after': _key(page[-1])})}" if more else "",
    )


def _key(count: LotCount) -> str:
    return f"{count.lot.kind} {count.lot.name}"


def _builds(ids: Iterable[int]) -> Mapping[int, Build]:
    return Build.objects.select_related("engine__engine_type").in_bulk(set(ids))


def _alarm(alarm: Alarm, builds: Mapping[int, Build]) -> AlarmView:
    name = str(alarm.lot)
    of = f"of {len(alarm.builds)} with it" if len(alarm.builds) > 1 else "with it"
    if alarm.rule:
        shown = f"{len(alarm.shown_by)} build{'s' if len(alarm.shown_by) > 1 else ''}"
        say = (
            f"{alarm.number} Stops of one kind, “{_title(alarm.rule)}”, in {shown} {of}. Ask what they have in common "
            "before the lot is used again, and look at every engine that has it."
        )
    else:
        say = (
            f"{alarm.number} builds were slow to settle {of}. Ask about the hone and the rings before the lot is used "
            "again, and look at every engine that has it."
        )
    lines = tuple(_line(builds[build], build in alarm.shown_by) for build in alarm.builds)
    return AlarmView(name[:1].upper() + name[1:], say, lines)


def _line(build: Build, shows: bool) -> EngineLine:
    url = f"{reverse('engine', args=[build.engine_id])}?build={build.pk}"
    return EngineLine(url, f"{build.engine}, build {build.number}", build.get_state_display(), shows)


def _row(count: LotCount, alarm: bool) -> LotRow:
    name = str(count.lot)
    stops = "; ".join(f"{_title(rule)}: {number}" for rule, number in count.stops)
    return LotRow(
        name[:1].upper() + name[1:], len(count.builds), count.running, len(count.slow), stops or "none", alarm
    )


def _title(rule: str) -> str:
    return RULES[rule].title if rule in RULES else rule

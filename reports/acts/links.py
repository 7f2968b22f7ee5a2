"""What a reader may do with an engine, as links for its page."""

from __future__ import annotations

from urllib.parse import urlencode

from django.urls import reverse

from engines.models import Build, BuildState, Position
from reports.engine.page import EnginePage
from reports.reader import Reader
from shop import access

Link = tuple[str, str]
# A closed build is watched for half a year without running: it can be preserved too.
_KEPT = (BuildState.OPEN, BuildState.CLOSED)


def engine_acts(reader: Reader, page: EnginePage) -> tuple[Link, ...]:
    """(address, words) of every act that this reader may do now, in the order of a build's life. Costs no query."""
    if not reader.staff:
        return ()
    sheet = [(reverse("build_sheet", args=[page.build.pk]), "Build sheet")] if page.build else []
    open_build = page.build if page.build and page.build.state == BuildState.OPEN else None
    links: list[Link] = sheet
    if open_build and access.may_now(reader.user, "issue_plan"):
        words = "Issue the plan again" if page.plan else "Issue the plan"
        links.append((reverse("plan_issue", args=[open_build.pk]), words))
    if open_build and access.may_now(reader.user, "open_build"):
        links.append((reverse("build_cell", args=[open_build.pk]), "Enter a cell run"))
    if page.build and page.build.state in _KEPT and access.may_now(reader.user, "install"):
        links.append((reverse("build_preserve", args=[page.build.pk]), "Preserve"))
    if access.may_now(reader.user, "install"):
        links += _seat_links(page)
    if access.may_now(reader.user, "transfer"):
        seat = next((row for row in reversed(page.installations) if row.until is None), None)
        links += [(reverse("aircraft_transfer", args=[seat.aircraft_id]), "Change of holder")] if seat else []
    if page.merge_url and access.may_now(reader.user, "merge_flights"):
        links.append((page.merge_url, "Merge duplicate flights"))
    if page.build:
        links += _close_links(reader, page.build)
    if access.may_now(reader.user, "open_build"):
        query = urlencode({"type": page.engine.engine_type_id, "engine": page.engine.pk})
        links.append((f"{reverse('build_new')}?{query}", "New build"))
    return tuple(links)


def _seat_links(page: EnginePage) -> list[Link]:
    seat = next((row for row in reversed(page.installations) if row.until is None), None)
    if seat is None:
        return [(reverse("engine_install", args=[page.engine.pk]), "Install")]
    links = [
        (reverse("meter_change", args=[seat.aircraft_id]), "Change a meter"),
        (reverse("engine_revise", args=[page.engine.pk]), "Change the installation"),
        (reverse("engine_remove", args=[page.engine.pk]), "Remove"),
    ]
    if seat.position in (Position.LEFT, Position.RIGHT):
        links.insert(0, (reverse("aircraft_swap", args=[seat.aircraft_id]), "Swap LEFT and RIGHT"))
    return links


def _close_links(reader: Reader, build: Build) -> list[Link]:
    if build.state == BuildState.OPEN and access.may_now(reader.user, "propose_close"):
        return [(reverse("build_close", args=[build.pk]), "Close")]
    if build.state in (BuildState.CLOSED, BuildState.INCOMPLETE) and access.may_now(reader.user, "close_build"):
        return [(reverse("build_reopen", args=[build.pk]), "Reopen")]
    return []

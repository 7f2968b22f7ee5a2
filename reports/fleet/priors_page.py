"""What the oil estimate believes of a finish before it reads a log: built in, in force, proposed by the fleet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.urls import reverse

from breakin import priors
from breakin.calc.oil.learn import typical_decay_h
from breakin.calc.oil.prior import BUILT_IN, Prior
from breakin.calc.units import NARROW_SPACE
from breakin.fleet_prior import in_force
from breakin.jobs import OIL_PRIORS
from breakin.models import PriorAdoption, PriorProposal
from engines.models import Build, BuildState
from reports.quantities import in_units, unit
from reports.reader import Reader
from shop.models import JobRun

HISTORY = 50
BUILT_IN_CHOICE = "built in"
FINISH_WORDS = {
    "steel": "through-hardened or plain steel",
    "nitrided": "nitrided steel",
    "chrome": "channel chrome",
    "unknown": "another finish, or none on record",
}


@dataclass(frozen=True)
class Value:
    """One number of a finish in words; ``proposed`` and ``band`` are "" where nothing is proposed."""

    what: str
    built_in: str
    in_force: str
    proposed: str
    band: str


@dataclass(frozen=True)
class EngineLink:
    label: str
    url: str


@dataclass(frozen=True)
class FinishRow:
    label: str
    values: tuple[Value, ...]
    engines: tuple[EngineLink, ...]
    meaning: str


@dataclass(frozen=True)
class PastProposal:
    name: str
    made_at: datetime
    engines: int
    left_out: tuple[str, ...]


@dataclass(frozen=True)
class PriorsPage:
    """`offered` are the choices of the form: (value, words). Empty when there is nothing to adopt."""

    rows: tuple[FinishRow, ...]
    in_force: str
    since: PriorAdoption | None
    proposal: PriorProposal | None
    with_log: int
    needed: int
    looked_at: datetime | None
    open_builds: int
    offered: tuple[tuple[str, str], ...]
    adoptions: Sequence[PriorAdoption]
    proposals: tuple[PastProposal, ...]

    @property
    def too_few(self) -> bool:
        return self.proposal is None and self.with_log < self.needed

    @property
    def count_words(self) -> str:
        return f"{self.with_log} of {self.needed}."

    @property
    def nothing_words(self) -> str:
        said = f"{self.with_log} ended builds have an oil log"
        if self.looked_at is None:
            return f"{said}; the next night reads them."
        return f"{said}; they say what the built-in numbers say."

    @property
    def pending(self) -> bool:
        """Is the newest proposal not in force?"""
        return self.proposal is not None and self.proposal.name != self.in_force


def priors_page(reader: Reader) -> PriorsPage:
    """The page, in the reader's units."""
    proposals = list(PriorProposal.objects.order_by("-night")[:HISTORY])
    adoptions = list(PriorAdoption.objects.select_related("proposal", "by")[:HISTORY])
    newest = proposals[0] if proposals else None
    current = in_force()
    run = JobRun.objects.filter(name=OIL_PRIORS, finished_at__isnull=False).order_by("-started_at").first()
    return PriorsPage(
        rows=_rows(newest, current, reader.units),
        in_force=current.name,
        since=adoptions[0] if adoptions else None,
        proposal=newest,
        with_log=priors.ended_with_log(),
        needed=priors.NEEDED_ENGINES,
        looked_at=run.finished_at if run else None,
        open_builds=Build.objects.filter(state=BuildState.OPEN).count(),
        offered=_offered(newest, adoptions[0] if adoptions else None),
        adoptions=adoptions,
        proposals=_past(proposals),
    )


def _offered(newest: PriorProposal | None, held: PriorAdoption | None) -> tuple[tuple[str, str], ...]:
    """The newest proposal and the built-in prior, without the one that is in force."""
    choices: list[tuple[str, str]] = []
    holds = held.proposal_id if held else None
    if newest is not None and newest.pk != holds:
        choices.append((str(newest.pk), f"{newest.name} (proposed)"))
    if holds is not None:
        choices.append((BUILT_IN_CHOICE, "built in"))
    return tuple(choices)


def _rows(proposal: PriorProposal | None, current: Prior, units: str) -> tuple[FinishRow, ...]:
    learned = {row["finish"]: row for row in proposal.finishes} if proposal else {}
    links = _links(learned.values())
    rows = []
    for finish, label in FINISH_WORDS.items():
        found: dict[str, Any] = learned.get(finish, {})
        now, first = current.finish(finish), BUILT_IN.finish(finish)
        decay = [typical_decay_h(first), typical_decay_h(now), *found.get("decay_h", [0.0])[1:]]
        plateau = [first.plateau_qt_h, now.plateau_qt_h, *found.get("plateau_qt_h", [0.0])[1:]]
        rows.append(
            FinishRow(
                label=label,
                values=(
                    _value("decay time", decay, "h", 1),
                    _value("settled loss", [in_units(one, "volume", units) for one in plateau], _rate(units), 3),
                ),
                engines=tuple(links[build] for build in found.get("builds", ()) if build in links),
                meaning=_meaning(decay, plateau, units) if found.get("builds") else "",
            )
        )
    return tuple(rows)


def _rate(units: str) -> str:
    return f"{unit('volume', units)}/h"


def _value(what: str, numbers: Sequence[float], name: str, places: int) -> Value:
    """From built in, in force and - where something is proposed - proposed, low and high."""
    said = [f"{number:.{places}f}" for number in numbers]
    shown = [f"{one}{NARROW_SPACE}{name}" for one in said]
    if len(shown) < 5:
        return Value(what, shown[0], shown[1], "", "")
    return Value(what, shown[0], shown[1], shown[2], f"{said[3]} to {shown[4]}")


def _meaning(decay: Sequence[float], plateau: Sequence[float], units: str) -> str:
    """What adopting would change for an open build of this finish, in a sentence or two."""
    said = []
    if abs(decay[2] / decay[1] - 1) >= priors.MATERIAL_SHARE:
        later = decay[2] > decay[1]
        said.append(
            f"Expected to settle {'slower' if later else 'faster'}: {decay[2]:.1f} h instead of {decay[1]:.1f} h, so "
            f"an open build needs {'more' if later else 'less'} proof of its own before its loss counts as stabilized."
        )
    if abs(plateau[2] / plateau[1] - 1) >= priors.MATERIAL_SHARE:
        new, old = (in_units(one, "volume", units) for one in (plateau[2], plateau[1]))
        said.append(
            f"Expected to settle at a {'higher' if new > old else 'lower'} loss: {new:.3f} instead of {old:.3f} "
            f"{_rate(units)}."
        )
    return " ".join(said) or "Next to nothing."


def _links(rows: Any) -> dict[int, EngineLink]:
    ids = [build for row in rows for build in row["builds"]]
    builds = Build.objects.filter(pk__in=ids).select_related("engine")
    return {
        build.pk: EngineLink(
            f"{build.engine.serial}, build {build.number}",
            f"{reverse('engine', args=[build.engine_id])}?build={build.pk}",
        )
        for build in builds
    }


def _past(proposals: Sequence[PriorProposal]) -> tuple[PastProposal, ...]:
    ids = {row["build"] for proposal in proposals for row in proposal.left_out}
    numbers = dict(Build.objects.filter(pk__in=ids).values_list("pk", "number"))
    return tuple(
        PastProposal(
            name=proposal.name,
            made_at=proposal.made_at,
            engines=proposal.engines,
            left_out=tuple(f"Build {numbers.get(row['build'], '?')}: {row['why']}" for row in proposal.left_out),
        )
        for proposal in proposals
    )

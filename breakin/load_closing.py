"""What was waived, proposed and sealed of builds, for their records: three queries however many builds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from breakin.models import CloseOutFile, CloseOutProposal, Waiver
from breakin.record import ProposalFacts, SealedFacts, WaiverFacts

_TURNS = ("closed_out", "reopened", "closed_incomplete", "superseded")


class Closings:
    """The rows of a set of builds. A waiver or a proposal holds until the build is closed or reopened."""

    def __init__(self, build_ids: Sequence[int]) -> None:
        own = {"build__in": build_ids}
        self._waivers: dict[int, list[Mapping[str, Any]]] = {}
        for row in (
            Waiver.objects.filter(**own)
            .order_by("at", "id")
            .values("build_id", "criterion", "granted", "reason", "by__name", "at")
        ):
            self._waivers.setdefault(row["build_id"], []).append(row)
        standing = CloseOutProposal.objects.filter(**own, returned__isnull=True, file__isnull=True)
        self._proposals = {
            row["build_id"]: ProposalFacts(row["by__name"], row["at"])
            for row in standing.order_by("at", "id").values("build_id", "by__name", "at")
        }
        self._files = {
            row["build_id"]: sealed_facts(row["number"], row["signed_at"], row["hours"], row["sealed"])
            for row in CloseOutFile.objects.filter(**own)
            .order_by("number")
            .values("build_id", "number", "signed_at", "hours", "sealed")
        }

    def of(self, build_id: int, state: str, events: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
        """waivers, proposal and sealed of one build, as its record names them."""
        turned = max((row["at"] for row in events if row["kind"] in _TURNS), default=None)
        proposal = self._proposals.get(build_id)
        stands = proposal is not None and state == "open" and _after(proposal.at, turned)
        return {
            "waivers": self._standing(build_id, turned if state == "open" else None),
            "proposal": proposal if stands else None,
            "sealed": self._files.get(build_id),
        }

    def _standing(self, build_id: int, turned: datetime | None) -> tuple[WaiverFacts, ...]:
        newest = {
            row["criterion"]: row for row in self._waivers.get(build_id, []) if turned is None or row["at"] > turned
        }
        return tuple(
            WaiverFacts(row["criterion"], row["reason"], row["by__name"], row["at"])
            for row in newest.values()
            if row["granted"]
        )


def _after(at: datetime, turned: datetime | None) -> bool:
    return turned is None or at > turned


def sealed_facts(number: int, at: datetime, hours: float, sealed: Mapping[str, Any]) -> SealedFacts:
    """The stored comparison of a file as the record holds it."""
    window = sealed.get("window")
    return SealedFacts(
        number=number,
        at=at,
        hours=hours,
        rate_qt_h=sealed.get("rate_qt_h"),
        u_qt_h=sealed.get("u_qt_h"),
        window=(window[0], window[1], window[2], window[3]) if window else None,
        first_two=str(sealed.get("first_two", "")),
        criteria=tuple((str(key), bool(met)) for key, met in sealed.get("criteria", ())),
        roots=tuple((str(a), str(b), str(c), int(d)) for a, b, c, d in sealed.get("roots", ())),
    )

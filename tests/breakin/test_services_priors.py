"""The fleet's prior: proposed at night and never adopted by itself; adopted by a manager, for open builds only."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from breakin import assess, priors, tasks
from breakin.calc.errors import BadLog
from breakin.calc.oil import learn
from breakin.calc.oil.prior import BUILT_IN
from breakin.fleet_prior import in_force, prior_of_proposal, priors_by_build
from breakin.load import load
from breakin.models import Assessment, PriorAdoption, PriorProposal
from breakin.services.closing import close_incomplete, reopen
from breakin.services.priors import adopt
from engines.models import Build, CylinderPosition
from shop.errors import Refusal
from shop.models import AuditEvent, JobRun, JobState
from tests.again import made_again
from tests.breakin.ended_builds import ended_build, ended_fleet
from tests.factories import NOW, Cast, assessment, cast, flown

pytestmark = [pytest.mark.django_db, pytest.mark.slow]
NIGHT = NOW + timedelta(days=1)
LATER = NIGHT + timedelta(hours=8)


def five_ended() -> Cast:
    """The standing cast, five ended engines and what the night makes of them."""
    shop = cast()
    ended_fleet(shop, 5)
    assert priors.propose(NIGHT)
    return shop


@pytest.fixture
def shop(request: pytest.FixtureRequest) -> Cast:
    return made_again(five_ended) if "proposal" in request.fixturenames else cast()


@pytest.fixture
def proposal(shop: Cast) -> PriorProposal:
    return PriorProposal.objects.get()


def of(proposal: PriorProposal, finish: str) -> dict[str, Any]:
    found: dict[str, Any] = next(row for row in proposal.finishes if row["finish"] == finish)
    return found


def prior_named(build: Build) -> Any:
    return assessment(build).detail["oil"]["prior"]


class TestProposing:
    def test_five_thirsty_engines_raise_the_plateau_of_their_finish_alone(self, proposal: PriorProposal) -> None:
        built_in, proposed, low, high = of(proposal, "nitrided")["plateau_qt_h"]
        assert built_in == BUILT_IN.finish("nitrided").plateau_qt_h
        assert 1.05 * built_in < proposed < 0.2
        assert low < proposed < high
        assert len(of(proposal, "nitrided")["builds"]) == 5
        assert of(proposal, "steel")["builds"] == []
        prior = prior_of_proposal(proposal)
        assert prior.finish("nitrided").plateau_qt_h == proposed
        assert prior.finish("steel") == BUILT_IN.finish("steel")
        assert prior.name == proposal.name == f"shop {proposal.night}, 5 engines"

    def test_nothing_is_in_force_before_somebody_adopts(self, proposal: PriorProposal, shop: Cast) -> None:
        assert in_force() is BUILT_IN
        assert load([shop.build_1.pk], LATER)[shop.build_1.pk].prior is BUILT_IN

    def test_four_ended_builds_are_too_few(self, shop: Cast) -> None:
        ended_fleet(shop, 4)
        assert priors.ended_with_log() == 4
        assert priors.propose(NIGHT) is None

    def test_a_build_given_up_early_counts_and_one_without_readings_says_why_not(self, shop: Cast) -> None:
        ended_fleet(shop, 5)
        silent = ended_build(shop, 90, readings=2)
        partial = ended_build(shop, 91)
        CylinderPosition.objects.filter(build=partial, number=1).update(disturbed=False)
        assert priors.ended_with_log() == 5
        made = priors.propose(NIGHT)
        assert made is not None
        why = {row["build"]: row["why"] for row in made.left_out}
        assert set(why) == {silent.pk, partial.pk}
        assert "Too few oil readings" in why[silent.pk]
        assert "Not every cylinder was new" in why[partial.pk]
        assert Build.objects.filter(pk__in=of(made, "nitrided")["builds"], state="incomplete").count() == 1

    def test_twice_a_night_makes_one_row_and_the_same_again_makes_none(self, proposal: PriorProposal) -> None:
        assert priors.propose(NIGHT + timedelta(hours=1)) is None
        assert priors.propose(NIGHT + timedelta(days=1)) is None
        assert PriorProposal.objects.count() == 1

    def test_a_log_that_cannot_be_read_stops_nobody(self, shop: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
        ended_fleet(shop, 6)
        first = priors.ended_builds()[0]
        read = learn.evidence

        def sometimes(log: Any, name: str, prior: Any) -> Any:
            if name == str(first):
                raise BadLog("hours fall", where="entry 2", mend="Correct the hours.")
            return read(log, name, prior)

        monkeypatch.setattr(priors, "evidence", sometimes)
        made = priors.propose(NIGHT)
        assert made is not None
        assert made.engines == 5
        assert [row["build"] for row in made.left_out] == [first]

    def test_the_task_runs_once_a_night_under_its_own_name(self, shop: Cast) -> None:
        for _ in range(2):
            tasks.oil_priors()
        run = JobRun.objects.get(name="oil priors")
        assert (run.state, run.done, run.failed) == (JobState.FINISHED, 1, 0)


class TestAdopting:
    def test_only_a_manager_adopts_and_says_why(self, proposal: PriorProposal, shop: Cast) -> None:
        for by in (shop.tom, shop.ada):
            with pytest.raises(Refusal, match="manager only") as caught:
                adopt(by=by, proposal=proposal, reason="It fits.", now=LATER)
            assert caught.value.code == "forbidden"
        for reason in (" ", "x" * 401):
            with pytest.raises(Refusal) as caught:
                adopt(by=shop.cora, proposal=proposal, reason=reason, now=LATER)
            assert set(caught.value.by_field()) == {"reason"}
        assert not PriorAdoption.objects.exists()
        adoption = adopt(by=shop.cora, proposal=proposal, reason=" It fits. ", now=LATER)
        assert (adoption.by, adoption.at, adoption.reason) == (shop.cora, LATER, "It fits.")
        assert AuditEvent.objects.filter(act="adopt_prior").count() == 1

    def test_what_is_in_force_is_not_adopted_again(self, proposal: PriorProposal, shop: Cast) -> None:
        with pytest.raises(Refusal, match="in force already"):
            adopt(by=shop.cora, proposal=None, reason="Again.", now=LATER)
        adopt(by=shop.cora, proposal=proposal, reason="It fits.", now=LATER)
        with pytest.raises(Refusal, match="in force already"):
            adopt(by=shop.cora, proposal=proposal, reason="Again.", now=LATER)

    def test_open_builds_are_judged_anew_and_ended_ones_are_not(self, proposal: PriorProposal, shop: Cast) -> None:
        open_build, ended = shop.build_1, Build.objects.get(number="F-000")
        CylinderPosition.objects.filter(build=open_build).update(finish="nitrided")
        for number in range(5):
            flown(open_build, 1.4, at=NOW - timedelta(days=9 - number), level_qt=6.5 - 0.25 * number)
        assess.assess_many([open_build.pk, ended.pk], NIGHT)
        before = {build.pk: assessment(build) for build in (open_build, ended)}
        assert {row.detail["oil"]["prior"] for row in before.values()} == {"built in"}

        adopt(by=shop.cora, proposal=proposal, reason="It fits.", now=LATER)
        dirty = Assessment.objects.filter(dirty_at=LATER).values_list("build_id", flat=True)
        assert set(dirty) == {shop.build_1.pk, shop.build_2.pk}
        assess.assess_many([open_build.pk, ended.pk], LATER + timedelta(minutes=1))

        moved, same = assessment(open_build), assessment(ended)
        assert moved.detail["oil"]["prior"] == proposal.name
        assert moved.inputs_digest != before[open_build.pk].inputs_digest
        rate, rate_before = moved.oil_rate_qt_h, before[open_build.pk].oil_rate_qt_h
        assert rate is not None
        assert rate_before is not None
        assert rate > rate_before
        assert same.inputs_digest == before[ended.pk].inputs_digest
        assert same.detail == before[ended.pk].detail

    def test_going_back_to_built_in_gives_the_old_answer(self, proposal: PriorProposal, shop: Cast) -> None:
        assess.assess_build(shop.build_1.pk, NIGHT)
        digest = assessment(shop.build_1).inputs_digest
        adopt(by=shop.cora, proposal=proposal, reason="It fits.", now=LATER)
        adopt(by=shop.cora, proposal=None, reason="It did not.", now=LATER + timedelta(hours=1))
        assert in_force() is BUILT_IN
        assess.assess_build(shop.build_1.pk, LATER + timedelta(hours=2))
        assert assessment(shop.build_1).inputs_digest == digest

    def test_a_build_keeps_the_prior_of_its_end_and_takes_the_newest_when_opened_again(
        self, proposal: PriorProposal, shop: Cast
    ) -> None:
        adopt(by=shop.cora, proposal=proposal, reason="It fits.", now=LATER)
        closed = LATER + timedelta(hours=1)
        # The shop writes the end down after the adoption, for a day before it: what was in force then counts.
        close_incomplete(by=shop.cora, build=shop.build_1, reason="No answer.", now=closed, at=NOW)
        adopt(by=shop.cora, proposal=None, reason="It did not.", now=closed + timedelta(hours=1))
        last = closed + timedelta(hours=2)
        assess.assess_many([shop.build_1.pk, shop.build_2.pk], last)
        assert prior_named(shop.build_1) == proposal.name
        assert prior_named(shop.build_2) == "built in"
        reopen(by=shop.cora, build=shop.build_1, reason="Smoke.", now=last)
        assess.assess_build(shop.build_1.pk, last)
        assert prior_named(shop.build_1) == "built in"

    def test_the_priors_of_a_whole_chunk_cost_two_queries_more_at_most(
        self, proposal: PriorProposal, shop: Cast, django_assert_max_num_queries: Any
    ) -> None:
        adopt(by=shop.cora, proposal=proposal, reason="It fits.", now=LATER)
        builds = list(Build.objects.all())
        assert len(builds) == 7
        with django_assert_max_num_queries(2):
            found = priors_by_build(builds)
        assert {prior.name for prior in found.values()} == {"built in", proposal.name}


def test_proposals_and_adoptions_are_never_changed(proposal: PriorProposal, shop: Cast) -> None:
    adoption = adopt(by=shop.cora, proposal=proposal, reason="It fits.", now=LATER)
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        PriorProposal.objects.filter(pk=proposal.pk).update(name="another")
    for change in ({"reason": "another"}, {"proposal": None}):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            PriorAdoption.objects.filter(pk=adoption.pk).update(**change)

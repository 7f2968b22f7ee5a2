"""The page of the priors: read by the shop, adopted by a manager with a reason."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from breakin import priors
from breakin.calc.oil.learn import evidence
from breakin.models import PriorAdoption, PriorProposal
from breakin.services.priors import adopt
from tests.data.oil_generator import generated
from tests.factories import Cast

pytestmark = pytest.mark.django_db
PAGE, ADOPT = "/priors/", "/priors/adopt/"


@pytest.fixture
def proposal(shop: Cast, monkeypatch: pytest.MonkeyPatch) -> PriorProposal:
    """What twelve logs of slow engines propose; they stand for builds 1 and 2 in turn."""
    rows = [row["log"] for row in generated(24, "tight and late", seed=5) if row["log"]["cylinder"] == "nitrided"]
    builds = [shop.build_1.pk, shop.build_2.pk]
    logs = [evidence(log, str(builds[number % 2])) for number, log in enumerate(rows)]
    found = priors.Fleet(tuple(log for log in logs if log), ((shop.build_2.pk, "Too few oil readings."),))
    monkeypatch.setattr(priors, "fleet", lambda now: found)
    made = priors.propose(timezone.now() - timedelta(hours=2))
    assert made is not None
    return made


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().replace("\u202f", " ").split())


def test_without_closed_builds_the_page_says_how_many_are_missing(shop: Cast, as_person) -> None:
    answer = as_person(shop.tom).get(PAGE)
    assert answer.status_code == 200
    assert "Not enough closed builds yet: 0 of 5." in text(answer)
    assert "In force: built in" in text(answer)
    assert ADOPT not in text(answer)


def test_the_board_leads_to_it(shop: Cast, as_person) -> None:
    assert f'href="{PAGE}"' in text(as_person(shop.tom).get(reverse("board")))


def test_an_owner_does_not_read_it(shop: Cast, as_person) -> None:
    assert as_person(shop.ada).get(PAGE).status_code == 403
    assert as_person(shop.ada).post(ADOPT, {"prior": "built in", "reason": "x"}).status_code == 403


def test_a_proposal_shows_its_numbers_its_engines_and_what_adopting_means(
    shop: Cast, as_person, proposal: PriorProposal
) -> None:
    page = text(as_person(shop.tom).get(PAGE))
    row = next(one for one in proposal.finishes if one["finish"] == "nitrided")
    built_in, proposed, low, high = row["decay_h"]
    assert f"{built_in:.1f} h" in page
    assert f"{proposed:.1f} h" in page
    assert f"{low:.1f} to {high:.1f} h" in page
    assert f"Expected to settle slower: {proposed:.1f} h instead of {built_in:.1f} h" in page
    assert "more proof of its own" in page
    assert f'href="/engines/{shop.build_1.engine_id}/?build={shop.build_1.pk}"' in page
    assert "The 2 open builds would be judged anew" in page
    assert "Build B-QX-902: Too few oil readings." in page
    assert "A manager adopts it." in page
    assert "<form method" not in page.split('id="finishes"')[1].split("</main>")[0]


def test_a_reader_of_litres_sees_litres(shop: Cast, as_person, proposal: PriorProposal) -> None:
    shop.tom.units = "si"
    shop.tom.save()
    value = next(one for one in proposal.finishes if one["finish"] == "nitrided")["plateau_qt_h"][1]
    page = text(as_person(shop.tom).get(PAGE))
    assert f"{value * 0.946352946:.3f} L/h" in page
    assert "qt/h" not in page


def test_a_manager_adopts_and_the_page_says_who_when_and_why(shop: Cast, as_person, proposal: PriorProposal) -> None:
    client = as_person(shop.cora)
    assert "Adopt for open builds" in text(client.get(PAGE))
    answer = client.post(ADOPT, {"prior": str(proposal.pk), "reason": "Fits <b>our</b> hone"}, follow=True)
    page = text(answer)
    assert answer.redirect_chain[-1][0] == PAGE
    assert f"In force: {proposal.name}, adopted" in page
    assert "Fits &lt;b&gt;our&lt;/b&gt; hone" in page
    assert "What adopting it would mean" not in page
    adoption = PriorAdoption.objects.get()
    assert (adoption.by, adoption.proposal) == (shop.cora, proposal)
    assert 'value="built in"' in page, "going back is on offer"
    assert f'value="{proposal.pk}"' not in page


def test_a_technician_does_not_adopt(shop: Cast, as_person, proposal: PriorProposal) -> None:
    answer = as_person(shop.tom).post(ADOPT, {"prior": str(proposal.pk), "reason": "It fits."})
    assert answer.status_code == 403
    assert not PriorAdoption.objects.exists()


def test_what_lacks_comes_back_with_what_was_typed(shop: Cast, as_person, proposal: PriorProposal) -> None:
    client = as_person(shop.cora)
    answer = client.post(ADOPT, {"prior": str(proposal.pk), "reason": " "})
    assert answer.status_code == 422
    assert "Type why, in one line." in text(answer)
    assert "checked" in text(answer)
    for prior in ("", "built in", "999999", "x" * 300, str(proposal.pk + 1)):
        answer = client.post(ADOPT, {"prior": prior, "reason": "It fits."})
        assert answer.status_code == 422, prior
        assert 'value="It fits."' in text(answer), prior
    assert not PriorAdoption.objects.exists()


def test_the_second_of_two_managers_is_told(shop: Cast, as_person, proposal: PriorProposal) -> None:
    adopt(by=shop.cora, proposal=proposal, reason="First.", now=timezone.now())
    answer = as_person(shop.cora).post(ADOPT, {"prior": str(proposal.pk), "reason": "Second."})
    assert answer.status_code == 422
    assert "not on offer any more" in text(answer)
    assert PriorAdoption.objects.count() == 1


def test_the_page_costs_the_same_however_long_its_history(
    shop: Cast, as_person, proposal: PriorProposal, django_assert_max_num_queries: Any
) -> None:
    now = timezone.now()
    for number in range(6):
        held = proposal if number % 2 == 0 else None
        adopt(by=shop.cora, proposal=held, reason=f"Number {number}.", now=now + timedelta(seconds=number))
    client = as_person(shop.tom)
    with django_assert_max_num_queries(14):
        page = text(client.get(PAGE))
    assert page.index("Number 5.") < page.index("Number 0.")

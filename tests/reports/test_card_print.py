"""The print of a next-flight card: tagged as ISO 14289-1 (PDF/UA-1) asks, all of the card in it, readable in a cockpit.

What is looked for in the tags is from memory of the standard, as with the print of a close-out file.
"""

from __future__ import annotations

import io
import json
import re
from dataclasses import asdict, replace
from typing import Any

import pytest
from pypdf import PdfReader

from breakin import assess
from breakin.models import IssuedCard
from engines.models import Aircraft
from reports.card_print.printing import print_card
from reports.pilot.card_content import CardContent, EngineColumn
from tests import factories
from tests.calc.test_charts import FOLDER
from tests.factories import NOW, Cast
from tests.reports.test_close_out_print import unpacked

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]
MM = 72 / 25.4


def fitted(shop: Cast, registration: str, *sides: str) -> Aircraft:
    """An aircraft of Ada's with an engine of the teaching type before its first flight on each side."""
    chart = json.loads((FOLDER / "TAV-4E.json").read_text(encoding="utf-8"))
    kind = factories.type_revision("TAV-4E with chart", chart=chart)
    into = factories.aircraft(registration, shop.ada_customer)
    for side in sides:
        build = factories.build(factories.engine(kind), by=shop.cora, number=f"B-{registration}-{side}")
        factories.seat(build.engine, into, by=shop.tom, position=side)
        assess.assess_build(build.pk, NOW)
    return into


@pytest.fixture
def single(shop: Cast, as_person: Any) -> CardContent:
    return card(as_person(shop.ada), fitted(shop, "QX-903", "single"))


@pytest.fixture
def twin(shop: Cast, as_person: Any) -> CardContent:
    return card(as_person(shop.ada), fitted(shop, "QX-904", "left", "right"))


def card(client: Any, aircraft: Aircraft) -> CardContent:
    content = client.get(f"/portal/aircraft/{aircraft.pk}/card/", {"oat": "70 F"}).context["card"].content
    assert isinstance(content, CardContent)
    return content


def read(pdf: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(pdf))


def text_of(pdf: bytes) -> str:
    return "\n".join(page.extract_text() for page in read(pdf).pages)


def texts(value: Any) -> list[str]:
    """Every text of a card, in order."""
    if isinstance(value, dict):
        return [text for each in value.values() for text in texts(each)]
    if isinstance(value, list | tuple):
        return [text for each in value for text in texts(each)]
    return [value] if isinstance(value, str) else []


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


def shown(content: CardContent) -> list[str]:
    """What the print has to show: everything but what only the machine reads."""
    body = asdict(content)
    for name in ("units", "made_at", "valid_until"):
        body.pop(name)
    for engine in body["engines"]:
        engine.pop("side")
    return [text for text in texts(body) if text]


@pytest.mark.parametrize("which", ["single", "twin"])
def test_every_word_and_number_of_the_card_stands_in_the_print(which: str, request: pytest.FixtureRequest) -> None:
    content: CardContent = request.getfixturevalue(which)
    assert content.engines[0].settings, "a card without settings would prove little"
    found = squeezed(text_of(print_card(content)))

    lost = [text for text in shown(content) if squeezed(text) not in found]
    assert not lost
    numbers = set(re.findall(r"\d+(?:\.\d+)?", " ".join(shown(content))))
    assert len(numbers) > 40
    assert not {number for number in numbers if number not in found}


def test_of_a_twin_what_differs_stands_side_by_side_and_what_is_shared_once(twin: CardContent) -> None:
    same = text_of(print_card(twin))
    assert same.count(twin.engines[0].climb.falling[:30]) == 1  # type: ignore[union-attr]
    assert "LEFT engine" in same
    assert "RIGHT engine" in same

    left, right = twin.engines
    slower = replace(right, settings=tuple(replace(table, at="2300 rpm") for table in right.settings))
    apart = text_of(print_card(replace(twin, engines=(left, slower))))
    assert "2300 rpm" in apart.replace("\u00a0", " ")
    assert left.settings[0].at.replace("\u202f", " ") in apart.replace("\u00a0", " ")


def test_it_is_tagged_with_language_title_headings_lists_and_tables(twin: CardContent) -> None:
    pdf = unpacked(print_card(twin))
    assert re.search(rb"/Marked\s+true", pdf)
    assert re.search(rb"/Lang\s*\(en\)", pdf)
    assert re.search(rb"/DisplayDocTitle\s+true", pdf)
    assert re.search(rb"<pdfuaid:part>\s*1\s*<", pdf)
    assert b"Next-flight card QX-904" in pdf
    for tag in (b"/H1", b"/H2", b"/L", b"/LI", b"/Table", b"/TH", b"/TD", b"/P"):
        assert re.search(tag + rb"\b", pdf), tag
    assert re.search(rb"/Scope\s*/Column", pdf)


def test_it_is_read_in_the_order_in_which_it_is_flown(single: CardContent) -> None:
    said = tagged(print_card(single))
    order = [
        said.index(title)
        for title in ("This flight", "Oil before start", "Take-off check", "Climb", "In cruise", "Descent",
                      "Land now if", "After landing", "Log of this flight")
    ]  # fmt: skip
    assert order == sorted(order)


def tagged(pdf: bytes) -> list[str]:
    """The headings in the order of the structure tree, which a screen reader follows."""
    found: list[str] = []
    reader = read(pdf)

    def walk(node: Any) -> None:
        node = node.get_object()
        if isinstance(node, list):
            for each in node:
                walk(each)
        elif isinstance(node, dict):
            if str(node.get("/S", "")) in ("/H1", "/H2"):
                found.append(str(node.get("/T", "")))
            if "/K" in node:
                walk(node["/K"])

    walk(reader.trailer["/Root"]["/StructTreeRoot"]["/K"])  # type: ignore[index]
    return found


def sizes(pdf: bytes) -> list[tuple[int, int]]:
    return [
        (round(float(page.mediabox.width) / MM), round(float(page.mediabox.height) / MM)) for page in read(pdf).pages
    ]


def smallest_print(pdf: bytes) -> float:
    """The smallest size of any letter [pt]."""
    found: list[float] = []

    def visit(text: str, at: Any, matrix: Any, font: Any, size: float) -> None:
        if text.strip():
            found.append(size * abs(matrix[3] or 1))

    for page in read(pdf).pages:
        page.extract_text(visitor_text=visit)
    return min(found)


def test_it_folds_to_a5_with_the_log_on_the_fourth_side_and_never_goes_below_9_pt(
    single: CardContent, twin: CardContent
) -> None:
    for content in (single, twin):
        pdf = print_card(content)
        assert sizes(pdf) == [(297, 210), (297, 210)]
        assert "Log of this flight" in read(pdf).pages[1].extract_text()
        assert smallest_print(pdf) >= 9.0 - 0.05


def test_a_short_card_is_one_a5_side_with_the_log_on_its_back(single: CardContent) -> None:
    engine = EngineColumn(None, None, "", "PL-R7 s/n R-1", why="Log only.")
    pdf = print_card(replace(single, engines=(engine,), may_be=(), do_not=(), ground=()))
    assert sizes(pdf) == [(148, 210), (148, 210)]
    assert "Log of this flight" in read(pdf).pages[1].extract_text()


def test_a_card_that_is_too_long_goes_on_over_more_sides_and_loses_nothing(single: CardContent) -> None:
    endless = tuple(f"Caution number {number} of a very careful shop, which goes on." for number in range(120))
    longer = replace(single, engines=(replace(single.engines[0], cautions=endless),))
    pdf = print_card(longer)
    found = squeezed(text_of(pdf))
    assert len(read(pdf).pages) > 2
    assert all(squeezed(line) in found for line in endless)
    assert smallest_print(pdf) >= 9.0 - 0.05


def test_it_is_the_same_bytes_each_time(single: CardContent) -> None:
    assert print_card(single) == print_card(single)


class TestItsAddress:
    def test_the_holder_gets_the_card_in_hand_and_with_what_he_typed(self, shop: Cast, as_person: Any) -> None:
        plane = fitted(shop, "QX-903", "single")
        ada = as_person(shop.ada)
        page = ada.get(f"/portal/aircraft/{plane.pk}/card/")
        address = f"/portal/aircraft/{plane.pk}/card.pdf"
        assert f'href="{address}' in page.content.decode()
        answer = ada.get(address)
        assert answer.headers["content-type"] == "application/pdf"
        number = page.context["card"].content.engines[0].number
        assert f"card {number}" in text_of(answer.content)
        assert "It holds until the next log" in text_of(answer.content)
        assert "6480" in text_of(ada.get(address, {"elevation": "6480"}).content)

    def test_what_cannot_be_read_is_mended_on_the_page(self, shop: Cast, as_person: Any) -> None:
        plane = fitted(shop, "QX-903", "single")
        answer = as_person(shop.ada).get(f"/portal/aircraft/{plane.pk}/card.pdf", {"oat": "warm"})
        assert answer.headers["location"] == f"/portal/aircraft/{plane.pk}/card/?oat=warm"

    def test_a_card_that_was_handed_out_is_printed_as_it_was(self, shop: Cast, as_person: Any) -> None:
        plane = fitted(shop, "QX-903", "single")
        ada = as_person(shop.ada)
        ada.get(f"/portal/aircraft/{plane.pk}/card/")
        kept = IssuedCard.objects.get()
        address = f"/portal/cards/{kept.pk}/card.pdf"
        assert f'href="{address}"' in ada.get(f"/portal/cards/{kept.pk}/").content.decode()
        assert f"card {kept.number}" in text_of(ada.get(address).content)
        assert as_person(shop.ben).get(address).status_code == 404


def test_each_engine_of_a_twin_stands_under_its_own_name_and_card_number(twin: CardContent) -> None:
    left, right = twin.engines
    one = replace(left, number=17, oil_kind="walnut oil", why="Ask about the walnut.")
    other = replace(right, number=29, oil_kind="poppy oil")
    said = squeezed(text_of(print_card(replace(twin, engines=(one, other)))))
    heads = [f"LEFTengine:{squeezed(left.engine)},card17", f"RIGHTengine:{squeezed(right.engine)},card29"]
    oil = ["LEFTengine", "Kindofoil:walnutoil", "RIGHTengine", "Kindofoil:poppyoil"]
    assert [head for head in heads if head not in said] == []
    assert said.index(heads[0]) < said.index("Askaboutthewalnut.") < said.index(heads[1])
    below = said[said.index("Oilbeforestart") :]
    places = [below.index(each) for each in oil]
    assert places == sorted(places)


def test_what_only_a_rare_card_says_stands_in_the_print_too(single: CardContent) -> None:
    engine = replace(
        single.engines[0],
        number=41,
        not_achievable="This power can't be had in this air.",
        instead=("Fly lower than quince.",),
        owed="Twelve medlar minutes are owed.",
        repeats=True,
        why="Why it is so: sorrel.",
    )
    rare = replace(
        single,
        engines=(engine,),
        even_power="Keep both at teasel power.",
        air=replace(single.air, warning="The report is as old as yarrow."),
    )
    content = print_card(rare, made="Made on tansy day.")
    found = squeezed(text_of(content))
    fixed = ("Again from the top, until landing.", "Fly the aircraft first", "card 41", "Made on tansy day.")
    assert [text for text in (*shown(rare), *fixed) if squeezed(text) not in found] == []

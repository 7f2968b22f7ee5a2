"""A shop's engines from one table: what is read, what is refused at which line and column, and all or nothing."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from typing import Any

import pytest
from openpyxl import Workbook

from breakin.entries.fleet_sheet import COLUMNS, as_csv, empty_table, read_table
from breakin.models import Assessment
from breakin.services.importing import import_fleet
from engines.models import Aircraft, Build, Engine, Installation
from shop.errors import Refusal
from shop.models import AuditEvent, Customer, Person
from tests.factories import NOW, Cast, cast


@pytest.fixture
def shop(db: None) -> Cast:
    return cast()


LINE = {
    "Customer": "Dunmarrow School", "Contact": "Rua", "Contact phone": "555 0301", "Registration": "QX-950",
    "Home field": "tellamoor field", "Engine type": "TAV-4E", "Engine serial": "E-9001", "Build number": "B-9001",
    "Kind of work": "Overhaul", "Build opened": "2026-05-01", "Cylinder finish": "nitrided steel",
    "Run-in plan": "Nitrided steel", "Installed": "2026-05-20", "Basis clock": "tach",
    "Meter at installation": "1234,5", "Minimum oil for flight": "4",
}  # fmt: skip
TWIN = {**LINE, "Registration": "QX-951", "Position": "left", "Engine serial": "E-9002", "Build number": "B-9002"}
RIGHT = {**TWIN, "Position": "RIGHT", "Engine serial": "E-9003", "Build number": "B-9003"}


def table(*lines: dict[str, str], delimiter: str = ";") -> bytes:
    heads = list(dict.fromkeys(head for line in lines for head in line))
    text = [delimiter.join(heads), *(delimiter.join(line.get(head, "") for head in heads) for line in lines)]
    return "\r\n".join(text).encode("utf-8-sig")


def workbook(*lines: dict[str, Any]) -> bytes:
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    heads = list(lines[0])
    sheet.append(heads)
    for line in lines:
        sheet.append([line.get(head) for head in heads])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def problems(shop: Cast, *lines: dict[str, str], keep: bool = True) -> list[tuple[int, str, str]]:
    found = import_fleet(by=shop.cora, rows=read_table("t.csv", table(*lines)), now=NOW, keep=keep)
    return [(row.number, each.field, each.message) for row in found.rows for each in row.problems]


class TestReading:
    def test_the_empty_table_names_every_column_and_has_no_lines(self) -> None:
        assert all(column.label in empty_table() for column in COLUMNS)
        with pytest.raises(Refusal, match="a heading and no lines"):
            read_table("t.csv", empty_table().encode())

    @pytest.mark.parametrize("delimiter", [",", ";", "\t"])
    def test_the_delimiter_is_found(self, delimiter: str) -> None:
        line = {**LINE, "Meter at installation": "1234.5"}
        (row,) = read_table("t.csv", table(line, delimiter=delimiter))
        assert (row.number, row.values["serial"], row.values["meter"]) == (2, "E-9001", "1234.5")

    def test_a_workbook_gives_the_same_rows_as_text(self) -> None:
        opened = datetime(2026, 5, 1, tzinfo=UTC).replace(tzinfo=None)
        (row,) = read_table("t.xlsx", workbook({**LINE, "Build opened": opened, "Minimum oil for flight": 4.0}))
        assert (row.values["build_opened"], row.values["minimum_oil"]) == ("2026-05-01", "4")

    def test_unknown_missing_and_double_columns_are_all_named(self) -> None:
        line = {key: value for key, value in LINE.items() if key != "Engine serial"} | {"Colour": "red"}
        with pytest.raises(Refusal) as refused:
            read_table("t.csv", table(line))
        text = str(refused.value)
        assert "“Colour” is not known" in text
        assert "“Engine serial” is missing" in text
        with pytest.raises(Refusal, match="twice"):
            read_table("t.csv", b"Customer;customer\r\na;b")

    @pytest.mark.parametrize(
        "content", [b"", b"PK\x03\x04 no workbook", b"\x89PNG\x00", b"only one column\r\nx", b";;;"]
    )
    def test_what_is_no_table_is_refused_in_words(self, content: bytes) -> None:
        with pytest.raises(Refusal):
            read_table("t.csv", content)

    def test_the_previewed_lines_keep_the_numbers_of_the_file(self) -> None:
        rows = read_table("t.csv", table(LINE, {}, TWIN))
        assert [row.number for row in rows] == [2, 4]
        assert read_table("again", as_csv(rows).encode()) == [
            type(row)(row.number, {name: row.values.get(name, "") for name in as_names()}) for row in rows
        ]


def as_names() -> list[str]:
    return [column.name for column in COLUMNS]


@pytest.mark.django_db
class TestImport:
    def test_one_line_brings_customer_contact_aircraft_engine_build_plan_and_seat(self, shop: Cast) -> None:
        found = import_fleet(by=shop.cora, rows=read_table("t.csv", table(LINE)), now=NOW, keep=True)

        assert found.kept
        build = Build.objects.get(number="B-9001")
        assert (build.kind, build.engine.serial, build.positions.count()) == ("overhaul", "E-9001", 4)
        template = build.plans.get().template
        assert template is not None
        assert template.name == "Nitrided steel"
        seat = Installation.objects.get(engine=build.engine)
        assert (seat.aircraft.registration, seat.basis_clock, seat.min_oil_qt) == ("QX-950", "tach", 4)
        # Midnight of that day at the airfield, UTC-6.
        assert seat.since.isoformat() == "2026-05-20T06:00:00+00:00"
        assert seat.aircraft.meters.get().reading_at_start_h == 1234.5
        assert seat.aircraft.holdings.get().customer.name == "Dunmarrow School"
        member = Customer.objects.get(name="Dunmarrow School").members.get()
        assert (member.person.name, member.first_contact, member.person.user) == ("Rua", True, None)
        assert Assessment.objects.filter(build=build).exists()
        assert AuditEvent.objects.filter(act="import_fleet").count() == 1

    def test_both_engines_of_a_twin_share_one_aircraft_and_customer(self, shop: Cast) -> None:
        assert problems(shop, TWIN, RIGHT) == []
        aircraft = Aircraft.objects.get(registration="QX-951")
        assert set(aircraft.installations.values_list("position", flat=True)) == {"left", "right"}
        assert Customer.objects.filter(name="Dunmarrow School").count() == 1
        assert Person.objects.filter(name="Rua").count() == 1

    def test_a_preview_says_what_would_happen_and_keeps_nothing(self, shop: Cast) -> None:
        found = import_fleet(by=shop.cora, rows=read_table("t.csv", table(LINE)), now=NOW, keep=False)
        assert not found.kept
        assert "new customer Dunmarrow School" in found.rows[0].said
        assert not Customer.objects.filter(name="Dunmarrow School").exists()
        assert not Engine.objects.filter(serial="E-9001").exists()

    def test_one_faulty_line_keeps_all_the_others_out(self, shop: Cast) -> None:
        wrong = {**TWIN, "Engine type": "TAV-9", "Cylinder finish": "gold", "Build opened": "May", "Basis clock": ""}
        found = problems(shop, LINE, wrong)
        assert {(number, column) for number, column, _ in found} == {
            (3, "Engine type"), (3, "Cylinder finish"), (3, "Build opened"), (3, "Basis clock"),
        }  # fmt: skip
        assert not Build.objects.filter(number="B-9001").exists()

    def test_what_a_service_refuses_stands_at_its_column(self, shop: Cast) -> None:
        taken = {**LINE, "Build number": shop.build_1.number}
        oil = {**TWIN, "Minimum oil for flight": "400"}
        found = {(number, column) for number, column, _ in problems(shop, taken, oil)}
        assert found == {(2, "Build number"), (3, "Minimum oil for flight")}

    def test_an_aircraft_that_another_customer_holds_is_not_taken_over(self, shop: Cast) -> None:
        (found,) = problems(shop, {**LINE, "Registration": "QX-901"})
        assert found[:2] == (2, "Customer")
        assert "held by Ada's flying" in found[2]

    def test_the_same_engine_twice_in_the_table_is_refused_at_the_second_line(self, shop: Cast) -> None:
        again = {**LINE, "Registration": "QX-952", "Build number": "B-9009"}
        assert {number for number, _, _ in problems(shop, LINE, again)} == {3}

    def test_an_address_without_a_name_and_a_wrong_address_are_refused(self, shop: Cast) -> None:
        nameless = {**LINE, "Contact": "", "Contact e-mail": "rua@example.org"}
        wrong = {**TWIN, "Contact e-mail": "rua at home"}
        assert [found[:2] for found in problems(shop, nameless, wrong)] == [(2, "Contact"), (3, "Contact e-mail")]

"""The look: colours that can be read, markup that the browser policy accepts, words that come from one place.

Contrast: Web Content Accessibility Guidelines 2.2, success criteria 1.4.3 (text, 4.5 to 1) and 1.4.11 (edges of
controls, 3 to 1), with relative luminance and contrast ratio as that document defines them.
"""

import hashlib
import json
import re
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import time_machine
from django import forms
from django.template.loader import render_to_string
from django.test import Client, RequestFactory
from django.utils import timezone

from shop import context, palette, shapes
from shop.authority import ORDER_OF_AUTHORITY, WHAT_THIS_SAYS
from shop.forms import BookForm, CheckChips, Chips, Stepper
from shop.models import User
from shop.templatetags import words

SHOP = Path(words.__file__).resolve().parents[1]
STATIC = SHOP / "static" / "shop"
TEMPLATES = sorted((SHOP / "templates").rglob("*.html"))
PAGES = [path for path in TEMPLATES if "mail" not in path.parts]


def named_colours(block: str) -> dict[str, str]:
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block))


def luminance(colour: str) -> float:
    parts = (int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5))
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_of_black_on_white_is_21_to_1() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0, abs=1e-9)  # WCAG 2.2, definition of contrast ratio


def test_palette_and_stylesheet_name_the_same_colours() -> None:
    light, dark = (STATIC / "css" / "ground.css").read_text().split("@media (prefers-color-scheme: dark)", 1)
    assert named_colours(light) == palette.LIGHT
    assert named_colours(dark.split("@media", 1)[0]) == palette.DARK


def test_the_admin_has_the_colours_of_the_book() -> None:
    """Once by the reader's system and once by the switch of the admin itself."""
    sheet = (STATIC / "css" / "admin.css").read_text()
    light, rest = sheet.split("@media (prefers-color-scheme: dark)", 1)
    by_system, by_switch = rest.split("html[data-theme", 1)
    for part, named in ((light, palette.LIGHT), (by_system, palette.DARK), (by_switch.split("}", 1)[0], palette.DARK)):
        found = named_colours(part)
        assert len(found) > 8
        assert found == {name: named[name] for name in found}


@pytest.mark.parametrize("colours", [palette.LIGHT, palette.DARK], ids=["light", "dark"])
def test_every_ink_can_be_read_on_every_paper(colours: dict[str, str]) -> None:
    for paper in ("paper", "sheet"):
        for ink in ("ink", "soft", "accent", "stop", "call"):
            assert contrast(colours[ink], colours[paper]) >= 4.5, (ink, paper)
        assert contrast(colours["edge"], colours[paper]) >= 3.0, ("edge", paper)
    assert contrast(colours["on-accent"], colours["accent"]) >= 4.5
    assert contrast(colours["on-stop"], colours["stop"]) >= 4.5
    assert contrast(colours["ink"], colours["sheet"]) >= 10  # read in the sun, on the ramp


def test_style_sheets_stay_small() -> None:
    assert sum(path.stat().st_size for path in (STATIC / "css").glob("*.css")) < 35_000


def test_files_from_elsewhere_are_those_in_the_table_with_their_licences() -> None:
    table = (STATIC / "VENDORED.md").read_text()
    rows = re.findall(r"^\| (\S+) \|.*\((\S+\.txt)\) \| ([0-9a-f]{64}) \|$", table, flags=re.MULTILINE)
    assert {name for name, _, _ in rows} == {
        str(path.relative_to(STATIC)) for path in [*STATIC.glob("vendor/*.js"), *STATIC.glob("fonts/*.woff2")]
    }
    for name, licence, digest in rows:
        assert hashlib.sha256((STATIC / name).read_bytes()).hexdigest() == digest, name
        assert (STATIC / licence).stat().st_size > 200, licence


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(SHOP / "templates")))
def test_page_templates_hold_nothing_that_the_browser_policy_refuses(path: Path) -> None:
    text = re.sub(r"{% comment %}.*?{% endcomment %}", "", path.read_text(), flags=re.DOTALL)
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=|javascript:", text)
    for script in re.findall(r"<script\b[^>]*>", text):
        assert "src=" in script or 'type="application/json"' in script, script


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(SHOP / "templates")))
def test_no_template_speaks_as_if_it_could_release_an_aircraft(path: Path) -> None:
    assert not re.search(r"airworth|\bsafe to\b|cleared (to|for)|\breleased\b", path.read_text(), flags=re.IGNORECASE)


class TestShapes:
    def test_no_two_kinds_share_a_drawing(self) -> None:
        assert len({shape.path for shape in shapes.SHAPES.values()}) == len(shapes.SHAPES)

    @pytest.mark.parametrize(
        ("word", "kind"),
        [
            ("Stopped", "stop"),
            ("Call today", "call"),
            ("Late", "late"),
            ("Slow", "slow"),
            ("Quiet", "quiet"),
            ("Ready for review", "ready"),
            ("Running in", "running"),
            ("Follow-up", "follow-up"),
            ("Not flying yet", "not-flying"),
            ("provisionally settled", "settling"),
            ("flat but high", "flat-high"),
            ("not achievable today", "not-achievable"),
            ("met (stated)", "met"),
            ("met (measured)", "met"),
            ("something new", ""),
        ],
    )
    def test_words_find_their_kind(self, word: str, kind: str) -> None:
        assert shapes.kind_of(word) == kind

    def test_other_names_lead_to_drawings(self) -> None:
        assert set(shapes._OTHER_NAMES.values()) <= set(shapes.SHAPES)

    def test_a_word_is_text_first_and_its_shape_is_hidden_from_screen_readers(self) -> None:
        html = words.word("Stopped <now>", "stop")
        assert "<span>Stopped &lt;now&gt;</span>" in html
        assert 'aria-hidden="true"' in html

    def test_a_word_without_a_kind_is_shown_without_a_shape(self) -> None:
        assert words.word("something new") == '<span class="word"><span>something new</span></span>'


class TestFilters:
    @pytest.mark.parametrize(
        ("value", "uncertainty", "text"),
        [
            (0.114, 0.04, "0.11 ± 0.04"),
            (0.114, 0.012, "0.114 ± 0.012"),
            (-0.5, 0.2, "−0.5 ± 0.2"),
            (13.46, 2.0, "13 ± 2"),
            (134.08, 25.0, "134 ± 25"),
            (9, 1.0, "9.0 ± 1.0"),
            (0.1, 0.0, "0.10 ± 0.00"),
            (0.114, None, "0.114 (uncertainty not known)"),
            (None, 0.1, "not known"),
        ],
    )
    def test_a_value_is_shown_to_the_place_of_its_uncertainty(
        self, value: float | None, uncertainty: float | None, text: str
    ) -> None:
        assert words.plusminus(value, uncertainty) == text

    def test_an_instant_is_shown_on_the_readers_clock_on_both_sides_of_a_clock_change(self) -> None:
        with time_machine.travel(datetime(2026, 11, 24, tzinfo=UTC)), timezone.override("Europe/Oslo"):
            assert words.localwhen(datetime(2026, 10, 25, 0, 59, tzinfo=UTC)) == "25 Oct 02:59 UTC+2"
            assert words.localwhen(datetime(2026, 10, 25, 1, 0, tzinfo=UTC)) == "25 Oct 02:00 UTC+1"

    def test_another_year_and_another_zone_are_said(self) -> None:
        with time_machine.travel(datetime(2026, 11, 24, tzinfo=UTC)):
            assert (
                words.localwhen(datetime(2025, 1, 1, 3, 0, tzinfo=UTC), "America/Chicago") == "31 Dec 2024 21:00 UTC−6"
            )
            assert words.localwhen(datetime(2026, 1, 1, tzinfo=UTC), "Asia/Kolkata") == "1 Jan 05:30 UTC+5:30"

    @pytest.mark.parametrize(
        ("seconds", "text"),
        [
            (0, "just now"),
            (59, "just now"),
            (60, "1 minute ago"),
            (3599, "59 minutes ago"),
            (3600, "1 hour ago"),
            (3 * 86400 - 1, "71 hours ago"),
            (3 * 86400, "3 days ago"),
            (-7200, "in 2 hours"),
            (-10 * 86400, "in 10 days"),
        ],
    )
    def test_time_passed_is_said_in_one_unit(self, seconds: int, text: str) -> None:
        now = datetime(2026, 11, 24, 12, tzinfo=UTC)
        with time_machine.travel(now, tick=False):
            assert words.ago(now - timedelta(seconds=seconds)) == text

    def test_a_date_counts_in_days_of_the_readers_calendar(self) -> None:
        with time_machine.travel(datetime(2026, 11, 24, 23, 30, tzinfo=UTC)), timezone.override("Europe/Oslo"):
            assert words.ago(date(2026, 11, 25)) == "today"
            assert words.ago(date(2026, 11, 20)) == "5 days ago"

    def test_nothing_known_is_said(self) -> None:
        assert (words.hours(None), words.localwhen(None), words.ago(None)) == ("not known", "not known", "never")
        assert words.hours(0) == "0.0"


class LogForm(BookForm):
    minutes = forms.IntegerField(help_text="From take-off to landing.", widget=Stepper(unit="min", step="5", low="0"))
    belly = forms.ChoiceField(label="Oil on the belly", choices=[("0", "none"), ("1", "film")], widget=Chips)
    odd = forms.MultipleChoiceField(choices=[("rough", "rough")], widget=CheckChips, required=False)
    crew_only = forms.BooleanField(required=False)
    groups = (("Flight", ("minutes",)),)


class TestForms:
    def test_what_was_typed_stays_and_the_reason_is_tied_to_it(self) -> None:
        html = LogForm({"minutes": "1:0x"})["minutes"].as_field_group()
        assert 'value="1:0x"' in html
        assert 'aria-invalid="true"' in html
        assert 'aria-describedby="id_minutes_helptext id_minutes_error"' in html
        assert 'id="id_minutes_helptext"' in html
        assert 'id="id_minutes_error"' in html

    def test_a_stepper_is_a_text_field_with_numeric_keypad_and_unit(self) -> None:
        html = LogForm()["minutes"].as_field_group()
        assert 'type="text"' in html
        assert 'inputmode="decimal"' in html
        assert '<span class="stepper__unit">min</span>' in html
        assert 'data-step="5" data-low="0"' in html

    def test_chips_are_a_group_of_radios_each_inside_its_label(self) -> None:
        html = LogForm({"belly": "1"})["belly"].as_field_group()
        assert "<legend>Oil on the belly</legend>" in html
        assert html.count('type="radio"') == 2
        assert re.search(r'<label class="chip" for="id_belly_1"><input type="radio"[^>]* checked>', html)

    def test_every_link_of_the_error_summary_leads_to_a_field(self) -> None:
        form = LogForm({"minutes": "x"})
        page = render_to_string("parts/errors.html", {"form": form}) + render_to_string(
            "forms/form.html", {"form": form}
        )
        links = re.findall(r'href="#([^"]+)"', page)
        assert links[:2] == ["id_minutes", "id_belly"]
        assert all(f'id="{link}"' in page for link in links)

    def test_a_form_without_errors_has_no_summary(self) -> None:
        assert render_to_string("parts/errors.html", {"form": LogForm()}).strip() == ""

    def test_fields_outside_the_groups_come_last_and_none_is_lost(self) -> None:
        grouped = [(heading, [field.name for field in fields]) for heading, fields in LogForm().grouped()]
        assert grouped == [("Flight", ["minutes"]), ("", ["belly", "odd", "crew_only"])]


class TestShell:
    def shell(self, path: str, roles: set[str], *, is_staff: bool = False) -> dict[str, Any]:
        request = RequestFactory().get(path)
        request.user = SimpleNamespace(  # type: ignore[assignment]
            is_authenticated=True,
            is_active=True,
            is_superuser=False,
            is_staff=is_staff,
            person="Pell",
            _staff_roles=roles,
        )
        filled: dict[str, Any] = context.shell(request)["shell"]
        return filled

    def test_an_owner_is_not_shown_the_doors_of_the_shop(self) -> None:
        shell = self.shell("/", set())
        assert not {link["label"] for link in shell["links"]} & {label for _, label in context.STAFF_LINKS}
        assert shell["name"] == "Pell"

    def test_staff_see_their_roles_in_words(self) -> None:
        assert self.shell("/", {"line_technician"})["roles"] == "line technician"

    def test_only_keepers_of_records_see_the_records(self) -> None:
        assert "Records" in [link["label"] for link in self.shell("/", {"manager"}, is_staff=True)["links"]]
        assert "Records" not in [link["label"] for link in self.shell("/", {"manager"})["links"]]

    def test_the_present_page_is_marked(self) -> None:
        links = self.shell("/admin/", {"manager"}, is_staff=True)["links"]
        assert [link["current"] for link in links if link["label"] == "Records"] == [True]


@pytest.mark.django_db
class TestSignIn:
    def fill(self, settings: Any, folder: Path, *, demo: bool) -> str:
        settings.DATA_DIR, settings.DEMO_MODE = folder, demo
        rows = [{"role": "manager", "email": "tilde@shop.example", "password": "hone-lattice-42"}]
        (folder / "demo-logins.json").write_text(json.dumps(rows))
        return Client().get("/accounts/login/").content.decode()

    def test_demo_logins_are_shown_in_demo_mode(self, settings: Any, tmp_path: Path) -> None:
        assert "hone-lattice-42" in self.fill(settings, tmp_path, demo=True)

    def test_demo_logins_are_never_shown_otherwise(self, settings: Any, tmp_path: Path) -> None:
        page = self.fill(settings, tmp_path, demo=False)
        assert "hone-lattice-42" not in page
        assert 'name="password"' in page

    @pytest.mark.parametrize("path", ["login", "password/reset", "password/reset/done", "signup", "inactive"])
    def test_pages_before_sign_in_are_ours_and_state_the_order_of_authority(self, path: str) -> None:
        page = Client().get(f"/accounts/{path}/").content.decode()
        assert "css/ground.css" in page
        assert ORDER_OF_AUTHORITY in page.replace("&#x27;", "'")

    def test_an_unknown_address_and_a_known_one_get_the_same_answer(self) -> None:
        answer = Client().post("/accounts/password/reset/", {"email": "nobody@shop.example"}, follow=True)
        assert "If that address has a login here" in answer.content.decode()


@pytest.mark.django_db
@pytest.mark.parametrize(
    "path", ["password/change", "2fa", "2fa/totp/activate", "2fa/webauthn", "sessions", "logout", "reauthenticate"]
)
def test_pages_of_ones_own_account_are_ours_and_hold_nothing_the_policy_refuses(path: str) -> None:
    client = Client()
    User.objects.create_user("ines@mail.example", "hone-lattice-42")
    client.post("/accounts/login/", {"login": "ines@mail.example", "password": "hone-lattice-42"})
    client.post("/accounts/reauthenticate/", {"password": "hone-lattice-42"})
    answer = client.get(f"/accounts/{path}/")
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "css/ground.css" in page
    assert page.count("<h1>") == 1
    assert ORDER_OF_AUTHORITY in page.replace("&#x27;", "'")
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=", page)


@pytest.mark.parametrize("name", ["400", "403", "403_csrf", "404", "429", "500"])
def test_error_pages_render_without_any_context_and_state_the_order_of_authority(name: str) -> None:
    page = render_to_string(f"{name}.html").replace("&#x27;", "'")
    assert f"{ORDER_OF_AUTHORITY} {WHAT_THIS_SAYS}" in page
    assert page.lower().count("<h1>") == 1


@pytest.mark.parametrize("name", ["mail/base.txt", "mail/base.html", "account/email/base_message.txt"])
def test_mails_state_the_order_of_authority(name: str) -> None:
    assert f"{ORDER_OF_AUTHORITY} {WHAT_THIS_SAYS}" in render_to_string(name).replace("&#x27;", "'")


def test_colour_names_in_a_figure_become_colours_and_unknown_ones_are_refused() -> None:
    figure = {"line": {"color": "var(--ink)"}, "fill": ["var(--accent)/20", 3], "name": "var"}
    assert palette.resolve(figure) == {
        "line": {"color": "#1a1c1b"},
        "fill": ["rgba(11, 84, 96, 0.2)", 3],
        "name": "var",
    }
    with pytest.raises(KeyError):
        palette.resolve("var(--neon)")

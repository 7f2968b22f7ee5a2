"""One table of every address, every role and the answer expected: 404 outside, 403 inside, sign-in for strangers.

It is read against the site's own list of addresses, so a page that is missing here fails. What needs a body gets an
empty one: a form that comes back with its problems (422), or an interface that names them (400), let the sender in.
"""

from __future__ import annotations

import pytest
from django.apps import apps
from django.contrib import admin
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.models import JobRun, User
from tests.addresses import ROLES, Town, every_address, town
from tests.again import made_again

pytestmark = [pytest.mark.django_db, pytest.mark.slow]

# Own rules below.
PREFIXES = ("accounts/", "admin/")

# Columns: see tests/addresses.py. "=x" takes that thing instead of the one called like the argument.
TABLE = """
address                                  anon  own   oth   form  mem   pil   pil-  line  bld   sign  man
GET  healthz                             200   200   200   200   200   200   200   200   200   200   200
GET  home                                302   302   302   302   302   302   302   302   302   302   302
GET  board                               302   403   403   403   403   403   403   200   200   200   200
GET  today                               302   403   403   403   403   403   403   200   200   200   200
GET  aircraft_call                       302   403   404   403   403   403   404   200   200   200   200
POST aircraft_call                       302   403   404   403   403   403   404   422   422   422   422
GET  aircraft_message                    302   403   404   403   403   403   404   200   200   200   200
POST aircraft_message                    302   403   404   403   403   403   404   422   422   422   422
GET  notices                             302   403   403   403   403   403   403   200   200   200   200
POST notice_bounced                      302   403   403   403   403   403   403   302   302   302   302
POST notice_held                         302   403   403   403   403   403   403   302   302   302   302
GET  priors                              302   403   403   403   403   403   403   200   200   200   200
GET  exposure                            302   403   403   403   403   403   403   403   403   403   200
GET  lots                                302   403   403   403   403   403   403   403   200   403   200
GET  rules                               302   403   403   403   403   403   403   200   200   200   200
POST prior_adopt                         302   403   403   403   403   403   403   403   403   403   422
GET  people                              302   403   403   403   403   403   403   403   403   403   200
GET  invite                              302   403   403   403   403   403   403   403   403   403   200
POST invite                              302   403   403   403   403   403   403   403   403   403   422
GET  acts                                302   403   403   403   403   403   403   200   200   200   200
GET  engine_types                        302   403   403   403   403   403   403   200   200   200   200
GET  engine_type                         302   403   403   403   403   403   403   200   200   200   200
GET  type_new                            302   403   403   403   403   403   403   403   403   403   200
POST type_new                            302   403   403   403   403   403   403   403   403   403   422
GET  type_revise                         302   403   403   403   403   403   403   403   403   403   200
POST type_revise                         302   403   403   403   403   403   403   403   403   403   422
GET  first_steps                         302   403   403   403   403   403   403   403   403   403   200
GET  oneself                             302   403   403   403   403   403   403   403   403   403   302
POST oneself                             302   403   403   403   403   403   403   403   403   403   302
GET  shop_profile                        302   403   403   403   403   403   403   403   403   403   200
POST shop_profile                        302   403   403   403   403   403   403   403   403   403   422
GET  places                              302   403   403   403   403   403   403   200   200   200   200
GET  place_new                           302   403   403   403   403   403   403   403   403   403   200
POST place_new                           302   403   403   403   403   403   403   403   403   403   422
GET  place_edit                          302   403   403   403   403   403   403   403   403   403   200
POST place_edit                          302   403   403   403   403   403   403   403   403   403   422
GET  customers                           302   403   403   403   403   403   403   200   200   200   200
GET  customer_new                        302   403   403   403   403   403   403   200   200   200   200
POST customer_new                        302   403   403   403   403   403   403   422   422   422   422
GET  customer                            302   404   404   404   404   404   404   200   200   200   200
POST customer                            302   404   404   404   404   404   404   422   422   422   422
GET  customer_person                     302   404   404   404   404   404   404   200   200   200   200
POST customer_person                     302   404   404   404   404   404   404   422   422   422   422
GET  aircraft_new                        302   403   403   403   403   403   403   403   403   403   200
POST aircraft_new                        302   403   403   403   403   403   403   403   403   403   422
GET  templates                           302   403   403   403   403   403   403   200   200   200   200
POST templates_take                      302   403   403   403   403   403   403   403   403   403   302
GET  template                            302   403   403   403   403   403   403   200   200   200   200
GET  template_copy                       302   403   403   403   403   403   403   403   403   403   200
POST template_copy                       302   403   403   403   403   403   403   403   403   403   422
GET  template_revise                     302   403   403   403   403   403   403   403   403   403   200
POST template_revise                     302   403   403   403   403   403   403   403   403   403   422
GET  import_table                        302   403   403   403   403   403   403   403   403   403   200
POST import_table                        302   403   403   403   403   403   403   403   403   403   422
GET  import_empty_table                  302   403   403   403   403   403   403   403   403   403   200
GET  build_new                           302   403   403   403   403   403   403   403   200   403   200
POST build_new                           302   403   403   403   403   403   403   403   422   403   422
GET  plan_issue                          302   403   404   403   403   403   404   403   200   403   200
POST plan_issue                          302   403   404   403   403   403   404   403   422   403   422
GET  build_cell                          302   403   404   403   403   403   404   403   200   403   200
POST build_cell                          302   403   404   403   403   403   404   403   422   403   422
GET  build_sheet                         302   403   404   403   403   403   404   200   200   200   200
GET  build_preserve                      302   403   404   403   403   403   404   200   200   200   200
POST build_preserve                      302   403   404   403   403   403   404   422   422   422   422
GET  build_close                         302   403   404   403   403   403   404   200   200   200   200
POST build_close                         302   403   404   403   403   403   404   422   422   422   422
GET  criterion_waive                     302   403   404   403   403   403   404   403   403   403   200
POST criterion_waive                     302   403   404   403   403   403   404   403   403   403   422
GET  close_out_sign                      302   403   404   403   403   403   404   200   200   200   200
POST close_out_sign                      302   403   404   403   403   403   404   403   403   403   422
GET  proposal_return                     302   403   404   403   403   403   404   200   200   200   200
POST proposal_return                     302   403   404   403   403   403   404   422   422   422   422
GET  build_give_up                       302   403   404   403   403   403   404   403   403   403   200
POST build_give_up                       302   403   404   403   403   403   404   403   403   403   422
GET  close_out_check                     302   200   200   200   200   200   200   200   200   200   200
POST close_out_check                     302   422   422   422   422   422   422   422   422   422   422
GET  close_out_file                      302   200   404   404   200   200   404   200   200   200   200
GET  close_out_document                  302   200   404   404   200   200   404   200   200   200   200
GET  close_out_print                     302   200   404   404   200   200   404   200   200   200   200
GET  build_reopen                        302   403   404   403   403   403   404   403   403   403   200
POST build_reopen                        302   403   404   403   403   403   404   403   403   403   422
GET  engine_install                      302   403   404   403   403   403   404   200   200   200   200
POST engine_install                      302   403   404   403   403   403   404   422   422   422   422
GET  engine_revise                       302   403   404   403   403   403   404   200   200   200   200
POST engine_revise                       302   403   404   403   403   403   404   422   422   422   422
GET  engine_remove                       302   403   404   403   403   403   404   200   200   200   200
POST engine_remove                       302   403   404   403   403   403   404   422   422   422   422
GET  engine_accessories                  302   403   404   403   403   403   404   200   200   200   200
POST engine_accessories                  302   403   404   403   403   403   404   422   422   422   422
GET  accessory_done                      302   403   404   403   403   403   404   200   200   200   200
POST accessory_done                      302   403   404   403   403   403   404   422   422   422   422
GET  accessory_take_back                 302   403   404   403   403   403   404   200   200   200   200
POST accessory_take_back                 302   403   404   403   403   403   404   422   422   422   422
GET  aircraft_swap                       302   403   404   403   403   403   404   200   200   200   200
POST aircraft_swap                       302   403   404   403   403   403   404   422   422   422   422
GET  flights_merge                       302   403   404   403   403   403   404   200   200   200   200
POST flights_merge                       302   403   404   403   403   403   404   422   422   422   422
GET  delivery                            302   403   404   403   403   200   404   200   200   200   200
POST delivery                            302   403   404   403   403   422   404   422   422   422   422
GET  aircraft_transfer                   302   403   404   403   403   403   404   403   403   403   200
POST aircraft_transfer                   302   403   404   403   403   403   404   403   403   403   422
GET  meter_change                        302   403   404   403   403   403   404   200   200   200   200
POST meter_change                        302   403   404   403   403   403   404   422   422   422   422
GET  engine                              302   200   404   200   200   200   404   200   200   200   200
GET  oil_picture                         302   200   404   404   200   200   404   200   200   200   200
POST finding_acknowledge                 302   403   404   404   403   403   404   302   302   302   302
GET  finding_clear                       302   403   404   404   403   403   404   200   200   200   200
POST finding_clear                       302   403   404   404   403   403   404   422   422   422   422
GET  finding_clear=stop_id               302   403   404   404   403   403   404   200   200   200   403
POST finding_clear=stop_id               302   403   404   404   403   403   404   422   422   422   403
GET  due_complete                        302   403   404   404   403   403   404   200   200   200   403
POST due_complete                        302   403   404   404   403   403   404   422   422   422   403
GET  inspection_choose                   302   403   404   403   403   403   404   200   200   200   403
GET  inspection_new                      302   403   404   403   403   403   404   200   200   200   403
POST inspection_new                      302   403   404   403   403   403   404   422   422   422   403
GET  inspection                          302   200   404   404   200   200   404   200   200   200   200
GET  inspection_correct                  302   403   404   404   403   403   404   200   200   200   403
POST inspection_correct                  302   403   404   404   403   403   404   422   422   422   403
GET  inspection_photos                   302   403   404   404   403   403   404   200   200   200   403
POST inspection_photos                   302   403   404   404   403   403   404   422   422   422   403
GET  oil_photos                          302   200   404   404   200   200   404   200   200   200   200
POST oil_photos                          302   422   404   404   422   422   404   422   422   422   422
GET  flight_photos                       302   200   404   404   200   200   404   200   200   200   200
POST flight_photos                       302   422   404   404   422   422   404   422   422   422   422
GET  flight_photos=fays_flight_id        302   403   404   403   403   200   404   200   200   200   200
GET  photo                               302   200   404   404   200   200   404   200   200   200   200
GET  photo=shop_photo_id                 302   404   404   404   404   404   404   200   200   200   200
GET  photo_small                         302   200   404   404   200   200   404   200   200   200   200
GET  photo_withdraw                      302   403   404   404   403   403   404   200   200   200   200
POST photo_withdraw                      302   403   404   404   403   403   404   422   422   422   422
GET  due_waive                           302   403   404   404   403   403   404   403   403   403   200
POST due_waive                           302   403   404   404   403   403   404   403   403   403   422
GET  service_worker                      200   200   200   200   200   200   200   200   200   200   200
GET  no_network                          200   200   200   200   200   200   200   200   200   200   200
GET  portal                              302   200   200   200   200   200   200   200   200   200   200
GET  instructor                          302   404   404   404   404   200   404   404   404   404   404
GET  tour                                302   200   200   200   200   200   200   200   200   200   200
POST tour                                302   302   302   302   302   302   302   302   302   302   302
GET  aircraft_tour                       302   200   404   404   200   200   404   200   200   200   200
POST aircraft_tour                       302   302   302   302   302   302   302   302   302   302   302
GET  portal_aircraft                     302   200   404   200   200   200   404   200   200   200   200
GET  next_card                           302   200   404   200   200   200   404   200   200   200   200
POST next_card                           302   302   404   403   302   302   404   302   302   302   302
GET  next_card_print                     302   200   404   404   200   200   404   200   200   200   200
GET  kept_card_print                     302   404   404   404   404   404   404   404   404   404   404
GET  kept_cards                          302   200   404   200   200   200   404   200   200   200   200
GET  kept_card                           302   200   404   404   200   200   404   200   200   200   200
GET  flight_timer                        302   200   404   200   200   200   404   200   200   200   200
GET  log_flight                          302   200   404   403   200   200   404   200   200   200   200
POST log_flight                          302   422   404   403   422   422   404   422   422   422   422
GET  upload_recording                    302   200   404   403   200   200   404   200   200   200   200
POST upload_recording                    302   422   404   403   422   422   404   422   422   422   422
GET  flight_received                     302   200   404   404   200   200   404   200   200   200   200
GET  flight_received=fays_flight_id      302   200   404   200   200   200   404   200   200   200   200
GET  oil_reading                         302   200   404   403   200   200   404   200   200   200   200
POST oil_reading                         302   422   404   403   422   422   404   422   422   422   422
GET  correct_flight                      302   200   404   404   403   403   404   200   200   200   200
POST correct_flight                      302   422   404   404   403   403   404   422   422   422   422
GET  correct_flight=fays_flight_id       302   403   404   403   403   403   404   200   200   200   200
GET  correct_flight=old_flight_id        302   403   404   404   403   403   404   200   200   200   200
GET  correct_oil                         302   200   404   404   403   403   404   200   200   200   200
POST correct_oil                         302   422   404   404   403   403   404   422   422   422   422
GET  recording                           302   200   404   404   200   200   404   200   200   200   200
GET  recording_columns                   302   200   404   404   200   200   404   200   200   200   200
POST recording_columns                   302   422   404   404   422   422   404   422   422   422   422
GET  recording_progress                  302   200   404   404   200   200   404   200   200   200   200
POST recording_again                     302   302   404   404   302   302   404   302   302   302   302
GET  recording_file                      302   200   404   404   200   200   404   200   200   200   200
GET  recorded_series                     302   200   404   404   200   200   404   200   200   200   200
GET  recorded_picture                    302   200   404   404   200   200   404   200   200   200   200
POST recorded_match                      302   422   404   404   422   422   404   422   422   422   422
GET  recorded_log                        302   200   404   404   200   200   404   200   200   200   200
POST recorded_log                        302   302   404   404   302   302   404   422   422   422   422
GET  calendar                            404   404   404   404   404   404   404   404   404   404   404
GET  details                             302   200   200   200   200   200   200   200   200   200   200
POST details                             302   422   422   422   422   422   422   422   422   422   422
GET  tokens                              302   200   200   200   200   200   200   200   200   200   200
POST tokens                              302   422   422   422   422   422   422   422   422   422   422
POST token_revoke                        302   302   404   404   404   404   404   404   404   404   404
GET  api_me                              401   200   200   200   200   200   200   200   200   200   200
GET  api_board                           401   403   403   403   403   403   403   200   200   200   200
GET  api_due                             401   200   200   200   200   200   200   200   200   200   200
GET  api_engine                          401   200   404   200   200   200   404   200   200   200   200
GET  api_close_outs                      401   200   404   200   200   200   404   200   200   200   200
GET  api_close_out_document              401   200   404   404   200   200   404   200   200   200   200
POST api_add_oil                         401   400   404   403   400   400   404   400   400   400   400
GET  api_recordings                      401   200   200   200   200   200   200   200   200   200   200
POST api_recordings                      401   415   415   415   415   415   415   415   415   415   415
GET  api_recording                       401   200   404   404   200   200   404   200   200   200   200
GET  api_columns                         401   200   404   404   200   200   404   200   200   200   200
POST api_columns                         401   400   404   404   400   400   404   400   400   400   400
GET  api_match                           401   200   404   404   200   200   404   200   200   200   200
POST api_match                           401   400   404   404   400   400   404   400   400   400   400
POST api_log_recorded                    401   200   404   404   200   200   404   201   201   201   201
POST api_bounced                         401   403   403   403   403   403   403   400   400   400   400
POST api_log_flight                      401   400   404   403   400   400   404   400   400   400   400
GET  api_schema                          200   200   200   200   200   200   200   200   200   200   200
GET  api_nowhere                         401   404   404   404   404   404   404   404   404   404   404
GET  api_root                            401   404   404   404   404   404   404   404   404   404   404
"""


def _rows() -> list[tuple[str, str, str, dict[str, int]]]:
    rows = []
    for line in TABLE.strip().splitlines()[1:]:
        method, target, *codes = line.split()
        name, _, thing = target.partition("=")
        assert len(codes) == len(ROLES), line
        rows.append((method, name, thing, dict(zip(ROLES, map(int, codes), strict=True))))
    return rows


ROWS = _rows()
ADDRESSES = {address.name: address for address in every_address() if not address.route.startswith(PREFIXES)}


@pytest.fixture
def lived(settings) -> Town:
    settings.SECOND_FACTOR_FOR_STAFF = True
    made = made_again(town)
    JobRun.objects.create(name="tick", occurrence="now", started_at=timezone.now(), finished_at=timezone.now())
    return made


def _path(name: str, thing: str, things: dict[str, int | str]) -> str:
    kwargs: dict[str, object] = {}
    for argument in ADDRESSES[name].arguments:
        kwargs[argument] = "no/where" if argument == "rest" else things[thing or argument]
    return reverse(name, kwargs=kwargs)


def _client(user: User | None) -> Client:
    client = Client(raise_request_exception=True)
    if user is not None:
        client.force_login(user)
    return client


def test_no_address_is_missing_from_the_table() -> None:
    unnamed = [
        address.route for address in every_address() if not address.name and not address.route.startswith(PREFIXES)
    ]

    assert not unnamed
    assert set(ADDRESSES) == {name for _, name, _, _ in ROWS}


@pytest.mark.parametrize("role", ROLES)
def test_every_address_answers_each_role_as_the_table_says(lived: Town, role: str) -> None:
    client = _client(lived.users[role])
    wrong = []
    for method, name, thing, codes in ROWS:
        path = _path(name, thing, lived.things)
        if method == "POST" and name == "api_log_flight":
            answer = client.post(path, {"aircraft": lived.aircraft.registration}, content_type="application/json")
        elif method == "POST" and name.startswith("api_"):
            answer = client.post(path, {}, content_type="application/json")
        else:
            answer = client.get(path) if method == "GET" else client.post(path, {"sent": "with nothing in it"})
        if answer.streaming:
            b"".join(answer)  # what is not read to its end stays open
        if answer.status_code != codes[role]:
            wrong.append(f"{method} {name} {thing}: {answer.status_code}, not {codes[role]}")
        elif answer.status_code == 302 and role == "anonymous":
            assert answer.headers["location"].startswith("/accounts/login/"), name
    assert not wrong, "\n".join(wrong)


def test_whatever_takes_a_post_has_a_row_for_it(lived: Town) -> None:
    client = _client(lived.users["manager"])
    known = {name for method, name, _, _ in ROWS if method == "POST"}
    for name in ADDRESSES:
        answer = client.post(_path(name, "", lived.things), {}, content_type="application/json")
        assert (answer.status_code not in (405, 404)) == (name in known) or name == "token_revoke", name


def test_an_address_with_a_number_that_is_nowhere_is_not_found(lived: Town) -> None:
    for role in ("owner", "manager"):
        client = _client(lived.users[role])
        for method, name, _, _ in ROWS:
            if ADDRESSES[name].arguments and "rest" not in ADDRESSES[name].arguments and method == "GET":
                path = reverse(name, kwargs=dict.fromkeys(ADDRESSES[name].arguments, 10**17))
                assert client.get(path).status_code == 404, (role, name)


class TestFirstPage:
    @pytest.mark.parametrize(
        ("role", "first"),
        [
            ("owner", "/portal/"),
            ("member", "/portal/"),
            ("pilot", "/portal/"),
            ("line", "/today/"),
            ("build", "/today/"),
            ("signatory", "/today/"),
            ("manager", "/board/"),
        ],
    )
    def test_each_role_is_sent_to_its_own(self, lived: Town, role: str, first: str) -> None:
        assert _client(lived.users[role]).get("/").headers["location"] == first


class TestAccounts:
    """The pages of the sign-in are allauth's: which of them open without a sign-in, and nothing else does."""

    OPEN = {
        "account_login",
        "account_signup",
        "account_inactive",
        "account_reset_password",
        "account_reset_password_done",
        "account_reset_password_from_key",
        "account_reset_password_from_key_done",
    }

    def test_only_the_way_in_opens_without_signing_in(self, db) -> None:
        seen = set()
        for address in every_address():
            if address.route.startswith("accounts/") and address.name:
                kwargs = {name: 1 if name == "pk" else "x" for name in address.arguments}
                path = reverse(address.name, kwargs=kwargs)
                answer = Client().get(path)
                if answer.status_code == 200:
                    seen.add(address.name)
                else:
                    assert answer.status_code in (302, 404, 405), address
                    assert "login" in answer.headers.get("location", "login"), address
        assert seen == self.OPEN


class TestRecords:
    """The admin is for who may open it, staff or not."""

    @pytest.mark.parametrize("role", [role for role in ROLES if role != "anonymous"])
    def test_a_role_alone_does_not_open_it(self, lived: Town, role: str) -> None:
        client = _client(lived.users[role])
        for path in ("/admin/", "/admin/shop/person/", "/admin/breakin/flight/"):
            answer = client.get(path, follow=True)
            assert answer.status_code == 403, path
            assert b"Django" not in answer.content

    def test_it_asks_strangers_to_sign_in(self, db) -> None:
        answer = Client().get("/admin/shop/person/", follow=True)

        assert answer.redirect_chain[-1][0].startswith("/accounts/login/")

    def test_it_opens_on_every_model_for_who_may(self, lived: Town) -> None:
        root = User.objects.get(pk=lived.users["manager"].pk)  # type: ignore[union-attr]
        root.is_staff = root.is_superuser = True
        root.save()
        client = _client(root)
        for model in admin.site._registry:
            answer = client.get(reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_changelist"))
            assert answer.status_code == 200, model

    def test_every_model_of_ours_is_there(self) -> None:
        ours = {model for name in ("shop", "engines", "breakin") for model in apps.get_app_config(name).get_models()}

        assert ours <= set(admin.site._registry)

"""Time and queries of every list, with 100 and with 10,000 builds: the whole request, rendered, by turns.

    nice .venv/bin/python deploy/bench/lists.py [--small 100] [--large 10000] [--work FOLDER]

SQLite always, PostgreSQL where DATABASE_URL names a server or one can be started.

The board has a bench of its own (board.py). The lists of one owner and of one instructor hold the same few aircraft in
both fleets; those of the shop are one page long.
"""

import argparse
from datetime import timedelta
from pathlib import Path
from typing import Any

from board import Fleet as BoardFleet
from board import by_turns, timed
from common import be_quiet, begin_django, on_postgresql, on_sqlite, postgresql, row, said, work_folder

ROUNDS, TURN = 4, 3
MOST_RATIO = 2.0
AIRCRAFT = 4  # of the owner and of the instructor
ADDRESSES = {
    "today list": ("manager", "/today/"),
    "today list, last page": ("manager", "last page of the today list"),
    "notices": ("manager", "/notices/"),
    "notices, waiting": ("manager", "/notices/?state=waiting"),
    "notices of one aircraft": ("manager", "/notices/?aircraft=QX-00001"),
    "rules": ("manager", "/rules/"),
    "people": ("manager", "/people/"),
    "people by name": ("manager", "/people/?q=Pilot+00"),
    "portal of the shop": ("manager", "/portal/"),
    "programming interface, due": ("manager", "/api/v1/due/"),
    "programming interface, due of one owner": ("owner", "/api/v1/due/"),
    "programming interface, board": ("manager", "/api/v1/board/"),
    "portal of one owner": ("owner", "/portal/"),
    "page of an instructor": ("instructor", "/portal/instructor/"),
}


def readers(now: Any) -> dict[str, Any]:
    """Those who ask, made when they are missing: the manager, an owner and an instructor of so many aircraft."""
    from breakin.models import Assessment
    from engines.models import Aircraft, Holding, PilotAssignment
    from shop.models import Customer, CustomerMember, Person, User

    found = {"manager": User.objects.get(email="manager@bench.example")}
    since = now - timedelta(days=300)
    for name in ("owner", "instructor"):
        user, fresh = User.objects.get_or_create(email=f"{name}@bench.example")
        found[name] = user
        if not fresh:
            continue
        person = Person.objects.create(user=user, name=f"Bench {name}", email=user.email)
        seats = Assessment.objects.exclude(aircraft=None).order_by("aircraft").values_list("aircraft", flat=True)
        planes = Aircraft.objects.filter(pk__in=list(dict.fromkeys(seats[:40]))[:AIRCRAFT])
        if name == "owner":
            customer = Customer.objects.create(name="Bench owner")
            CustomerMember.objects.create(customer=customer, person=person, role="owner", since=since)
            for plane in planes:
                Holding.objects.filter(aircraft=plane).delete()
                Holding.objects.create(aircraft=plane, customer=customer, since=since)
        else:
            for plane in planes:
                PilotAssignment.objects.create(person=person, aircraft=plane, since=since)
    return found


def last_page() -> str:
    """The address of the last engines of the today list, half a page of them, as the page before it says it."""
    from breakin.models import Assessment
    from reports.fleet.board_query import written
    from reports.fleet.today import ASKING, IN_ORDER, PAGE

    keys = Assessment.objects.filter(**ASKING).order_by(*IN_ORDER).values_list(*IN_ORDER)
    return f"/today/?after={written(keys[max(0, keys.count() - PAGE // 2)])}"


class Fleet(BoardFleet):
    """One of the two databases, with its readers signed in."""

    def __init__(self, name: str) -> None:
        from django.test import Client
        from django.utils import timezone

        self.name = name
        self.enter()
        self.clients: dict[str, Any] = {}
        for who, user in readers(timezone.now()).items():
            self.clients[who] = Client(SERVER_NAME="localhost")
            self.clients[who].force_login(user, "allauth.account.auth_backends.AuthenticationBackend")
        self.last_page = last_page()

    def ask(self, page: str) -> tuple[float, float, int]:
        who, address = ADDRESSES[page]
        return timed(self.clients[who], self.last_page if address.startswith("last") else address)


def report(kind: str, sizes: tuple[int, int], found: dict[str, list[dict[str, Any]]]) -> None:
    for page, (small, large) in found.items():
        ratio = large["clock_ms"] / small["clock_ms"]
        queries = small["statements"], large["statements"]
        row(
            f"{page}, {kind}, {sizes[0]:,} and {sizes[1]:,} builds",
            f"{small['clock_ms']:.1f} and {large['clock_ms']:.1f} ms (median; p95 {small['p95_ms']:.0f} and "
            f"{large['p95_ms']:.0f}), ratio {ratio:.2f}; {small['own_ms']:.1f} and {large['own_ms']:.1f} ms of "
            f"one core; {queries[0]} and {queries[1]} queries",
            f"ratio ≤ {MOST_RATIO}, as many queries",
            ratio <= MOST_RATIO and queries[1] <= queries[0] + 1,
        )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--small", type=int, default=100)
    parser.add_argument("--large", type=int, default=10_000)
    parser.add_argument("--work", type=Path)
    parser.add_argument("--measure", nargs=2, help=argparse.SUPPRESS)
    given = parser.parse_args()
    be_quiet()
    if given.measure:
        begin_django(collect_static=True)
        said(by_turns([Fleet(name) for name in given.measure], ADDRESSES, ROUNDS, TURN))
        return
    sizes = (given.small, given.large)
    with work_folder(given.work) as work:
        places = {"SQLite": [on_sqlite(work, f"sqlite-{n}").fleet(n, judged=True) for n in sizes]}
        with postgresql() as server:
            if server:
                places["PostgreSQL"] = [
                    on_postgresql(server, work, f"postgresql-{n}").fleet(n, judged=True) for n in sizes
                ]
            for kind, (small, large) in places.items():
                report(kind, sizes, small.run("lists.py", "--measure", small.database_name, large.database_name))


if __name__ == "__main__":
    main()

"""Time of the server for the board's page, with 100 and with 10,000 builds: the whole request, rendered, by turns.

    nice .venv/bin/python deploy/bench/board.py [--small 100] [--large 10000] [--work FOLDER]

SQLite always, PostgreSQL where DATABASE_URL names a server or one can be started. The two fleets answer in one process
by turns, since other work on the machine would otherwise fall on one of them.
"""

import argparse
import statistics
import time
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from common import (
    Place,
    Statements,
    be_quiet,
    begin_django,
    on_postgresql,
    on_sqlite,
    postgresql,
    quantile,
    row,
    said,
    work_folder,
)

ROUNDS, TURN, WARM = 12, 6, 2
MOST_QUERIES, MOST_RATIO = 12, 1.5
PREFIX = "QX-000"  # fills a page of either fleet


def pages() -> dict[str, Any]:
    """Address of each page by its name; some depend on what the database holds."""
    from breakin.models import Assessment, Lane
    from reports.fleet.board_query import ORDERS, PAGE, Asked, key

    def deep(order: str) -> str:
        rows = Assessment.objects.filter(live=True).order_by(*ORDERS[order][1])
        asked = Asked(order=order)
        return asked.url(after=key(rows[max(0, rows.count() - PAGE - 2)], asked))

    return {
        "first page": Asked().url(),
        "prefix of a registration": Asked(q=PREFIX).url(),
        "prefix of a serial": Asked(q="B-000").url(),
        "prefix of a customer": Asked(q="customer 000").url(),
        "one lane": Asked(lane=Lane.RUNNING).url(),
        "one phase": Asked(phase="settling").url(),
        "by registration": Asked(order="registration").url(),
        "last page by key": deep("lane"),
        "last page by key, by registration": deep("registration"),
    }


class Fleet:
    """One of the two databases, with a reader who is signed in there."""

    def __init__(self, name: str) -> None:
        from django.test import Client

        from shop.models import User

        self.name = name
        self.enter()
        self.client = Client(SERVER_NAME="localhost")
        self.client.force_login(
            User.objects.get(email="manager@bench.example"), "allauth.account.auth_backends.AuthenticationBackend"
        )
        self.addresses = pages()

    def enter(self) -> None:
        from django.db import connection

        if str(connection.settings_dict["NAME"]) != self.name:
            connection.close()
            connection.settings_dict["NAME"] = self.name

    def ask(self, page: str) -> tuple[float, float, int]:
        """(seconds on the clock, seconds of this process, statements)."""
        return timed(self.client, self.addresses[page], b'id="engines"')


def timed(client: Any, address: str, holds: bytes = b"") -> tuple[float, float, int]:
    """One request, whose answer holds these words: (seconds on the clock, seconds of this process, statements)."""
    from django.db import connection

    statements = Statements()
    with connection.execute_wrapper(statements):
        clock, own = time.perf_counter(), time.process_time()
        answer = client.get(address)
        spent = time.perf_counter() - clock, time.process_time() - own
    assert answer.status_code == 200, (address, answer.status_code)
    assert holds in answer.content, address
    return *spent, statements.count


def by_turns(fleets: Sequence[Any], pages: Iterable[str], rounds: int, turn: int) -> dict[str, list[dict[str, Any]]]:
    """For each page and each of the two fleets: times and statements."""
    found: dict[str, list[dict[str, Any]]] = {}
    for page in pages:
        taken: list[list[tuple[float, float, int]]] = [[] for _ in fleets]
        for _ in range(rounds):
            for fleet, answers in zip(fleets, taken, strict=True):
                fleet.enter()
                answers += [fleet.ask(page) for _ in range(WARM + turn)][WARM:]
        found[page] = [
            {
                "clock_ms": 1000 * statistics.median(one[0] for one in answers),
                "p95_ms": 1000 * quantile([one[0] for one in answers], 0.95),
                "own_ms": 1000 * statistics.median(one[1] for one in answers),
                "statements": max(one[2] for one in answers),
            }
            for answers in taken
        ]
    return found


def report(kind: str, sizes: tuple[int, int], found: dict[str, list[dict[str, Any]]]) -> None:
    for page, (small, large) in found.items():
        ratio = large["clock_ms"] / small["clock_ms"]
        queries = max(small["statements"], large["statements"])
        row(
            f"board, {page}, {kind}, {sizes[0]:,} and {sizes[1]:,} builds",
            f"{small['clock_ms']:.1f} and {large['clock_ms']:.1f} ms (median; p95 {small['p95_ms']:.0f} and "
            f"{large['p95_ms']:.0f}), ratio {ratio:.2f}; {small['statements']} and {large['statements']} queries",
            f"ratio ≤ {MOST_RATIO}, ≤ {MOST_QUERIES} queries",
            ratio <= MOST_RATIO and queries <= MOST_QUERIES,
        )


def compare(kind: str, small: Place, large: Place, sizes: tuple[int, int]) -> None:
    report(kind, sizes, small.run("board.py", "--measure", small.database_name, large.database_name))


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
        fleets = [Fleet(name) for name in given.measure]
        said(by_turns(fleets, fleets[0].addresses, ROUNDS, TURN))
        return
    sizes = (given.small, given.large)
    with work_folder(given.work) as work:
        compare("SQLite", *(on_sqlite(work, f"sqlite-{n}").fleet(n, judged=True) for n in sizes), sizes)
        with postgresql() as server:
            if not server:
                row("board, PostgreSQL", "SKIPPED: no server", "", None)
                return
            places = [on_postgresql(server, work, f"postgresql-{n}").fleet(n, judged=True) for n in sizes]
            compare("PostgreSQL", *places, sizes)


if __name__ == "__main__":
    main()

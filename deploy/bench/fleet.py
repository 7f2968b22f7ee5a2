"""Make a fleet of any size in the place that DATA_DIR or DATABASE_URL names, which must be empty.

    DATA_DIR=/tmp/fleet .venv/bin/python deploy/bench/fleet.py --builds 10000 [--judge]

Rows are written in bulk and past the services, which is for measuring only: hashes of content are made up, and there
is no audit trail. Plans are copies of those that the services issue.
"""

import argparse
import random
import sys
import time
from datetime import datetime
from typing import Any

from common import be_quiet, begin_django, row

SEED = 20
AIRCRAFT_AT_ONCE = 250
TWIN_EVERY = 8
FINISHES = {"nitrided": 50, "through_hardened": 25, "plain_steel": 10, "chrome": 10, "nickel": 5}
SINGLES = ("TAV-4C", "TAV-4E", "VRN-6B", "VRN-6D", "PL-6G")
TWINS = ("VRN-6D", "PL-6G", "VRN-6T")


def make(builds: int, now: datetime, seed: int = SEED) -> None:
    """Write the whole fleet."""
    from bulk_fleet import Fleet

    fleet = Fleet(random.Random(seed), now, customers=max(5, builds // 4))
    left, number = builds, 0
    while left > 0:
        for _ in range(AIRCRAFT_AT_ONCE):
            if left <= 0:
                break
            number += 1
            left -= fleet.add(number, engines=2 if number % TWIN_EVERY == 0 and left >= 2 else 1)
        fleet.write()
        print(f"{builds - left} builds", file=sys.stderr, flush=True)


def judge_all(now: datetime) -> Any:
    from breakin import assess
    from breakin.models import Assessment

    return assess.assess_many(Assessment.objects.order_by("build_id").values_list("build_id", flat=True), now)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--builds", type=int, default=0)
    parser.add_argument("--judge", action="store_true", help="judge every build after that")
    given = parser.parse_args()
    be_quiet()
    begin_django()
    from django.core.management import call_command
    from django.db import connection, transaction
    from django.utils import timezone

    from breakin.models import Flight, OilEvent, PowerBlock
    from engines.models import Build

    start = time.monotonic()
    if given.builds:
        call_command("migrate", interactive=False, verbosity=0)
        call_command("createcachetable", verbosity=0)
        if Build.objects.exists():
            sys.exit("There are builds in this database. A bench fleet is made in an empty one only.")
        with transaction.atomic():
            make(given.builds, timezone.now())
        if connection.vendor == "postgresql":
            _analyze()
        row(
            f"make a fleet of {given.builds:,} builds, {connection.vendor}",
            f"{time.monotonic() - start:.0f} s: {Flight.objects.count():,} flights, {PowerBlock.objects.count():,} "
            f"blocks, {OilEvent.objects.count():,} oil events",
        )
    if given.judge:
        start = time.monotonic()
        print(f"{judge_all(timezone.now())} in {time.monotonic() - start:.0f} s", file=sys.stderr)


def _analyze() -> None:
    """Let PostgreSQL know its tables, as its own housekeeping does within minutes. SQLite is used without statistics:
    the program never gathers them, and they mislead it where a unique column is empty in every row.
    """
    from django.db import connection

    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


if __name__ == "__main__":
    main()

"""The invented fleet of the bench: made by its script in an empty place, and judged without a failure."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.shop.commands import REPO, Place, place

pytestmark = [pytest.mark.slow, pytest.mark.django_db(transaction=True)]

COUNTS = """
from breakin.models import Assessment, Finding, FlightEngine, OilEvent
from engines.models import Build, Installation
judged = Assessment.objects.filter(computed_at__isnull=False, dirty_at=None)
flown = [build.engine.flights.count() for build in Build.objects.select_related("engine")]
twins = Installation.objects.filter(position="left").count()
readings = OilEvent.objects.filter(kind="reading").count()
print(Build.objects.count(), judged.count(), min(flown), max(flown), twins, readings == sum(flown))
"""


def fleet(here: Place, *arguments: str) -> "subprocess.CompletedProcess[str]":
    command = [sys.executable, str(REPO / "deploy/bench/fleet.py"), *arguments]
    return subprocess.run(command, cwd=REPO, env=here.env(), capture_output=True, text=True, timeout=300)


def test_a_fleet_is_made_with_twins_and_judged_whole_and_never_into_a_used_database(tmp_path: Path) -> None:
    with place(tmp_path / "data") as here:
        here.migrate()
        made = fleet(here, "--builds", "10", "--judge")
        assert made.returncode == 0, made.stderr
        assert "Outcome(done=10, changed=10, failed=())" in made.stderr
        builds, judged, fewest, most, twins, a_reading_a_flight = here.python(COUNTS).split()
        assert (builds, judged, twins, a_reading_a_flight) == ("10", "10", "1", "True")
        assert 4 <= int(fewest) <= int(most) <= 12

        again = fleet(here, "--builds", "10")
        assert again.returncode != 0
        assert "There are builds in this database" in again.stderr

"""From an upload to its verdict, and what the picture costs a phone: four hours of a twin, a row a second, 40 columns.

    nice .venv/bin/python deploy/bench/recording_page.py [--runs 5] [--write]

Prints the table of recording_page.md; with --write it is written there. Ends with 1 when a bar is missed.
"""

from __future__ import annotations

import argparse
import gzip
import io
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np

HERE = Path(__file__).resolve().parent
HOURS, SIDES, CYLINDERS = 4, "12", 6
KB = 1024
NOTES = """
Measured in one process on SQLite, with the program's own views; "on the clock" holds what other programs took
meanwhile. The file is made up: ten legs at two settings, noise on every channel. Compressed means gzip as the server
sends it. A phone asks for 500 points of each line, a wide screen for 900.
"""


def file_of_a_twin() -> bytes:
    """Date, time, 2 x 17 channels of engine, outside air, altitude, airspeed, heading: 40 columns."""
    rng = np.random.default_rng(3)
    seconds = HOURS * 3600
    t = np.arange(seconds)
    knots = [0, 60, 700, 730, 1400, *range(2000, seconds - 1500, 1200), seconds - 1200, seconds - 400, seconds]
    settings = np.resize([0.75, 0.65], len(knots) - 8)
    power = np.interp(t, knots, [0, 0.12, 0.14, 0.98, 0.85, *settings, 0.45, 0.2, 0])
    clock = np.datetime64("2026-06-13T08:00:00") + t.astype("timedelta64[s]")
    columns: list[tuple[str, np.ndarray, int]] = []
    for side in SIDES:
        columns += [
            (f"E{side} RPM", 700 + 2000 * power + rng.normal(0, 4, seconds), 0),
            (f"E{side} MAP inHg", 11 + 18 * power + rng.normal(0, 0.06, seconds), 1),
            (f"E{side} FF gal/h", 1 + 17 * power**1.4 + rng.normal(0, 0.08, seconds), 1),
            (f"E{side} OIL T F", 90 + 95 * (1 - np.exp(-t / 1500)) + rng.normal(0, 0.5, seconds), 0),
            (f"E{side} OIL P psi", 20 + 45 * np.clip(power * 3, 0, 1) + rng.normal(0, 0.7, seconds), 0),
        ]
        for number in range(1, CYLINDERS + 1):
            heat = np.convolve(power, np.exp(-np.arange(900) / 220) / 220, "full")[:seconds]
            columns.append((f"E{side} CHT{number} F", 60 + (395 + 6 * number) * heat + rng.normal(0, 0.9, seconds), 0))
            columns.append((f"E{side} EGT{number} F", 500 + 1050 * power + 9 * number + rng.normal(0, 5, seconds), 0))
    columns += [
        ("OAT F", 62 - 12 * np.clip(power, 0, 0.5) + rng.normal(0, 0.4, seconds), 0),
        ("ALT ft", 600 + 3900 * np.clip((t - 730) / 900, 0, 1) * np.clip((seconds - 400 - t) / 900, 0, 1), 0),
        ("IAS kt", 170 * np.clip(power * 1.4, 0, 1) * (t > 760) + rng.normal(0, 1.5, seconds), 0),
        ("HDG", (t / 7) % 360, 0),
    ]
    out = io.StringIO()
    out.write(",".join(["Date", "Time", *(name for name, _, _ in columns)]) + "\n")
    texts = [np.char.mod(f"%.{places}f", values) for _, values, places in columns]
    whole = [str(each).split("T") for each in clock]
    for row in range(seconds):
        out.write(",".join([whole[row][0], whole[row][1], *(text[row] for text in texts)]) + "\n")
    return out.getvalue().encode()


def prepare(folder: Path) -> Any:
    """A place of its own with a twin and its owner; the owner's client and the aircraft."""
    os.environ |= {"DATA_DIR": str(folder), "DEMO_MODE": "1", "DEBUG": "1", "DJANGO_SETTINGS_MODULE": "shop.settings"}
    os.environ |= {"LOG_LEVEL": "ERROR"}
    sys.path.insert(0, str(HERE.parents[1]))
    import django

    django.setup()
    from django.core.management import call_command
    from django.test import Client

    from tests import factories

    call_command("migrate", verbosity=0)
    call_command("createcachetable", verbosity=0)
    cast = factories.cast()
    kind = factories.type_revision("TAV-6E", cylinders=6, displacement_cuin=520, rated_hp=285)
    plane = factories.aircraft("QX-960", cast.ada_customer)
    for position in ("left", "right"):
        one = factories.engine(kind)
        factories.build(one, by=cast.cora)
        factories.seat(one, plane, by=cast.tom, position=position)
    client = Client(headers={"host": "127.0.0.1"})
    client.force_login(cast.ada.user, backend="allauth.account.auth_backends.AuthenticationBackend")
    return client, plane, cast.ada


def upload_to_verdict(client: Any, plane: Any, person: Any, content: bytes) -> tuple[Any, float, float]:
    """Send the file, answer what is asked, have it read: seconds from the sending to the page with its verdict, on the
    clock and of one core.
    """
    from django.core.files.uploadedfile import SimpleUploadedFile
    from django.utils import timezone

    from breakin.models import ReadState, Recording, RecordingRead
    from breakin.reading import read_recording
    from breakin.services.recording_channels import confirm_channels

    start, core = time.perf_counter(), time.process_time()
    sent = {"upload": SimpleUploadedFile("twin.csv", content)}
    assert client.post(f"/portal/aircraft/{plane.pk}/recordings/", sent).status_code == 302
    recording = Recording.objects.latest("pk")
    read_recording(recording.pk, timezone.now())
    reading = RecordingRead.objects.get(recording=recording)
    answered = 0.0
    if reading.state == ReadState.ASKS:
        asking = time.perf_counter()
        confirm_channels(
            by=person, recording=recording, mapping=reading.look["mapping"], clock_zone="UTC", keep_position=False,
            now=timezone.now() + timedelta(seconds=1),
        )  # fmt: skip
        answered = time.perf_counter() - asking
        read_recording(recording.pk, timezone.now() + timedelta(seconds=2))
        reading.refresh_from_db()
    assert reading.state == ReadState.READ, (reading.state, reading.problem, reading.look.get("questions"))
    page = client.get(f"/recordings/{recording.pk}/")
    assert page.status_code == 200
    assert b"in the air" in page.content
    return recording, time.perf_counter() - start - answered, time.process_time() - core


def timed(work: Callable[[], Any], runs: int) -> tuple[Any, float]:
    """The answer, and the median milliseconds of one core."""
    spent = []
    for _ in range(runs):
        start = time.process_time()
        answer = work()
        spent.append((time.process_time() - start) * 1000)
    return answer, statistics.median(spent)


def rows(runs: int, folder: Path) -> list[tuple[str, str, str, bool | None]]:
    client, plane, person = prepare(folder)
    content = file_of_a_twin()
    recording, seconds, core = upload_to_verdict(client, plane, person, content)
    size = f"{len(content) / KB / KB:.1f} MB, {HOURS * 3600:,} rows x 40 columns"
    made: list[tuple[str, str, str, bool | None]] = [
        (
            f"upload to verdict, {size}",
            f"{core:.1f} s of one core; {seconds:.1f} s on the clock",
            "≤ 5 s of one core",
            core <= 5,
        )
    ]
    flight = recording.flights.get()
    kept = recording.reading.table.size + Path(folder, "media", flight.summary["series"]).stat().st_size
    made.append(
        (
            "table and lines that are kept beside the file",
            f"{kept / KB:.0f} kB, {kept / len(content):.0%} of it",
            "",
            None,
        )
    )
    base = f"/recordings/{recording.pk}/"
    for name, path, bar in (
        ("lines of the picture, phone", f"{base}flights/1/series/?points=500", 150),
        ("lines of the picture, wide screen", f"{base}flights/1/series/?points=900", 150),
        ("a closer look: 20 min, phone", f"{base}flights/1/series/?from=3000&to=5400&points=1000", 150),
        ("the page itself", base, None),
        ("the still picture", f"{base}flights/1/lines.svg", None),
    ):
        answer, spent = timed(lambda path=path: client.get(path), runs)
        assert answer.status_code == 200, (path, answer.status_code)
        packed = len(gzip.compress(answer.content, 6)) / KB
        whole = f"{packed:.0f} kB compressed ({len(answer.content) / KB:.0f} kB), {spent:.0f} ms of one core"
        made.append((name, whole, f"≤ {bar} kB" if bar else "", packed <= bar if bar else None))
    return made


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--write", action="store_true")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="recording-page-") as folder:
        measured = rows(given.runs, Path(folder))
    table = ["| what | measured | bar | |", "|---|---|---|---|"]
    words = {True: "met", False: "MISSED", None: ""}
    table += [f"| {what} | {value} | {bar} | {words[met]} |" for what, value, bar, met in measured]
    print("\n".join(table))
    if given.write:
        text = "# From an upload to its verdict, and what the picture costs\n\n" + "\n".join(table) + "\n" + NOTES
        (HERE / "recording_page.md").write_text(text, encoding="utf-8")
    return 1 if any(met is False for *_, met in measured) else 0


if __name__ == "__main__":
    sys.exit(main())

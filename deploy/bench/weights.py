"""What the page for logging a flight weighs over the wire, with everything that comes with it.

    nice .venv/bin/python deploy/bench/weights.py [--work FOLDER]

Chromium at 390 pixels, signed in as an owner, against the program as it serves itself (no proxy before it, HTTP/1.1),
with every byte of every answer counted on the line between them: heads, the page, styles, scripts, fonts, and what the
service worker fetches to keep. The second visit is the same phone a minute later, its caches filled.
"""

import argparse
import os
import shutil
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

from common import TOP, Place, on_sqlite, row, work_folder

FIRST_KB, AGAIN_KB = 120, 20
CAST = """
from datetime import timedelta
from django.test import Client
from django.utils import timezone
from tests import factories
shop = factories.cast()
factories.flown(shop.build_1, 1.2, at=timezone.now() - timedelta(days=2), level_qt=7.0)
client = Client()
client.force_login(shop.ada.user, backend="allauth.account.auth_backends.AuthenticationBackend")
print(shop.aircraft_1.pk, client.cookies["sessionid"].value)
"""


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--work", type=Path)
    given = options.parse_args()
    with work_folder(given.work) as work:
        shutil.rmtree(work / "weights", ignore_errors=True)
        place = on_sqlite(work, "weights")
        # As in production: files are compressed and named by their hash.
        place = Place(place.name, place.data_dir, more={"DEMO_MODE": "0", "PORT": "8391", "ALLOWED_HOSTS": "127.0.0.1"})
        for command in (("migrate", "--verbosity=0"), ("createcachetable",)):
            place.start("manage.py", *command).wait()
        made = place.start("manage.py", "shell", "--no-imports", "-c", CAST, stdout=subprocess.PIPE).communicate()[0]
        aircraft, session = made.decode().split()[-2:]
        server = place.start("manage.py", "serve", start_new_session=True)
        try:
            _wait("http://127.0.0.1:8391/accounts/login/")
            measure(f"/portal/aircraft/{aircraft}/log/", session)
        finally:
            os.killpg(server.pid, signal.SIGTERM)
            server.wait()


def measure(path: str, session: str) -> None:
    from playwright.sync_api import sync_playwright

    from tests.browser.network import Line

    line = Line("127.0.0.1", 8391)
    site = f"http://127.0.0.1:{line.port}"
    with sync_playwright() as tool:
        chromium = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
        arguments = ["--no-sandbox"] if os.geteuid() == 0 else []
        browser = tool.chromium.launch(executable_path=chromium, args=arguments)
        for name, javascript in (("", True), (", scripts off", False)):
            phone = browser.new_context(viewport={"width": 390, "height": 844}, java_script_enabled=javascript)
            phone.add_cookies([{"name": "sessionid", "value": session, "url": site}])
            for visit, bar in (("first visit", FIRST_KB), ("again", AGAIN_KB)):
                before = line.answered_bytes
                page = phone.new_page()
                page.goto(site + path, wait_until="networkidle")
                quiet(line)
                page.close()
                weight = (line.answered_bytes - before) / 1000
                row(
                    f"page for logging a flight, {visit}{name}",
                    f"{weight:.1f} kB over the wire",
                    f"< {bar} kB",
                    weight < bar,
                )
            phone.close()
        browser.close()
    line.cut()


def quiet(line: "object") -> None:
    """Until nothing more has come for two seconds: the worker keeps files after the page is done."""
    last, since = -1, time.monotonic()
    while time.monotonic() - since < 2:
        now = line.answered_bytes  # type: ignore[attr-defined]
        if now != last:
            last, since = now, time.monotonic()
        time.sleep(0.1)


def _wait(address: str) -> None:
    end = time.monotonic() + 400  # compressing every file takes its time
    while time.monotonic() < end:
        try:
            with urllib.request.urlopen(address, timeout=5):  # noqa: S310 - our own server
                return
        except OSError:
            time.sleep(0.3)
    sys.exit(f"{address} does not answer; started in {TOP}")


if __name__ == "__main__":
    main()

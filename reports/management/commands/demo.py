"""Load the demo fleet and write down its logins."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from reports.demo.load import load
from reports.demo.people import Login
from reports.demo.stale import make_stale
from reports.demo.stories import AIRCRAFT
from shop.models import Shop


class Command(BaseCommand):
    help = "Load an invented shop with its customers and engines; dates are relative to today. Safe to run twice."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--quiet", action="store_true", help="do not print the logins")
        parser.add_argument("--aircraft", nargs="+", default=(), metavar="QX-101", help="load these only")
        parser.add_argument("--stale", action="store_true", help="let the last nightly run be more than 26 hours old")

    def handle(self, *args: Any, **options: Any) -> None:
        shop = Shop.objects.first()
        file = Path(settings.DATA_DIR) / "demo-logins.json"
        if shop is not None and not file.exists():
            raise CommandError(
                f"This database belongs to {shop.name}. The demo goes into an empty one: set DATA_DIR to a new folder."
            )
        now = timezone.now()
        if unknown := set(options["aircraft"]) - {row.registration for row in AIRCRAFT}:
            raise CommandError(f"No aircraft of the demo: {', '.join(sorted(unknown))}.")
        logins = load(now, options["aircraft"])
        if options["stale"]:
            make_stale(now)
        if logins:
            _write(file, logins)
        if not options["quiet"]:
            for login in json.loads(file.read_text()):
                self.stdout.write(f"{login['role']:<18} {login['email']:<28} {login['password']}")


def _write(file: Path, logins: list[Login]) -> None:
    rows = [{"role": login.role, "email": login.email, "password": login.password} for login in logins]
    file.write_text(json.dumps(rows, indent=2) + "\n")
    file.chmod(0o600)

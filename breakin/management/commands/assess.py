"""Judge builds from the command line."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from breakin import assess
from breakin.models import Assessment


class Command(BaseCommand):
    help = (
        "Judge the builds that wait for it, or with --all every live build. Ends with 1 when one could not be judged."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--all", action="store_true", help="every live build, not only those that wait")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        live = Assessment.objects.filter(live=True).order_by("build_id").values_list("build_id", flat=True)
        outcome = assess.assess_many(live if options["all"] else assess.due_ids(now), now)
        failed = f", {len(outcome.failed)} failed: {', '.join(map(str, outcome.failed))}" if outcome.failed else ""
        self.stdout.write(f"{outcome.done} judged, {outcome.changed} changed{failed}")
        if outcome.failed:
            sys.exit(1)

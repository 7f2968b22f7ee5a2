"""Count anew what pages read instead of counting, and say what was wrong."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from breakin.counts import recount


class Command(BaseCommand):
    help = "Counts lanes and rules anew from the rows, and names each count that was wrong. Safe at any time."

    def handle(self, *args: Any, **options: Any) -> None:
        wrong = recount()
        for line in wrong:
            self.stdout.write(line)
        self.stdout.write(f"{len(wrong)} counts were wrong." if wrong else "Every count was right.")

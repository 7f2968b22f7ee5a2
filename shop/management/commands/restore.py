"""Put a backup back."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shop import backups
from shop.management.commands.serve import hold_data_dir


class Command(BaseCommand):
    help = "Restore FILE, made by backup. Stop the web server and the workers first."
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--force", action="store_true", help="put aside what is here, then restore")

    def handle(self, *args: Any, **options: Any) -> None:
        with hold_data_dir():
            try:
                manifest = backups.restore(options["file"], timezone.now(), options["force"], self.stdout.write)
            except backups.BackupError as error:
                raise CommandError(str(error)) from error
        self.stdout.write(f"Restored the state of {manifest.taken_at}: {len(manifest.members)} file(s).")

"""Write everything to one file."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from shop import backups


class Command(BaseCommand):
    help = "Write the database and the uploaded files to FILE, a tar with a manifest, while the program runs."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            manifest = backups.write_backup(options["file"], timezone.now())
        except backups.BackupError as error:
            raise CommandError(str(error)) from error
        size = sum(member.size for member in manifest.members) / 1e6
        self.stdout.write(f"{options['file']}: {len(manifest.members)} file(s), {size:.1f} MB")
        if backups.media_root() is None:
            self.stdout.write("Uploaded files are in object storage and not in this backup.")

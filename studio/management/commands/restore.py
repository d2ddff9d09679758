import os

from django.core.management.base import BaseCommand, CommandError

from studio import backup


class Command(BaseCommand):
    requires_system_checks = []
    help = "Puts an archive into a new, empty studio."

    def add_arguments(self, parser):
        parser.add_argument("archive", help="the .tar file that `backup` wrote")

    def handle(self, *args, archive, **options):
        os.umask(0o077)
        try:
            manifest = backup.restore(archive)
        except backup.BackupRefused as error:
            raise CommandError(str(error)) from error
        rows, files = sum(manifest["tables"].values()), len(manifest["files"]) - len(manifest["tables"])
        self.stdout.write(f"Restored {rows} rows and {files} files, as they were on {manifest['created_at']}.")
        self.stdout.write("The next run's code starts a hundred further on: codes on wet yarn are never given twice.")

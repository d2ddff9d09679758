from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from studio import backup


class Command(BaseCommand):
    requires_system_checks = []
    help = "Writes one archive of the database and the pictures."

    def add_arguments(self, parser):
        parser.add_argument("--daily", action="store_true", help="do nothing when today's is there already")
        parser.add_argument("--to", metavar="PATH", help="where to write it, instead of the backup folder")

    def handle(self, *args, daily, to, **options):
        today = backup.made_on(timezone.localdate())
        if daily and not to and today:
            self.stdout.write(f"Today's backup is there already: {today}")
            return
        try:
            path = backup.make(to)
        except backup.BackupRefused as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"Backed up to {path}")
        if not to:
            backup.keep(settings.BACKUPS_KEPT)

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from batches.demo import story


class Command(BaseCommand):
    help = "Fill an empty studio with a small invented one, and say how to sign in to it."

    def handle(self, *args, **options):
        if story.is_empty():
            with transaction.atomic():
                story.Story(timezone.now()).tell()
        elif not story.is_demo():
            raise CommandError(
                "This studio has people or runs of its own. The demo only goes into an empty data folder."
            )
        self.stdout.write(f"Demo studio: sign in as Oda with the password “{story.PASSWORD}”.")

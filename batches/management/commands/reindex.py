from django.core.management.base import BaseCommand

from batches import indexing


class Command(BaseCommand):
    help = "Make the journal's index anew from the record. Needed only if finding misses what is there."

    def add_arguments(self, parser):
        parser.add_argument("--if-due", action="store_true", help="Only where it was made by other rules than today's.")

    def handle(self, *args, **options):
        if options["if_due"] and not indexing.is_due():
            return
        self.stdout.write("Making the journal's index anew.")
        indexing.rebuild()

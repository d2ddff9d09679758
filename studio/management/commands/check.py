from django.core.management.commands import check

from studio.checks import notices


class Command(check.Command):
    """Django's own check, after the notices: facts about this box that nobody has to put right."""

    def handle(self, *app_labels, **options):
        if not (app_labels or options["tags"] or options["list_tags"]):
            for notice in notices():
                self.stdout.write(f"Note: {notice}")
        super().handle(*app_labels, **options)

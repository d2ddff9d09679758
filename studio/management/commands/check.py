from django.core.management.commands import check

from studio.checks import notices


class Command(check.Command):
    """Django's own check, after the notices: facts about this box that nobody has to put right."""

    def handle(self, *app_labels, **options):
        if not (app_labels or options["tags"] or options["list_tags"]):
            for notice in notices():
                self.stdout.write(f"Note: {notice}")
        if "records" in (options["tags"] or []):
            # They read the whole database, so nothing else runs them: see studio.checks_records.
            options.update(deploy=True, databases=options["databases"] or ["default"])
        super().handle(*app_labels, **options)

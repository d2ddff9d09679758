import os

from django.conf import settings
from django.contrib.auth import get_user_model
from django.core.management import call_command, get_commands
from django.core.management.base import BaseCommand, CommandError
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

from studio import setup_token
from studio.checks import notices


class Command(BaseCommand):
    help = "Get the database and the static files ready for the server, and say where the studio is."
    requires_system_checks = ["setup"]

    def add_arguments(self, parser):
        parser.add_argument("--demo", action="store_true", help="Fill the data folder with the demo studio.")

    def handle(self, *args, **options):
        os.umask(0o077)  # whoever starts it, and wherever the data folder lies: the database is for this account alone
        for notice in notices():
            self.stdout.write(f"Note: {notice}")
        self.update_database()
        if "reindex" in get_commands():
            call_command("reindex", if_due=True, stdout=self.stdout)
        call_command("collectstatic", interactive=False, verbosity=0)
        if options["demo"] and "demo" in get_commands():
            call_command("demo", stdout=self.stdout)
        self.stdout.write(f"\nClearbath is at {settings.BASE_URL} (Ctrl-C ends it).")
        if not get_user_model().objects.exists():
            self.stdout.write(f"Make the owner's account here, once:\n  {setup_token.link()}")

    def update_database(self):
        executor = MigrationExecutor(connection)
        loader = executor.loader
        newer = set(loader.applied_migrations) - set(loader.disk_migrations)
        if any(app in loader.migrated_apps for app, name in newer):
            raise CommandError(
                "This database was used by a newer version of Clearbath. Install that version again, or "
                "restore a backup from before the update into an empty data folder. Nothing was changed."
            )
        if not executor.migration_plan(loader.graph.leaf_nodes()):
            return
        if loader.applied_migrations and "backup" in get_commands():
            self.stdout.write("Backing up before the database is brought up to date.")
            call_command("backup", stdout=self.stdout)
        self.stdout.write("Bringing the database up to date.")
        call_command("migrate", interactive=False, verbosity=0, skip_checks=True)

from django.contrib.auth import get_user_model
from django.core.management.base import BaseCommand

from studio import setup_token


class Command(BaseCommand):
    help = "Print the one-time link that makes the first account, as long as there is none."
    requires_system_checks = []

    def handle(self, *args, **options):
        if get_user_model().objects.exists():
            self.stderr.write("There is an account already, so no set-up link is needed.")
            return
        self.stdout.write(setup_token.link())

"""Makes what a served studio needs, in its own database, and prints it: who is signed in, pots, bottles.

Run by itself, in the environment of the server that is to be measured or killed: `python -m tests.prepare`.
"""

import json

import django

POTS = 10

if __name__ == "__main__":
    django.setup()

    from django.conf import settings
    from django.core.management import call_command
    from django.test import Client

    from studio.models import Studio
    from tests import builders

    call_command("migrate", verbosity=0, skip_checks=True)
    Studio.get()
    cast = builders.make_cast()
    browser = Client()
    browser.force_login(cast.owner, backend="django.contrib.auth.backends.ModelBackend")
    token = "b" * 32
    cookies = {settings.SESSION_COOKIE_NAME: browser.session.session_key, settings.CSRF_COOKIE_NAME: token}
    twins = builders.run_with_pots(cast.owner, pots=2)
    print(
        json.dumps(
            {
                "pots": [builders.one_pot(cast.owner).pk for _ in range(POTS)],
                "twins": [pot.pk for pot in twins.batches.order_by("pk")],
                "bottles": [builders.bottle(cast.owner, volume=100_000).pk for _ in range(POTS)],
                "cookie": "; ".join(f"{name}={value}" for name, value in cookies.items()),
                "token": token,
            }
        )
    )

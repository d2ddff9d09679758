"""Prints what a served studio's log and shelf hold, read past the server: `python -m tests.crash.look`."""

import json

import django

if __name__ == "__main__":
    django.setup()

    from batches.models import Entry
    from studio.models import Lot

    lines = Entry.objects.values_list("pk", "together", "batch")
    on_hand = Lot.objects.with_on_hand().filter(solution__isnull=False)
    print(
        json.dumps(
            {
                "lines": [[str(together or pk), pot] for pk, together, pot in lines],
                "on_hand": {lot.pk: str(lot.on_hand) for lot in on_hand},
            }
        )
    )

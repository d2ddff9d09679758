"""What a studio always does and says, as a list: put in order, begun with what is usual, a name never there twice."""

from decimal import Decimal

from django.db import transaction

from studio import folding

from .models import Method, Place

# All of these are common practice, no source: in a vessel yarn lies in layers, on a table it is parted along the skein,
# and what is dipped has ends.
LAYERS = ("all of it", "bottom layer", "between the layers", "top layer", "one side")
THIRDS = ("all of it", "first third", "second third", "last third")
USUAL_PLACES = {
    Method.POT: (*THIRDS, "between the layers", "top layer"),
    Method.JAR: LAYERS,
    Method.PAN: (*THIRDS, "along one edge", "where the colours meet"),
    Method.PAINTED: (*THIRDS, "where the colours meet", "speckled over it"),
    Method.DIPPED: ("one end", "the other end", "both ends", "the middle", "up to the tie"),
    Method.OTHER: THIRDS,
}

# Likewise; the temperatures are those of acid dyes on wool. name, kind, degrees C, minutes, how it is done.
USUAL_STEPS = {
    "": (
        ("Soak", "soak", None, 30, "Lukewarm water with a drop of wetting agent."),
        ("Rinse", "rinse", None, None, "As warm as the yarn, until the water stays clear."),
        ("Hang to dry", "dry", None, None, "In the shade, nothing dripping on anything else."),
    ),
    Method.POT: (
        ("Heat slowly", "heat", 85, 40, "Not boiling, and moved as little as needed."),
        ("Hold the heat", "hold", 85, 30, "Lid on."),
        ("Cool in the pot", "cool", None, None, "In its own bath, until it is hand-warm."),
    ),
    Method.JAR: (
        ("Heat the jars", "hold", 85, 45, "In a water bath, lids loose: a sealed jar can burst."),
        ("Cool in the jars", "cool", None, None, "Opened only when they are hand-warm."),
    ),
    Method.PAN: (
        ("Heat the pan", "hold", 85, 40, "Covered, without stirring."),
        ("Cool in the pan", "cool", None, None, "Left where it is until it is hand-warm."),
    ),
    Method.PAINTED: (
        ("Wrap and rest", "other", None, 20, "So that the dye finds its way in."),
        ("Steam", "hold", None, 40, "Over the water, not in it; opened away from the face."),
    ),
    Method.DIPPED: (
        ("Drip off", "other", None, 5, "Over its own bath."),
        ("Hold the dipped end in", "hold", 85, 20, "Only as deep as the colour is to go."),
    ),
}


def taken_by(model, name, method="", but=None):
    """The row that has this name already, whatever its case and accents; None where it is free.

    A place may be called the same in two ways of dyeing, a step has its name once. Names are few, so all are read.
    """
    rows = model.objects.filter(method=method) if model is Place else model.objects.all()
    wanted = folding.fold(" ".join(name.split()))
    return next((row for row in rows if row != but and folding.fold(str(row)) == wanted), None)


def in_order(model):
    """All rows as they stand, locked: call it within a transaction."""
    return list(model.objects.select_for_update())


def move(row, by):
    """Put a row one place up (`by` = -1) or down (1) among those in use of its way of dyeing. At the end it stays."""
    with transaction.atomic():
        rows = in_order(type(row))
        here = [one for one in rows if one.method == row.method and not one.retired]
        if row not in here:
            return
        other = here.index(row) + by
        if 0 <= other < len(here):
            mine, theirs = rows.index(row), rows.index(here[other])
            rows[mine], rows[theirs] = rows[theirs], rows[mine]
        _number(type(row), rows)


def at_the_end(model):
    """The position of a row that comes last."""
    last = model.objects.order_by("-position").values_list("position", flat=True).first()
    return 0 if last is None else last + 1


def take_over(model, method):
    """Add what is usual for a way of dyeing, but for names that are there. Answers how many were added."""
    with transaction.atomic():
        in_order(model)
        added, position = 0, at_the_end(model)
        for facts in usual(model, method):
            if taken_by(model, facts.get("words" if model is Place else "name"), method) is None:
                model.objects.create(method=method, position=position + added, **facts)
                added += 1
    return added


def usual(model, method):
    """What is usual for a way of dyeing, as columns of a row."""
    if model is Place:
        return [{"words": words} for words in USUAL_PLACES.get(method, ())]
    return [
        {"name": name, "kind": kind, "temperature_c": c and Decimal(c), "minutes": m and Decimal(m), "words": words}
        for name, kind, c, m, words in USUAL_STEPS.get(method, ())
    ]


def _number(model, rows):
    for position, row in enumerate(rows):
        if row.position != position:
            row.position = position
            row.save(update_fields=["position"])

"""What Lamp Lane always does, and what it calls the places on its yarn: for the buttons at the sink."""

from decimal import Decimal

from recipes.models import HouseStep, Method, Place

STEPS = [  # name, kind, way of dyeing or "" for all, degrees C, minutes, how it is done here
    ("Presoak", "soak", "", 40, 30, "A drop of wetting agent in the grey basin."),
    ("Warm box", "hold", Method.JAR, 70, 90, "Lids loose, a towel between the jars."),
    ("Steam bundle", "hold", Method.PAINTED, 98, 45, "Rolled in film, seam up, no two touching."),
    ("Up to heat", "heat", Method.POT, 85, 35, "Two rings, lid on."),
    ("Overnight cool", "cool", "", None, None, "In its own bath, lid on."),
    ("Two rinses", "rinse", "", 30, 10, "Same warmth as the yarn."),
]
PLACES = {
    Method.JAR: ("between the layers", "on top", "under the yarn", "down one side"),
    Method.PAINTED: ("all of it", "ends", "middle", "the gaps", "a second pass"),
}


def put_down():
    for position, (name, kind, method, c, minutes, words) in enumerate(STEPS):
        known = {"temperature_c": c and Decimal(c), "minutes": minutes and Decimal(minutes)}
        HouseStep.objects.create(name=name, kind=kind, method=method, words=words, position=position, **known)
    for method, places in PLACES.items():
        for position, words in enumerate(places):
            Place.objects.create(words=words, method=method, position=position)

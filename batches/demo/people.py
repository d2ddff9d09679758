"""Who works at the demo studio, and how it counts. Invented, like everything here."""

from studio.models import Person, Role, Studio

NAME = "Lamp Lane Dyehouse"
PASSWORD = "quern and kettle"  # printed where the demo starts; it opens nothing else
TIME_ZONE = "Europe/Amsterdam"

FACTS = {
    "name": NAME,
    "address": "3 Lamp Lane, Quernstow",
    "contact": "post@lamplane.example",
    "market": "EU",
    "currency": "EUR",
    "time_zone": TIME_ZONE,
    "hour_minor": 1800,
    "overhead_minor": 90,
}
PEOPLE = {"Oda": Role.OWNER, "Wim": Role.MAKER, "Pia": Role.HELPER, "Guest": Role.VIEWER}


def open_the_studio():
    """The studio's row and its people: {name: Person}."""
    studio = Studio.get()
    for column, value in FACTS.items():
        setattr(studio, column, value)
    studio.save()
    return {name: Person.objects.create_person(name, PASSWORD, role) for name, role in PEOPLE.items()}


def is_empty():
    """Whether nobody has begun to use this studio."""
    return not Person.objects.exists()


def is_demo():
    """Whether the demo studio is what is here."""
    return Studio.objects.filter(name=NAME).exists() and Person.objects.filter(name="Oda").exists()

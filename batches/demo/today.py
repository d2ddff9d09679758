"""Today at the demo studio, whatever the hour: two pots half way, jars since this morning, skeins being painted,
tomorrow planned.
"""

from datetime import timedelta

from recipes.models import Colourway

from . import colourways


def tell(studio):
    jars_since_this_morning(studio)
    kiln_door_half_way(studio)
    lanterns_on_the_table(studio)
    ferry_tomorrow(studio)


def jars_since_this_morning(studio):
    """Six jars, powder by the tap, weighed before and not yet after."""
    begin = studio.days.this_morning()
    day = begin.astimezone(studio.days.zone).date()
    for name in ("Quince", "Bark"):
        studio.weigh(name, begin, by="Wim")
    run = studio.bare(day, "Wend DK", 1, vessel="Jars", pots=6, colourway="Quince Ledger", clock="8:40", by="Wim")
    run.after(5).begin()
    run.water(700)
    between = {"how": "sprinkled", "place": "between the layers"}
    for number in range(1, 7):
        run.after(3).add("Quince", None, pot=number, taps=4, **between)
        run.after(1).add("Bark", None, pot=number, by="Pia", taps=1, **between)
    run.after(4).add("Vinegar", 15, typed="1", typed_unit="metric_tbsp", by="Pia")
    run.after(3).usual("Warm box")
    run.photo("quince-jars-today", "wet", "Six this time", pot=None)
    run.after(40).read(c=58, pot=1)
    run.moment = max(run.moment, studio.days.now - timedelta(minutes=49))
    run.timer("hold", 45, by="Pia")  # over a few minutes ago, and nobody has looked yet


def kiln_door_half_way(studio):
    """Two pots by the standard, an hour and a half in. Half of the plan is done, the plum stands weighed."""
    begin = studio.days.now - timedelta(minutes=95)
    day = begin.astimezone(studio.days.zone).date()
    run = studio.planned(day, "Kiln Door", [("Tessel 4-ply", 6)], ["Enamel pot", "Enamel pot"], begin=begin)
    run.after(3).begin()
    run.follow(steps=5)
    run.photo("kiln-door-today", "wet", "Ochre is on, the rust is going in", pot=1)
    run.after(3).read(c=47, ph="4.4", pot=1)
    run.after(1).say("The second pot is a little ahead.", by="Wim", pot=2)
    run.after(4).weigh_ahead("Plum", pot=1).weigh_ahead("Plum", 61, pot=2)  # a mL more came into the syringe
    run.moment = studio.days.now - timedelta(minutes=8)
    run.timer("hold", 25, words="Let the ochre strike")


def lanterns_on_the_table(studio):
    """Six skeins being painted: every bottle has been used, and half of the skeins are done."""
    begin = studio.days.now - timedelta(minutes=110)
    day = begin.astimezone(studio.days.zone).date()
    if not Colourway.objects.filter(name="Paper Lantern").exists():  # where the year is told briefly
        colourways.write_down("Paper Lantern", colourways.PAPER_LANTERN, by=studio.who("Oda"), now=begin)
    run = studio.planned(day, "Paper Lantern", [("Tessel 4-ply", 6)], ["Long table"], begin=begin, by="Wim")
    run.after(2).begin().after(1)
    run.follow(steps=4, every=2)
    for number in (1, 2, 3):
        run.after(5).skein_done(number)


def ferry_tomorrow(studio):
    """Planned, with its amounts spoken for."""
    tomorrow = studio.days.today + timedelta(days=1)
    studio.planned(tomorrow, "Ferry at Six", [("Wend DK", 4)], ["Enamel pot"], begin=studio.days.now)

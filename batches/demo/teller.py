"""Who tells the demo studio's year: what it says is said by the verbs that the pages use, on a clock set back.

A `Teller` knows the studio: its people, its shelf, its calendar. It begins a run and hands it on to a `Telling`.
"""

from decimal import Decimal
from random import Random
from uuid import UUID

from django.db.models import Q

from batches import beginning, series, strength, weighin
from batches.models import BatchYarn, Stamp
from batches.yarns import Yarn, to_dye_again
from recipes import bottles
from recipes.models import Colourway
from studio.models import Base, Lot, Solution, Tool, Vessel

from .days import Days
from .telling import LEAST, Telling

D = Decimal
HUNDREDTHS = (D("-0.02"), D("-0.01"), D(0), D("0.01"), D("0.02"))  # what the small scale is off by
USUAL_ML = 500
BOTTLE_TARE_G = D(310)


class Teller:
    """The studio, for whoever tells of it. The same `now` tells the same year."""

    def __init__(self, now):
        self.days = Days(now)
        self.people = {}
        self.chance = Random("Lamp Lane")

    def who(self, name):
        return self.people[name]

    def uuid(self):
        return UUID(int=self.chance.getrandbits(128), version=4)

    def stamp(self, moment, by="Oda", *, received=None, **facts):
        """Who and when. `received`: when the studio's computer heard of it, where that was later."""
        offset = int(moment.astimezone(self.days.zone).utcoffset().total_seconds() // 60)
        facts = {"id": self.uuid(), "happened_at": moment, "offset_min": offset} | facts
        return Stamp(by=self.who(by), clock=lambda: received or moment, **facts)

    # --- the shelf

    def lot(self, name, amount=LEAST):
        """The oldest lot of this name that still holds so much, in its own unit."""
        named = Q(base__name=name) | Q(dye__name=name) | Q(assistant__name=name) | Q(solution__name=name)
        found = Lot.objects.filter(named).with_on_hand().filter(on_hand__gte=amount)
        lot = found.select_related("base", "dye", "assistant", "solution").order_by("came_at", "pk").first()
        if lot is None:
            raise LookupError(f"The demo studio has no {amount} of {name} left: let more of it come.")
        return lot

    def pour(self, name, ml, moment):
        """A bottle with so much in it; whoever finds it short makes up a new one first, that same morning."""
        try:
            return self.lot(name, ml)
        except LookupError:
            return self.make_up(name, self.days.at(moment.date(), "8:20"), ml=max(USUAL_ML, _rounded_up(ml)))

    def make_up(self, name, at, *, ml=USUAL_ML, by="Wim", parts=None, top_up=True):
        """Make up a bottle as its page does: the rest of the last one goes in first, unless it is past its day.

        `parts`: {name of a lot: amount} where the hands did otherwise. Without `top_up` the rest is tipped.
        """
        master = Solution.objects.get(name=name)
        rest = self.rest_of(master, at, by, top_up)
        poured = [(rest, rest.on_hand)] if rest else []
        if parts is None:
            weighed = self.weighed(master, D(ml), rest)
        else:
            weighed = [(self.lot(part, D(amount)), D(amount)) for part, amount in parts.items()]
        return Lot.make_bottle(
            master,
            volume=D(ml),
            parts=poured + weighed,
            by=self.who(by),
            made_at=at,
            clock=lambda: at,
            continues=rest,
            use_by=master.use_by(at.date()),
            tare_g=BOTTLE_TARE_G,
        )

    def rest_of(self, master, at, by, top_up):
        """What is left of the last bottle. Past its day it is tipped; a few drops are not worth the pouring."""
        rest = bottles.with_contents(Lot.objects.filter(solution=master)).filter(on_hand__gt=0).last()
        if rest is None or rest.on_hand < 20:
            return None
        past = rest.is_past(at.date())
        if past or not top_up:
            rest.throw_away(by=self.who(by), at=at, why="Past its day." if past else "Made fresh.", clock=lambda: at)
            return None
        return rest

    def weighed(self, master, ml, rest):
        """[(lot, what the scale said)] for the powders of a bottle."""
        parts = bottles.work_out(
            master, ml, bottles.shelf_for(master), Tool.objects.all(), rest, rest.on_hand if rest else D(0)
        )
        found = []
        for part in parts:
            source = next(one for one in part.sources if not one.lot.is_bottle and one.lot.on_hand >= one.wanted)
            found.append((source.lot, source.told + (self.chance.choice(HUNDREDTHS) if source.told > 1 else 0)))
        return found

    def top_up(self, name, at, *, ml, by="Wim"):
        """Fill a bottle up again to this volume."""
        return self.make_up(name, at, ml=ml, by=by)

    def weigh(self, name, moment, *, gone=0, by="Pia"):
        """Weigh the jar or bottle in use: what the books say is in it, less what has `gone` unweighed."""
        lot = self.lot(name)
        gross = lot.on_hand_now() + lot.empty_g() - D(gone)
        return weighin.weigh(lot, gross, by=self.who(by), clock=lambda: moment)

    # --- beginning a run

    def yarn(self, name, skeins):
        """So many skeins of a base, out of its oldest lot that has them."""
        base = Base.objects.get(name=name)
        lot = self.lot(name, base.skein_g * skeins)
        return Yarn.of_lot(Lot.objects.with_on_hand().select_related("base").get(pk=lot.pk))

    def skeins_of(self, telling, grade, name=""):
        """Skeins of an earlier run that can go into a pot again, by how they were graded."""
        outputs = to_dye_again().filter(yarn__batch__run=telling.run, grade=grade, name=name)
        return Yarn.of_output(outputs.order_by("pk").first())

    def planned(self, day, colourway, yarns, vessels, clock="8:45", by="Oda", begin=None):
        """A run worked out from the standard version, as the plan page does; what is short is made up first.

        `yarns`: [(name of a base, or a Yarn; skeins)]. `begin`: the moment, where it is not an hour of that day.
        """
        at = begin or self.days.at(day, clock)
        recipe = Colourway.objects.get(name=colourway).standard
        wanted = [(self.yarn(yarn, n) if isinstance(yarn, str) else yarn, n) for yarn, n in yarns]
        pots = [Vessel.objects.get(name=vessel) for vessel in vessels]
        worked, loads = beginning.work_out(recipe, wanted, pots)
        if any(short.short for short in worked.shortages):
            for short in worked.shortages:
                self.make_for(short, at)
            worked, loads = beginning.work_out(recipe, wanted, pots)
            if still := [short for short in worked.shortages if short.short]:
                raise LookupError(still[0].sentence)
        run = beginning.from_recipe(recipe, worked, loads, by=self.who(by), day=day, clock=lambda: at)
        return Telling(self, run, at, by)

    def over_days(self, days, colourway, yarn, skeins, vessels, by="Oda"):
        """Work still to come: a load in each of these vessels, on the day that stands beside it."""
        recipe = Colourway.objects.get(name=colourway).standard
        pots = [Vessel.objects.get(name=vessel) for vessel in vessels]
        worked, loads = beginning.work_out(recipe, [(self.yarn(yarn, skeins), skeins)], pots)
        said = {"day": days[0], "days": days, "clock": lambda: self.days.now}
        return beginning.from_recipe(recipe, worked, loads, by=self.who(by), **said)

    def samples(self, day, colourway, samples, yarn, vessel, clock="9:00", by="Oda"):
        """Small skeins of a version, one to a jar. `samples(recipe)`: a list as `batches.series` makes them."""
        at, recipe = self.days.at(day, clock), Colourway.objects.get(name=colourway).standard
        worked, loads = self.series_of(recipe, samples(recipe), yarn, vessel)
        run = beginning.from_recipe(recipe, worked, loads, by=self.who(by), day=day, clock=lambda: at)
        return Telling(self, run, at, by)

    def strength_test(self, day, colourway, powder, percents, yarn, vessel, clock="9:00", by="Oda"):
        """How strong the lot in use of a powder is: a ladder of samples beside the kept one."""
        at, recipe = self.days.at(day, clock), Colourway.objects.get(name=colourway).standard
        lot = Lot.objects.with_facts().with_on_hand().get(pk=self.lot(powder).pk)
        percents = [D(percent) for percent in percents]
        rungs = strength.rungs_of(recipe, lot, percents)
        worked, loads = self.series_of(recipe, rungs, yarn, vessel, strength.taking(recipe, lot))
        facts = {"by": self.who(by), "day": day, "clock": lambda: at}
        return Telling(self, strength.begin_ladder(recipe, worked, loads, percents, lot, **facts), at, by)

    def series_of(self, recipe, samples, yarn, vessel, chosen=None):
        return series.work_out(recipe, samples, self.yarn(yarn, len(samples)), Vessel.objects.get(name=vessel), chosen)

    def make_for(self, short, at):
        """Make up the bottle that a plan finds short; one that is only past its date by today is left as it is."""
        if short.making is not None and short.making.master is not None and short.short:
            self.make_up(short.making.master.name, at, ml=max(short.making.volume, USUAL_ML))

    def bare(self, day, yarn, skeins, *, vessel, pots=1, title="", colourway=None, clock="8:45", by="Oda"):
        """A run that begins with nothing but pots. `skeins` of `yarn` (a base's name, or a Yarn) in each."""
        at = self.days.at(day, clock)
        yarn = self.yarn(yarn, skeins * pots) if isinstance(yarn, str) else yarn
        vessel = Vessel.objects.get(name=vessel)
        run = beginning.bare(yarn, skeins, pots, by=self.who(by), day=day, vessel=vessel, title=title, clock=lambda: at)
        if colourway:
            beginning.call_it(run, by=self.who(by), colourway=Colourway.objects.get(name=colourway))
        return Telling(self, run, at, by)


def _rounded_up(ml):
    """The next hundred mL."""
    return -(-D(ml) // 100) * 100


def customers(words, skein_g):
    """Yarn that a customer brought."""
    return Yarn.in_words(BatchYarn.Source.CUSTOMER, words, skein_g=D(skein_g))


def unlabelled(words, skein_g=None):
    """Yarn that nobody knows."""
    return Yarn.in_words(BatchYarn.Source.UNLABELLED, words, skein_g=skein_g and D(skein_g))

"""How the demo studio's year is told: each line of it is one call of a verb that the pages use, on a clock set back.

A `Teller` knows the studio: its people, its shelf, its calendar. A `Telling` is one run being told: it has a day and an
hour, and what is told of it happened then.
"""

from contextlib import contextmanager
from datetime import timedelta
from decimal import Decimal
from random import Random
from uuid import UUID

from django.db.models import Q

from batches import beginning, costs, tags, weighin
from batches.models import (
    Addition,
    Answer,
    BatchYarn,
    Check,
    Entry,
    Finish,
    Move,
    Output,
    PhotoTaken,
    Reading,
    SkeinDone,
    Stamp,
    StepDone,
    Strike,
    TimeFrom,
    Timer,
    TimerEnded,
    Weighed,
    Work,
)
from batches.yarns import Yarn, to_dye_again
from recipes import bottles
from recipes.models import Colourway, HouseStep
from studio.models import Base, Lot, Solution, Tool, Vessel
from studio.money import split

from . import pictures
from .days import Days, working_days_after

D = Decimal
HUNDREDTHS = (D("-0.02"), D("-0.01"), D(0), D("0.01"), D("0.02"))  # what the small scale is off by
USUAL_ML = 500
A_BREATH = timedelta(seconds=5)  # between what is told of the same minute, so that it stays in order
LEAST = D("0.001")  # g or mL: something
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
            use_by=(at + timedelta(days=master.keeps_days)).date(),
            tare_g=BOTTLE_TARE_G,
        )

    def rest_of(self, master, at, by, top_up):
        """What is left of the last bottle. Past its day it is tipped; a few drops are not worth the pouring."""
        rest = bottles.with_contents(Lot.objects.filter(solution=master)).filter(on_hand__gt=0).last()
        if rest is None or rest.on_hand < 20:
            return None
        past = rest.use_by_now and rest.use_by_now < at.date()
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
        for short in worked.shortages:
            self.make_up(self.master_for(short).name, at, ml=max(short.make_ml, USUAL_ML))
        if worked.shortages:
            worked, loads = beginning.work_out(recipe, wanted, pots)
            if worked.shortages:
                raise LookupError(worked.shortages[0].sentence)
        run = beginning.from_recipe(recipe, worked, loads, by=self.who(by), day=day, clock=lambda: at)
        return Telling(self, run, at, by)

    def master_for(self, short):
        """The bottle to make up for what a plan finds short."""
        if isinstance(short.substance, Solution):
            return short.substance
        if short.make_pct is None:
            raise LookupError(short.sentence)
        return Solution.objects.get(parts__dye=short.substance, parts__g_per_100=short.make_pct, kind="stock")

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


def out(grade, skeins, yarn=0, **facts):
    """What came out of a pot: so many skeins of its first yarn, or another, of this grade."""
    return yarn, {"grade": grade, "skeins": skeins, **facts}


class Telling:
    """One run. `at` and `on` set the hour and the day; the rest happens then, in every pot unless `pot` says which."""

    def __init__(self, teller, run, moment, by):
        self.teller, self.run, self.moment, self.by = teller, run, moment, by
        self.day = run.day
        self.batches = list(run.batches.order_by("number"))
        self.followed = 0  # lines of the plan that are in the log
        self.copying = None  # (the photo of a page of notes, when it is copied)

    # --- the clock

    def at(self, clock):
        self.moment = self.teller.days.at(self.day, clock)
        return self

    def on(self, days, clock):
        """So many working days after the run's day."""
        self.day = working_days_after(self.run.day, days)
        return self.at(clock)

    def after(self, minutes):
        self.moment += timedelta(minutes=minutes)
        return self

    def stamps(self, pot, by, **facts):
        """[(batch, Stamp)]: one touch for all the pots that are meant."""
        pots = self.batches if pot is None else [self.batches[pot - 1]]
        together = self.teller.uuid() if len(pots) > 1 else None
        stamp, moment = self.teller.stamp, self.moment
        self.moment += A_BREATH
        if self.copying:
            notes, copied = self.copying
            facts |= {"time_from": TimeFrom.PAPER, "because": notes, "received": copied}
            self.copying = notes, copied + A_BREATH
        return [(batch, stamp(moment, by or self.by, together=together, **facts)) for batch in pots]

    # --- what happened

    def start(self, clock):
        return self.at(clock).begin()

    def begin(self):
        moment = self.moment
        self.run.start(by=self.teller.who(self.by), clock=lambda: moment)
        self.batches = list(self.run.batches.order_by("number"))
        return self

    def follow(self, *, steps=None, every=6, other=None, skip=(), by=None):
        """The plan's next lines, or all that are left, the same touch for all pots.

        `other`: {name: amount} where the hand differed, None where nobody measured; `skip`: {name: why}.
        """
        lines = list(zip(*(batch.plan.order_by("position") for batch in self.batches), strict=True))
        lines = lines[self.followed :][:steps]
        self.followed += len(lines)
        for twins in lines:
            stamps = self.stamps(None, by)
            for line, (batch, stamp) in zip(twins, stamps, strict=True):
                self._line(line, batch, stamp, other or {}, skip)
            self.after(every if twins[0].is_amount else int(twins[0].minutes or 10))
        return self

    def _line(self, line, batch, stamp, other, skip):
        if line.name in skip:
            return Entry.log_words(batch, Stamp(**vars(stamp) | {"words": skip[line.name]}), plan_line=line)
        if not line.is_amount:
            facts = {"temperature_c": line.temperature_c, "minutes": line.minutes}
            return StepDone.log(batch, stamp, kind=line.step, plan_line=line, **facts)
        what = {"lot": line.lot} if line.lot_id else {"other": "water", "unit": "mL"}
        amount = other.get(line.name, line.told)
        amount = None if amount is None else D(amount)
        how = {"how": line.how or "added", "place": line.place}
        return Addition.log(batch, stamp, amount=amount, plan_line=line, **how, **what)

    def add(self, name, amount=None, *, pot=None, by=None, words="", **facts):
        """Something off the shelf goes in; no amount is not measured. Returns the entries."""
        stamps = self.stamps(pot, by, words=words)
        amount = None if amount is None else D(amount)
        whole = (amount or LEAST) * len(stamps)
        if Solution.objects.filter(name=name).exists():
            lot = self.teller.pour(name, whole, self.moment)
            facts = {"how": "bottle"} | facts
        else:
            lot = self.teller.lot(name, whole)
        return [Addition.log(batch, stamp, lot=lot, amount=amount, **facts) for batch, stamp in stamps]

    def add_words(self, what, words="", *, pot=None, by=None):
        """Something that has no place on the shelf."""
        return [
            Addition.log(batch, stamp, other="words", what=what) for batch, stamp in self.stamps(pot, by, words=words)
        ]

    def water(self, ml, *, pot=None, by=None, words=""):
        facts = {"other": "water", "unit": "mL", "amount": D(ml)}
        return [Addition.log(batch, stamp, **facts) for batch, stamp in self.stamps(pot, by, words=words)]

    def step(self, kind, c=None, minutes=None, *, pot=None, by=None, words=""):
        facts = {"kind": kind, "temperature_c": c, "minutes": minutes}
        return [StepDone.log(batch, stamp, **facts) for batch, stamp in self.stamps(pot, by, words=words)]

    def timer(self, what, minutes=None, *, pot=None, by=None, line="", words=""):
        """Something is waited for from now; `line`: the kind of the planned step it is for. Returns the entries."""
        found = []
        for batch, stamp in self.stamps(pot, by, words=words):
            planned = batch.plan.get(step=line) if line else None
            length = D(minutes or planned.minutes)
            found.append(Timer.log(batch, stamp, what=what, minutes=length, plan_line=planned))
        return found

    def end(self, timers, outcome="done", *, by=None):
        """What these timers of one touch were for is done."""
        together = self.teller.uuid() if len(timers) > 1 else None
        for entry in timers:
            stamp = self.teller.stamp(self.moment, by or self.by, together=together)
            TimerEnded.log(entry.batch, stamp, target=entry.pk, outcome=outcome)
        return self

    def usual(self, name, *, pot=None, by=None, words=""):
        """A step of the house, as usual."""
        step = HouseStep.objects.get(name=name)
        facts = {"kind": step.kind, "temperature_c": step.temperature_c, "minutes": step.minutes, "house_step": step}
        return [StepDone.log(batch, stamp, **facts) for batch, stamp in self.stamps(pot, by, words=words)]

    def skein_done(self, number, *, by=None):
        """A painted skein, of the one table there is."""
        return [SkeinDone.log(batch, stamp, number=number) for batch, stamp in self.stamps(1, by)]

    def read(self, *, c=None, ph=None, clear="", pot=None, by=None, words=""):
        facts = {"temperature_c": c, "ph": None if ph is None else D(ph), "clear": clear}
        return [Reading.log(batch, stamp, **facts) for batch, stamp in self.stamps(pot, by, words=words)]

    def say(self, words, *, pot=None, by=None, clock_off=0):
        """Plain words. `clock_off`: minutes that the clock of the phone they were written on is wrong by."""
        shown = self.moment + timedelta(minutes=clock_off)
        facts = {"happened_at": shown, "sent_at": shown, "received": self.moment} if clock_off else {}
        return [Entry.log_words(batch, stamp) for batch, stamp in self.stamps(pot, by, words=words, **facts)]

    def late(self, name, amount, *, at, by, pot, sent, words=""):
        """A phone without a network: it happened `at`, and the studio heard of it when the phone could send."""
        self.moment = at
        ((batch, stamp),) = self.stamps(pot, by, received=sent, sent_at=sent, words=words)
        Addition.log(batch, stamp, lot=self.teller.lot(name, D(amount)), amount=D(amount))
        return self

    def move(self, what, *, pot=None, by=None, words="", **facts):
        return [Move.log(batch, stamp, what=what, **facts) for batch, stamp in self.stamps(pot, by, words=words)]

    def now_at(self, where, words="", *, by=None):
        """The yarn is somewhere else now."""
        return self.move("where", where=where, words=words, by=by)

    def work(self, minutes, *, by=None):
        """Minutes of hands, split over the pots as the page splits them."""
        parts = split(D(minutes), [1] * len(self.batches), 3)
        for part, (batch, stamp) in zip(parts, self.stamps(None, by), strict=True):
            Work.log(batch, stamp, minutes=part)
        return self

    def check(self, what, result="", *, pot=None, by=None, because=None, words="", **facts):
        """A check, in each pot that is meant; `because` is the entry that led to it. Returns the entries."""
        stamps = self.stamps(pot, by, words=words)
        return [Check.log(batch, stamp, what=what, result=result, because=because, **facts) for batch, stamp in stamps]

    def strike(self, entries, reason, *, by=None):
        """Strike these lines of one touch together."""
        together = self.teller.uuid() if len(entries) > 1 else None
        for entry in entries:
            stamp = self.teller.stamp(self.moment, by or self.by, together=together)
            Strike.log(entry.batch, stamp, target=entry.pk, reason=reason)
        return self

    def photo(self, name, stage="dry", words="", *, pot=1, by=None, about=None):
        """A picture of the demo's own; it has to be there."""
        self.show(name, stage, words, pot=pot, by=by, about=about)
        return self

    def show(self, name, stage, words="", *, pot=1, by=None, about=None):
        """A `photo`. Returns the entries."""
        moment = self.moment
        picture = pictures.hang_up(name, by=self.teller.who(by or self.by), clock=lambda: moment, id=self.teller.uuid())
        shown = {"picture": picture, "stage": stage, "about": about}
        return [PhotoTaken.log(batch, stamp, **shown) for batch, stamp in self.stamps(pot, by, words=words)]

    @contextmanager
    def from_paper(self, name, words="", *, copied, by=None):
        """What is told meanwhile was noted on this page, of the run's day, and is copied from its photo later.

        `copied`: (working days after that day, "8:50"). The clock goes on from there.
        """
        (notes,) = self.on(*copied).show(name, PhotoTaken.Stage.PAPER, words, by=by)
        self.copying = notes, self.moment
        self.day = self.run.day
        yield self
        (_, self.moment), self.copying = self.copying, None
        self.day = working_days_after(self.run.day, copied[0])

    def weigh_ahead(self, name, amount=None, *, pot=None, by="Pia"):
        """The plan's line of this dye stands weighed: as told, or another amount."""
        amount = None if amount is None else D(amount)
        for batch, stamp in self.stamps(pot, by):
            line = batch.plan.get(Q(dye__name=name) | Q(assistant__name=name))
            Weighed.log(batch, stamp, plan_line=line, amount=amount)
        return self

    def answer(self, question, about, *, known=False, line=None, words="", by=None):
        """What the evening was told about some of these entries, alike in several pots."""
        together = self.teller.uuid() if len(about) > 1 else None
        for entry in about:
            stamp = self.teller.stamp(self.moment, by or self.by, together=together, words=words)
            Answer.log(entry.batch, stamp, question=question, about=entry, line=line, known=known)
        return self

    # --- the end of it

    def finish(self, *pots, by=None, **said):
        """What came out of each pot, in their order: a list of `out(...)`, the same for all where one list is given."""
        pots = pots * len(self.batches) if len(pots) == 1 else pots
        for rows, (batch, stamp) in zip(pots, self.stamps(None, by), strict=True):
            yarns = list(batch.yarns.order_by("position"))
            outputs = [Output(yarn=yarns[which], **facts) for which, facts in rows]
            Finish.log(batch, stamp, outputs=outputs, **said)
        return self

    def cost(self):
        """Freeze what it cost."""
        moment = self.moment
        costs.freeze(self.run, by=self.teller.who("Oda"), clock=lambda: moment)
        return self

    def tag(self, design="swing", by="Oda"):
        """Print tags for all that can be sold, at the base's usual price; a second at three quarters of it."""
        moment, made, facts = self.moment, [], tags.RunFacts.of(self.run)
        outputs = Output.objects.standing().filter(yarn__batch__run=self.run, grade__in=Output.SELLABLE)
        for output in outputs.order_by("pk"):
            price = output.yarn.known_base.price_minor * (3 if output.grade == Output.Grade.SECOND else 4) // 4
            face = tags.face_of(output, price_minor=price, per_kilogram=True, facts=facts)
            made.append((output, face, output.skeins, price))
        layout = {"sheet": self.teller.uuid(), "design": design, "paper": "A4", "start_at": 1}
        tags.keep_sheet(made, by=self.teller.who(by), clock=lambda: moment, **layout)
        return self

"""One run of the demo studio being told: it has a day and an hour, and what is told of it happened then.

Each line is one call of a verb that the pages use.
"""

from contextlib import contextmanager
from datetime import timedelta
from decimal import Decimal
from itertools import zip_longest

from django.db.models import Q

from batches import capture, costs, next_time, tags
from batches.models import (
    Addition,
    Answer,
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
from recipes.models import HouseStep
from studio.models import Solution
from studio.money import split

from . import pictures
from .days import working_days_after

D = Decimal
A_BREATH = timedelta(seconds=5)  # between what is told of the same minute, so that it stays in order
LEAST = D("0.001")  # g or mL: something


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

    def follow_each(self, every=4, by=None):
        """The whole plan of pots whose lines are not alike, a line of each in turn."""
        plans = [list(batch.plan.order_by("position")) for batch in self.batches]
        for lines in zip_longest(*plans):
            for number, line in enumerate(lines, 1):
                for batch, stamp in self.stamps(number, by) if line else ():
                    self._line(line, batch, stamp, {}, ())
            self.after(every if lines[0] and lines[0].is_amount else 15)
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

    def into_the_recipes(self, pot=capture.ALL, by="Oda"):
        """Take a version from its log: of one pot, or of all together as an average. Returns the version."""
        self.run.refresh_from_db()
        draft = capture.draft_of(self.run, pot)
        return capture.keep(draft, by=self.teller.who(by), now=self.moment)

    def note_into(self, version, by="Oda"):
        """What was said of it for the next time is in this version now."""
        finish = Finish.objects.standing().filter(entry__batch__run=self.run).exclude(next_time="").first()
        note = next_time.note_by(self.run, finish.pk)
        next_time.put(note, version, by=self.teller.who(by), now=self.moment)
        return self

    def matches(self, percent, hue="", by="Oda"):
        """Of a strength test: the sample that got so many percent looks like the kept one."""
        moment, test = self.moment, self.run.strength_test
        test.say(by=self.teller.who(by), low=test.rungs.get(pct=D(percent)), hue=hue, clock=lambda: moment)
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

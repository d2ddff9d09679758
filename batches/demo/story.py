"""A small invented studio, so that a newcomer sees what a kept journal looks like.

Everything here is made up: the people, the place, the yarns, dyes and colourways. It goes in through the same verbs
that the pages use, with a clock that is set back, so every rule of the record holds for it too.
"""

from datetime import datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from uuid import uuid4

from django.db import transaction
from django.utils import timezone

from batches import beginning, costs, tags, weighin
from batches.models import (
    Addition,
    Batch,
    Check,
    Entry,
    Finish,
    Output,
    PhotoTaken,
    Reading,
    Stamp,
    StepDone,
    Strike,
    Work,
)
from batches.yarns import Yarn
from recipes import writing
from recipes.models import Colourway
from studio import album
from studio.models import (
    Assistant,
    Base,
    BaseFibre,
    Delivery,
    Dye,
    Lot,
    Person,
    Role,
    Solution,
    SolutionPart,
    Studio,
    Tool,
    Vessel,
    Weighing,
)

PHOTOS = Path(__file__).parent / "photos"
PASSWORD = "quern and kettle"  # printed where the demo starts; it opens nothing else
D = Decimal

DYES = [  # name, colour, g in the jar, price paid
    ("Brick", "#9c3122", 120, 1890),
    ("Ochre", "#d39a3c", 100, 1640),
    ("Rust", "#bf5a2c", 100, 1640),
    ("Plum", "#5e3138", 50, 1120),
    ("Soot", "#3a3034", 50, 1080),
    ("Slate", "#5d6b7c", 80, 1510),
    ("Damson", "#6d4a63", 80, 1510),
    ("Quince", "#cda53f", 100, 1640),
    ("Bark", "#5e4a35", 60, 1220),
]
BASES = [  # name, make-up, fibres, skein g, m, superwash, skeins here, paid for them, price of a first
    ("Tessel 4-ply", "4-ply", [("wool", 75), ("nylon", 25)], 100, 425, True, 60, 50400, 2895),
    ("Wend DK", "DK", [("wool", 100)], 100, 225, False, 40, 31200, 2600),
    ("Pell Lace", "lace", [("mohair", 70), ("silk", 30)], 50, 420, False, 16, 20800, 3200),
    ("Corm Aran", "aran", [("wool", 100)], 100, 160, False, 8, 5600, 2400),
]
KILN_DOOR = """Soak 30 min at 40 °C
Water 20:1
2 % citric acid
180 mL ochre 1 %, second third
90 mL rust 1 %, where the two meet
240 mL brick 1 %, first third
120 mL plum 0.5 %, last third
Heat to 85 °C
Hold 40 min at 85 °C
Let cool
Rinse"""
FERRY = """Soak 30 min at 40 °C
Water 25:1
20 mL/L vinegar
180 mL slate 1 %
88 mL damson 1 %, one end
Heat to 82 °C
Hold 30 min at 82 °C"""


class Story:
    """The studio as it grows; each part tells one thing that happened, at its own hour."""

    def __init__(self, now=None):
        self.now = now or timezone.now()

    def tell(self):
        self.people()
        with transaction.atomic():
            self.shelf()
            self.bottles()
            self.colourways()
        self.kiln_door_first()
        self.quince_jars()
        self.bramble_bleeds()
        self.kiln_door_today()
        self.ferry_planned()
        return self.oda

    # --- the clock

    def at(self, days, clock="9:00"):
        """So many days ago, at that hour of the studio's day; never later than now."""
        hour, minute = map(int, clock.split(":"))
        day = timezone.localtime(self.now).date() - timedelta(days=days)
        moment = timezone.make_aware(datetime.combine(day, time(hour, minute)))
        return min(moment, self.now)

    def stamp(self, moment, by=None, **facts):
        return Stamp(by=by or self.oda, happened_at=moment, clock=lambda: moment, **facts)

    # --- what is there

    def people(self):
        Studio.get()
        Studio.objects.filter(pk=1).update(
            name="Lamp Lane Dyehouse",
            address="3 Lamp Lane, Quernstow",
            contact="post@lamplane.example",
            market="EU",
            currency="EUR",
            hour_minor=1800,
            overhead_minor=90,
        )
        make = Person.objects.create_person
        self.oda = make("Oda", PASSWORD, Role.OWNER)
        self.wim = make("Wim", PASSWORD, Role.MAKER)
        self.pia = make("Pia", PASSWORD, Role.HELPER)
        make("Guest", PASSWORD, Role.VIEWER)

    def shelf(self):
        came = self.at(75)
        delivery = Delivery.objects.create(
            supplier="Nettle Bank Mill", reference="NB 2231", came_at=came, recorded_at=came, by=self.oda
        )
        self.yarn, self.powder = {}, {}
        for name, make_up, fibres, g, m, superwash, skeins, paid, price in BASES:
            base = Base.objects.create(
                name=name,
                make_up=make_up,
                skein_g=D(g),
                skein_m=D(m),
                superwash=superwash,
                price_minor=price,
                supplier="Nettle Bank Mill",
                low_skeins=6,
            )
            for position, (fibre, percent) in enumerate(fibres, 1):
                BaseFibre.objects.create(base=base, position=position, fibre=fibre, percent=D(percent))
            self.yarn[name] = self.receive(
                came,
                base=base,
                received=base.skein_g * skeins,
                cost_minor=paid,
                delivery=delivery,
                number=f"{name[0]}-2209",
            )
        for number, (name, colour, grams, paid) in enumerate(DYES):
            dye = Dye.objects.create(name=name, colour=colour, dye_class="acid_milling", supplier="Cinder & Madder")
            self.powder[name] = self.receive(
                came, dye=dye, received=D(grams), cost_minor=paid, number=f"{name[0]}-0{417 + number}", tare_g=D("42.5")
            )
        citric = Assistant.objects.create(name="Citric acid", kind="acid", unit="g", note="Anhydrous.")
        vinegar = Assistant.objects.create(name="Vinegar", kind="acid", unit="mL", strength_pct=D(5))
        wetting = Assistant.objects.create(name="Wetting agent", kind="wetting", unit="mL")
        self.citric = self.receive(came, assistant=citric, received=D(1000), cost_minor=890)
        self.vinegar = self.receive(came, assistant=vinegar, received=D(5000), cost_minor=650)
        self.receive(came, assistant=wetting, received=D(250), cost_minor=1200)
        self.pot = Vessel.objects.create(
            name="Enamel pot", volume_ml=D(14000), fill_ml=D(12000), skeins=6, heater="gas"
        )
        self.jars = Vessel.objects.create(
            name="Jars", kind="jar", volume_ml=D(1000), fill_ml=D(800), skeins=1, how_many=8, heater="sun"
        )
        Vessel.objects.create(name="Steel pan", kind="pan", volume_ml=D(6000), fill_ml=D(3000), skeins=2, heater="hob")
        for name, kind, step, largest in [
            ("Small scale", "scale", "0.01", 200),
            ("Kitchen scale", "scale", "1", 5000),
            ("Syringe", "syringe", "1", 60),
            ("Cylinder", "cylinder", "5", 500),
        ]:
            Tool.objects.create(name=name, kind=kind, step=D(step), largest=D(largest))

    def receive(self, came, **facts):
        return Lot.receive(by=self.oda, came_at=came, clock=lambda: came, **facts)

    def bottles(self):
        made = self.at(47, "8:30")
        self.bottle = {}
        for name, ml, pct, weighed in [
            ("Brick", 1000, 1, "10.02"),
            ("Ochre", 1000, 1, "10.00"),
            ("Rust", 500, 1, "4.98"),
            ("Plum", 500, "0.5", "2.51"),
            ("Slate", 500, 1, "5.01"),
            ("Damson", 500, 1, "5.00"),
        ]:
            dye = self.powder[name].dye
            solution = Solution.objects.create(name=f"{name} {pct} %", keeps_days=60)
            SolutionPart.objects.create(solution=solution, dye=dye, g_per_100=D(pct))
            self.bottle[name] = Lot.make_bottle(
                solution,
                volume=D(ml),
                parts=[(self.powder[name], D(weighed))],
                by=self.wim,
                made_at=made,
                clock=lambda: made,
                use_by=(made + timedelta(days=60)).date(),
                tare_g=D(310),
            )

    def colourways(self):
        made = self.at(46, "10:00")
        self.way = {}
        for name, story in [
            ("Kiln Door", "A stove door left open: brick at the hinge, ochre where the light is."),
            ("Ferry at Six", "The slate water, and the one warm window."),
            ("Bramble Ink", "Stained fingers in September."),
        ]:
            self.way[name] = Colourway.objects.create(name=name, story=story, made_at=made, by=self.oda)
        self.recipe("Kiln Door", KILN_DOOR, 6, 600, 20, made)
        self.recipe("Ferry at Six", FERRY, 4, 400, 25, made)

    def recipe(self, name, text, skeins, grams, ratio, made):
        way = self.way[name]
        facts = writing.Facts(skeins=skeins, fibre_g=D(grams), pots=1, liquor_ratio=D(ratio))
        written = writing.understand(text, facts, writing.Shelf.read())
        if written.problems:
            raise ValueError("; ".join(map(str, written.problems)))
        version = way.next_version(by=self.oda, now=made, skeins=skeins, fibre_g=D(grams), liquor_ratio=D(ratio))
        version.write(written.steps)
        way.pin(version)

    # --- runs

    def planned(self, name, base, skeins, pots, day):
        """A run from the standard recipe, as the plan page makes it."""
        recipe = self.way[name].standard
        worked, loads = beginning.work_out(recipe, [(self.yarn_of(base), skeins)], [self.pot] * pots)
        return beginning.from_recipe(recipe, worked, loads, by=self.oda, day=day.date(), clock=lambda: day)

    def yarn_of(self, base):
        return Yarn.of_lot(Lot.objects.with_on_hand().select_related("base").get(pk=self.yarn[base].pk))

    def bare(self, title, base, pots, skeins, day, vessel):
        yarn, facts = self.yarn_of(base), {"by": self.oda, "day": day.date(), "clock": lambda: day}
        return beginning.bare(yarn, skeins, pots, vessel=vessel, title=title, **facts)

    def follow(self, run, begin, steps=99, every=6, other=None):
        """Log the plan's lines in order, the same in every pot; `other`: {name: amount} where the hand differed."""
        moment = begin
        batches = list(run.batches.order_by("number"))
        lines = zip(*(batch.plan.order_by("position") for batch in batches), strict=True)
        for position, twins in enumerate(lines):
            if position >= steps:
                break
            together = uuid4() if len(twins) > 1 else None
            for batch, line in zip(batches, twins, strict=True):
                self.do(batch, line, self.stamp(moment, together=together), other or {})
            moment += timedelta(minutes=every if line.is_amount else 30)
        return moment

    def do(self, batch, line, stamp, other):
        if not line.is_amount:
            facts = {"temperature_c": line.temperature_c, "minutes": line.minutes}
            return StepDone.log(batch, stamp, kind=line.step, plan_line=line, **facts)
        amount = D(other[line.name]) if line.name in other else line.told
        what = {"lot": line.lot} if line.lot_id else {"other": "water", "unit": "mL"}
        return Addition.log(
            batch, stamp, amount=amount, plan_line=line, how=line.how or "added", place=line.place, **what
        )

    def photo(self, batch, name, moment, stage="dry"):
        with (PHOTOS / f"{name}.jpg").open("rb") as file:
            picture = album.keep_picture(file, self.oda, clock=lambda: moment)
        PhotoTaken.log(batch, self.stamp(moment), picture=picture, stage=stage)

    def finish(self, run, moment, outputs, **facts):
        together = uuid4()
        for batch, rows in zip(run.batches.order_by("number"), outputs, strict=True):
            yarn = batch.yarns.get()
            made = [Output(yarn=yarn, grade=grade, skeins=skeins) for grade, skeins in rows]
            Finish.log(batch, self.stamp(moment, together=together), outputs=made, **facts)

    def kiln_door_first(self):
        """By the recipe, in two pots, to the end: checked, finished, priced and tagged."""
        day = self.at(38)
        run = self.planned("Kiln Door", "Tessel 4-ply", 6, 2, day)
        run.start(by=self.oda, clock=lambda: day)
        end = self.follow(run, self.at(38, "9:20"), other={"Ochre": "92"})
        one, two = run.batches.order_by("number")
        wrong = Addition.log(one, self.stamp(end), lot=self.bottle["Brick"], amount=D(200), place="over the rust")
        Strike.log(one, self.stamp(end + timedelta(minutes=1)), target=wrong.pk, reason="a nought too many")
        Addition.log(
            one, self.stamp(end + timedelta(minutes=2)), lot=self.bottle["Brick"], amount=D(20), place="over the rust"
        )
        for batch in (one, two):
            Reading.log(batch, self.stamp(end + timedelta(minutes=5)), ph=D("4.3"), clear="clear")
            Work.log(batch, self.stamp(end + timedelta(minutes=6)), minutes=D("47.5"))
            Check.log(batch, self.stamp(self.at(37, "17:00")), what="rinse", rinses=2)
            Check.log(batch, self.stamp(self.at(37, "17:10")), what="cloth", result="none")
        self.photo(one, "kiln-door-111", self.at(36, "11:00"))
        self.finish(
            run,
            self.at(36, "12:00"),
            [[("first", 3)], [("first", 2), ("second", 1)]],
            verdict="standard",
            pots_match=True,
            next_time="Rust over the join while the ochre is still wet.",
            snippet="Ring binder, page 12",
        )
        costs.freeze(run, by=self.oda, clock=lambda: self.at(35))
        self.tag(run, self.at(35, "10:00"))

    def tag(self, run, moment):
        firsts = Output.objects.standing().filter(yarn__batch__run=run, grade="first")
        made = []
        for output in firsts:
            price = output.yarn.base.price_minor
            made.append((output, tags.face_of(output, price_minor=price, per_kilogram=True), output.skeins, price))
        tags.keep_sheet(made, sheet=uuid4(), design="swing", paper="A4", start_at=1, by=self.oda, clock=lambda: moment)

    def quince_jars(self):
        """Eight jars, dry dye tapped between the layers by eye; the jars of dye were weighed in the evening."""
        day = self.at(24)
        run = self.bare("Quince Ledger", "Wend DK", 8, 1, day, self.jars)
        for name in ("Quince", "Bark"):
            gross = self.powder[name].on_hand_now() + self.powder[name].tare_g
            Weighing.objects.create(lot=self.powder[name], gross_g=gross, at=day, recorded_at=day, by=self.wim)
        run.start(by=self.oda, clock=lambda: day)
        for number, batch in enumerate(run.batches.order_by("number")):
            moment = self.at(24, f"10:{number * 5:02d}")
            sprinkled = {"amount": None, "how": "sprinkled", "place": "between the layers"}
            Addition.log(batch, self.stamp(moment), other="water", unit="mL", amount=D(700))
            Addition.log(batch, self.stamp(moment), lot=self.powder["Quince"], taps=3 + number % 3, **sprinkled)
            Addition.log(batch, self.stamp(moment, by=self.wim), lot=self.powder["Bark"], taps=1, **sprinkled)
            Addition.log(
                batch,
                self.stamp(self.at(24, "13:00"), by=self.pia),
                lot=self.vinegar,
                amount=D(15),
                typed="1",
                typed_unit="metric_tbsp",
            )
            Reading.log(batch, self.stamp(self.at(23, "18:00")), clear="clear" if number % 4 else "nearly")
        for name, used in (("Quince", "5.12"), ("Bark", "1.36")):
            lot = self.powder[name]
            closing = lot.on_hand_now() + lot.tare_g - D(used)
            weighin.weigh(lot, closing, by=self.wim, clock=lambda: self.at(24, "19:00"))
        first = run.batches.order_by("number").first()
        Check.log(first, self.stamp(self.at(22, "9:00")), what="cloth", result="trace")
        self.photo(first, "quince-ledger", self.at(21, "11:00"))
        self.finish(
            run,
            self.at(21, "12:00"),
            [[("first", 1)]] * 7 + [[("sample", 1)]],
            verdict="sell",
            pots_match=False,
            next_time="Weigh the bark: one tap more or less shows.",
        )

    def bramble_bleeds(self):
        """Deep and improvised; it bled, was brought back to heat with more acid, and held."""
        day = self.at(11)
        run = self.bare("", "Tessel 4-ply", 1, 3, day, self.pot)
        run.colourway = self.way["Bramble Ink"]
        run.save(update_fields=["colourway"])
        run.start(by=self.oda, clock=lambda: day)
        batch = run.batches.get()
        for clock, name, ml in [
            ("9:40", "Damson", 280),
            ("9:50", "Brick", 90),
            ("10:05", "Slate", 120),
            ("10:40", "Damson", 120),
        ]:
            Addition.log(batch, self.stamp(self.at(11, clock)), lot=self.bottle[name], amount=D(ml), how="bottle")
        Addition.log(batch, self.stamp(self.at(11, "10:50")), lot=self.citric, amount=D(6))
        StepDone.log(batch, self.stamp(self.at(11, "11:00")), kind="hold", temperature_c=D(85), minutes=D(45))
        Reading.log(batch, self.stamp(self.at(11, "12:00")), clear="nearly", ph=D("4.9"))
        bled = Check.log(batch, self.stamp(self.at(10, "9:00")), what="cloth", result="some")
        remedy = Check.log(
            batch,
            self.stamp(self.at(10, "9:30"), words="More citric acid to pH 4, back to 85 °C for 20 min"),
            what="remedy",
            because=bled,
        )
        Addition.log(batch, self.stamp(self.at(10, "9:35")), lot=self.citric, amount=D(4))
        Check.log(batch, self.stamp(self.at(10, "16:00")), what="cloth", result="trace", because=remedy)
        Work.log(batch, self.stamp(self.at(10, "16:10")), minutes=D(70))
        Entry.log_words(batch, self.stamp(self.at(9, "10:00"), words="Nearly black at the foot when dry."))
        self.photo(batch, "bramble-ink", self.at(9, "11:00"))
        self.finish(
            run, self.at(9, "11:30"), [[("first", 3)]], verdict="as_good", next_time="Acid half an hour earlier."
        )
        costs.freeze(run, by=self.oda, clock=lambda: self.at(8))

    def kiln_door_today(self):
        """In the pot now: half of the plan is done."""
        run = self.planned("Kiln Door", "Tessel 4-ply", 6, 2, self.now)
        begin = self.now - timedelta(minutes=95)
        run.start(by=self.oda, clock=lambda: begin)
        self.follow(run, begin + timedelta(minutes=2), steps=5)

    def ferry_planned(self):
        self.planned("Ferry at Six", "Wend DK", 4, 1, self.now)


def is_empty():
    """Whether nobody has begun to use this studio."""
    return not Person.objects.exists() and not Batch.objects.exists()


def is_demo():
    """Whether the demo studio is what is here."""
    return Studio.objects.filter(name="Lamp Lane Dyehouse").exists() and Person.objects.filter(name="Oda").exists()

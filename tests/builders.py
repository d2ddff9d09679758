"""A small studio to test with: plain functions that make one thing each, with sensible facts unless told otherwise.

Everything is invented. Times are counted from `NOON`, a fixed day, so that a test can say what came before what.
"""

import io
import itertools
import threading
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from types import SimpleNamespace
from uuid import uuid4

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import connection
from PIL import Image

from batches import indexing
from batches.models import (
    Addition,
    AdditionLot,
    Answer,
    Batch,
    BatchYarn,
    Captured,
    Check,
    CostLine,
    CostShare,
    CostSheet,
    Entry,
    Finish,
    Move,
    NotePut,
    Output,
    PhotoTaken,
    PlanLine,
    Reading,
    Run,
    SkeinDone,
    Stamp,
    StepDone,
    StrengthTest,
    Strike,
    TagDye,
    TagPrint,
    Talk,
    Timer,
    TimerEnded,
    Weighed,
    Work,
)
from recipes.models import Basis, Colourway, HouseStep, How, Ingredient, Place, RecipeStep
from studio.models import (
    Assistant,
    Base,
    BaseFibre,
    Count,
    Delivery,
    Document,
    Dye,
    Lot,
    LotCorrection,
    Measure,
    MeasureWeighing,
    Movement,
    Person,
    Phone,
    Picture,
    Role,
    ShareOut,
    Solution,
    SolutionPart,
    Sound,
    Studio,
    Taken,
    Tool,
    Vessel,
    Weighing,
)
from studio.money import split

NOON = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
DAY = date(2026, 3, 14)
PASSWORD = "seven wet skeins"

_numbers = itertools.count(1)


def hours(number):
    """NOON and so many hours."""
    return NOON + timedelta(hours=number)


def clock(at=NOON):
    """A clock that stands still, for the verbs that take one."""
    return lambda: at


def make_person(name, role):
    return Person.objects.create_person(name, PASSWORD, role)


def make_cast():
    """One person of each role: `.owner`, `.maker`, `.helper`, `.viewer`."""
    return SimpleNamespace(
        owner=make_person("Oda", Role.OWNER),
        maker=make_person("Mats", Role.MAKER),
        helper=make_person("Hanne", Role.HELPER),
        viewer=make_person("Vera", Role.VIEWER),
    )


# --- the shelf


def make_base(name=None, fibres=(("wool", 75), ("nylon", 25)), **facts):
    """A 100 g base of wool and nylon, 420 m to the skein."""
    base = Base.objects.create(**{"name": name or f"Sparrow {next(_numbers)}", "skein_m": Decimal(420), **facts})
    for position, (fibre, percent) in enumerate(fibres, 1):
        BaseFibre.objects.create(base=base, position=position, fibre=fibre, percent=Decimal(percent))
    return base


def make_dye(name=None, colour="#9c3122", dye_class="acid_milling", **facts):
    return Dye.objects.create(name=name or f"Rust {next(_numbers)}", colour=colour, dye_class=dye_class, **facts)


def make_assistant(name=None, kind="acid", unit="mL", **facts):
    return Assistant.objects.create(name=name or f"Vinegar {next(_numbers)}", kind=kind, unit=unit, **facts)


def make_vessel(name=None, **facts):
    return Vessel.objects.create(
        **{"name": name or f"Pot {next(_numbers)}", "volume_ml": 12000, "fill_ml": 8000, **facts}
    )


def make_tool(name=None, kind="scale", step="0.01", largest=None):
    return Tool.objects.create(name=name or f"Scale {next(_numbers)}", kind=kind, step=Decimal(step), largest=largest)


def make_solution(name=None, parts=(), kind="stock", **facts):
    """The master of a bottle. `parts`: pairs of a dye or an assistant and its g per 100 mL."""
    solution = Solution.objects.create(name=name or f"Bottle {next(_numbers)}", kind=kind, **facts)
    for substance, percent in parts:
        column = "dye" if isinstance(substance, Dye) else "assistant"
        SolutionPart.objects.create(solution=solution, g_per_100=Decimal(percent), **{column: substance})
    return solution


def receive_yarn(by, base=None, skeins=10, at=NOON, **facts):
    """A yarn lot of so many skeins."""
    base = base or make_base()
    return Lot.receive(by=by, came_at=at, received=base.skein_g * skeins, clock=clock(at), base=base, **facts)


def receive_powder(by, dye=None, grams=100, at=NOON, **facts):
    return Lot.receive(by=by, came_at=at, received=Decimal(grams), clock=clock(at), dye=dye or make_dye(), **facts)


def receive_assistant(by, assistant=None, amount=1000, at=NOON, **facts):
    assistant = assistant or make_assistant()
    return Lot.receive(by=by, came_at=at, received=Decimal(amount), clock=clock(at), assistant=assistant, **facts)


def bottle(by, parts=None, volume=250, solution=None, at=NOON, **facts):
    """A bottle made up: by default 250 mL at 1 % of a new powder. `parts`: pairs of a lot and an amount."""
    parts = [(receive_powder(by, at=at), Decimal("2.5"))] if parts is None else parts
    solution = solution or make_solution(
        parts=[(dye, 1) for dye in dict.fromkeys(lot.dye for lot, _ in parts if lot.dye_id)]
    )
    return Lot.make_bottle(solution, volume=Decimal(volume), parts=parts, by=by, made_at=at, clock=clock(at), **facts)


def delivery(by, at=NOON, **facts):
    return Delivery.objects.create(came_at=at, recorded_at=at, by=by, **facts)


def on_hand(lot):
    return lot.on_hand_now()


def count(by, lot, amount, at=NOON, recorded_at=None):
    return Count.take(lot, Decimal(amount), by=by, at=at, clock=clock(recorded_at or at))


# --- recipes


def colourway(by, name=None, **facts):
    return Colourway.objects.create(name=name or f"Low tide {next(_numbers)}", made_at=NOON, by=by, **facts)


def recipe(by, way=None, lines=None, fibre_g=100, **facts):
    """A version with one step per line; by default one dye at 1 % owf.

    `lines`: triples of a substance, an amount and a basis.
    """
    version = (way or colourway(by)).next_version(by=by, now=NOON, fibre_g=Decimal(fibre_g), **facts)
    version.write([(RecipeStep(), [ingredient(*line)]) for line in lines or [(make_dye(), 1, Basis.OWF)]])
    return version


def ingredient(substance, amount, basis=Basis.OWF, **facts):
    """An unsaved Ingredient of a dye, an assistant or a bottle's master."""
    column = {Dye: "dye", Assistant: "assistant", Solution: "solution"}[type(substance)]
    unit = "%" if basis == Basis.OWF else "g"
    return Ingredient(
        **{column: substance, "amount": Decimal(amount), "basis": basis, "unit": unit, "how": How.ADDED, **facts}
    )


# --- the journal


def shelf_yarn(lot, skeins=2, **facts):
    """An unsaved BatchYarn from a yarn lot."""
    grams = lot.skein_g * skeins
    return BatchYarn(
        source="lot", lot=lot, skeins=skeins, grams=grams, skein_g=lot.skein_g, skein_m=lot.skein_m, **facts
    )


def plan_line(lot=None, told=None, step="add", **facts):
    """An unsaved PlanLine: so much of a lot, or plain words when no lot is given."""
    if lot is None:
        return PlanLine(**{"step": step, "words": "Heat slowly", **facts})
    column = "dye" if lot.dye_id else "assistant" if lot.assistant_id else "solution"
    amount = None if told is None else Decimal(told)
    return PlanLine(step=step, lot=lot, told=amount, exact=amount, unit=lot.unit, **{column: lot.substance, **facts})


def run_with_pots(by, lot=None, pots=2, skeins=2, start=True, lines=(), at=NOON, **facts):
    """A run of so many pots with `skeins` of a yarn lot each.

    `lines`: pairs of a lot and the amount told, the same for every pot.
    """
    lot = lot or receive_yarn(by, skeins=pots * skeins + 4, at=at)
    told = [
        {
            "fibre_g": lot.skein_g * skeins,
            "yarns": [shelf_yarn(lot, skeins)],
            "lines": [plan_line(*line) for line in lines],
        }
        for _ in range(pots)
    ]
    run = Run.plan(by=by, day=at.date(), pots=told, clock=clock(at), **facts)
    if start:
        run.start(by=by, clock=clock(at))
    return run


def past_runs(by, number, begin=0, a_day=1):
    """Finished runs without yarn, so many a day, backwards."""
    codes = range(begin, begin + number)
    said = {"state": "finished", "made_at": NOON, "by": by, "started_at": NOON, "finished_at": NOON}
    runs = [Run(code=f"20-{n:03d}", title=f"Run {n}", day=DAY - timedelta(days=n // a_day), **said) for n in codes]
    for run in runs:
        run.save()
    Batch.objects.bulk_create(Batch(run=run, number=1, state="finished", where="stored") for run in runs)
    return runs


def one_pot(by, **facts):
    """The batch of a started run of one pot."""
    return run_with_pots(by, pots=1, **facts).batches.get()


def stamp(by, at=NOON, received_at=None, **facts):
    """Who and when: it happened at `at` and arrived at `received_at`, by default at once."""
    return Stamp(**{"by": by, "happened_at": at, "clock": clock(received_at or at), "id": uuid4(), **facts})


def addition(by, batch, lot=None, amount=None, at=NOON, received_at=None, **facts):
    """Something went in; `amount` None is unweighed. Without a lot it is water."""
    amount = None if amount is None else Decimal(amount)
    if lot is None:
        facts = {"other": "water", "unit": "mL", **facts}
    return Addition.log(batch, stamp(by, at, received_at), lot=lot, amount=amount, **facts)


def words(by, batch, said="Smells of wet sheep", at=NOON, **facts):
    return Entry.log_words(batch, stamp(by, at, words=said, **facts))


def finish(by, batch, at=NOON, grade="first", **facts):
    """Every skein came out, all of one grade."""
    outputs = [
        Output(yarn=yarn, grade=grade, skeins=yarn.skeins, skein_g=yarn.skein_g, skein_m=yarn.skein_m)
        for yarn in batch.yarns.all()
    ]
    return Finish.log(batch, stamp(by, at), outputs=outputs, **facts)


# --- files


def picture(by, colour="#31686b", **facts):
    """A picture with its three files in the storage."""
    stored = Picture.objects.create(
        **{"width": 40, "height": 30, "sha256": "0" * 64, "received_at": NOON, "by": by, **facts}
    )
    held = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(held, "JPEG")
    for size in Picture.SIZES:
        default_storage.save(stored.path(size), ContentFile(held.getvalue()))
    return stored


def crop(by, of, **facts):
    """A crop of a picture, with its files in the storage."""
    return picture(by, crop_of=of, **{"across_pct": 40, "down_pct": 50, "size_pct": 60, **facts})


def document(by, title="Safety data sheet"):
    body = b"%PDF-1.4\n%%EOF\n"
    stored = Document.objects.create(title=title, size=len(body), sha256="0" * 64, received_at=NOON, by=by)
    default_storage.save(stored.path, ContentFile(body))
    return stored


def sound(by, **facts):
    """A spoken note with its file in the storage. What is in the file is not music."""
    body = b"not music"
    stored = Sound.objects.create(
        **{"seconds": Decimal("2.5"), "size": len(body), "sha256": "0" * 64, "received_at": NOON, "by": by, **facts}
    )
    default_storage.save(stored.path, ContentFile(body))
    return stored


# --- a whole day


def share_out(by, lot, used, uses, opening_at=NOON, closing_at=NOON):
    """Two weighings of a jar, and what is missing shared evenly over its unweighed additions."""
    opening = Weighing.objects.create(lot=lot, gross_g=300, at=opening_at, recorded_at=closing_at, by=by)
    closing = Weighing.objects.create(
        lot=lot, gross_g=300 - Decimal(used), at=closing_at, recorded_at=closing_at, by=by
    )
    shared = ShareOut.objects.create(
        lot=lot, opening=opening, closing=closing, used_g=used, measured_g=0, recorded_at=closing_at, by=by
    )
    for added, part in zip(uses, split(Decimal(used), [1] * len(uses), 3), strict=True):
        movement = added.addition.movement
        names = {"settles": movement, "share_out": shared}
        Movement.post(lot, Movement.Kind.SHARED, -part, at=movement.at, by=by, now=closing_at, **names)
        AdditionLot.trace(added.addition, part, shared)
    return shared


def cost_sheet(by, run, yarn=4000, dye=350, number=1):
    """A frozen sheet of two lines, borne by the outputs that stand."""
    total = yarn + dye
    sheet = CostSheet.objects.create(run=run, number=number, currency="EUR", total_minor=total, frozen_at=NOON, by=by)
    for position, (kind, minor) in enumerate([("yarn", yarn), ("dye", dye)], 1):
        CostLine.objects.create(sheet=sheet, position=position, kind=kind, minor=minor)
    outputs = list(Output.objects.standing().filter(yarn__batch__run=run))
    for output, minor in zip(outputs, split(total, [row.skeins for row in outputs], 0), strict=True):
        CostShare.objects.create(sheet=sheet, output=output, minor=int(minor), skeins=output.skeins)
    return sheet


def tag_print(by, output, dye_lot):
    words = {"colourway": "Low tide", "base": "Sparrow", "content": "75% wool, 25% polyamide", "weight": "100 g"}
    printed = TagPrint.objects.create(
        sheet=uuid4(),
        output=output,
        copies=output.skeins,
        design="swing",
        paper="A4",
        dye_lot=dye_lot,
        printed_at=NOON,
        by=by,
        **words,
    )
    TagDye.objects.create(tag_print=printed, position=1, name="Rust", fill="#9c3122", share=1)
    return printed


def a_whole_day(cast):
    """At least one row of every table, from the shelf to the tags. Answers the run."""
    maker, helper = cast.maker, cast.helper
    Studio.get()
    dye = make_dye("Rust")
    make_vessel("Tall pot"), make_tool("Fine scale")
    spoon = Measure.objects.create(name="Bone spoon")
    MeasureWeighing.objects.create(measure=spoon, dye=dye, fillings=10, grams=2, at=NOON, by=maker)
    Phone.trust(name="the phone in the stand", by=cast.owner, clock=lambda: NOON)
    usual = HouseStep.objects.create(name="Soak as usual", kind="soak", minutes=30)
    Place.objects.create(words="bottom layer", method="jar")
    came = delivery(maker, supplier="A mill of nobody's")
    yarn = receive_yarn(maker, make_base("Sparrow"), skeins=12, delivery=came, cost_minor=9000)
    powder = receive_powder(maker, dye, delivery=came, cost_minor=2500, tare_g=20)
    LotCorrection.objects.create(lot=powder, strength_pct=97, why="Dyed weaker", recorded_at=NOON, by=maker)
    acid = receive_assistant(maker, make_assistant("Vinegar"))
    red = bottle(maker, [(powder, Decimal("2.5"))], solution=make_solution("Red", [(dye, 1)]))
    old = bottle(maker, [(red, 50)], volume=100, solution=make_solution("Red, weaker", [(dye, "0.5")]))
    bottle(maker, [(old, 100), (powder, 1)], volume=200, solution=old.solution, continues=old)
    make_solution("Paint", [(dye, 2), (acid.assistant, 3)], kind="painting")
    liquor = bottle(maker, [], volume=3000, solution=make_solution("Evening pot", kind="liquor"))
    count(maker, acid, 990)
    document(maker), Taken.objects.create(id=uuid4(), url="/", at=NOON, by=maker)

    way = colourway(maker, "Low tide")
    version = recipe(maker, way, [(dye, 1, Basis.OWF), (acid.assistant, 10, Basis.PER_POT)])
    version.bases.set([yarn.base])
    lines = [(red, 40), (acid, 10)]
    run = run_with_pots(maker, yarn, lines=lines, colourway=way, recipe=version)
    way.pin(version)
    theirs = BatchYarn(source="customer", words="For Ida", skeins=1, grams=100)
    waiting = {"yarns": [theirs], "lines": [plan_line(liquor, 500)]}
    Run.plan(by=maker, day=DAY, pots=[waiting], clock=clock(), title="A favour")
    for pot in run.batches.all():
        red_line, acid_line = pot.plan.all()
        Weighed.log(pot, stamp(helper), plan_line=acid_line, amount=Decimal("9.8"))
        addition(helper, pot, red, 40, plan_line=red_line)
        addition(helper, pot, acid, 10, plan_line=acid_line)
        addition(helper, pot, amount=4000)
    pot = run.batches.first()
    sprinkled = [addition(helper, pot, powder, at=hours(1), how="sprinkled") for _ in range(2)]
    share_out(maker, powder, "0.75", sprinkled, opening_at=NOON, closing_at=hours(2))
    wrong = addition(helper, pot, red, 4, at=hours(1))
    Strike.log(pot, stamp(helper, hours(1)), target=wrong.pk, reason="Other pot")
    Reading.log(pot, stamp(helper, hours(1)), temperature_c=85, clear="nearly")
    StepDone.log(pot, stamp(helper, hours(1)), kind="heat", temperature_c=90)
    StepDone.log(pot, stamp(helper), kind="soak", minutes=30, house_step=usual)
    by_spoon = {"measure": spoon, "fillings": 2, "spread_g": Decimal("0.04"), "how": "sprinkled"}
    addition(helper, pot, powder, "0.4", at=hours(1), **by_spoon)
    Move.log(pot, stamp(helper, hours(1)), what="where", where="cooling")
    Move.log(pot, stamp(helper, hours(1)), what="liquor_out", volume_ml=Decimal(500), keep_as="Evening pot")
    shown = picture(helper)
    taken = PhotoTaken.log(pot, stamp(helper, hours(1)), picture=shown, stage="dry")
    taken.photo.lead(crop=crop(maker, shown))
    bled = Check.log(pot, stamp(maker, hours(1)), what="cloth", result="some")
    Check.log(pot, stamp(maker, hours(1)), what="remedy", because=bled)
    Work.log(pot, stamp(helper, hours(1)), minutes=45)
    timer = Timer.log(pot, stamp(helper, hours(1)), what="hold", minutes=Decimal(45))
    TimerEnded.log(pot, stamp(helper, hours(2)), target=timer.pk)
    SkeinDone.log(pot, stamp(helper, hours(2)), number=1)
    Talk.log(pot, stamp(helper, hours(2)), sound=sound(helper))
    Answer.log(pot, stamp(helper, hours(2)), question="photo", about=taken, known=False)
    words(helper, pot, at=hours(1))
    for pot in run.batches.all():
        finish(maker, pot, at=hours(3))
    taken_from = recipe(maker, way, [(dye, 1, Basis.OWF)])
    Captured.objects.create(recipe=taken_from, run=run, batch=pot)
    test = StrengthTest.of_run(run, lot=powder, before_pct=97, percents={pot: 110})
    test.say(by=maker, low=test.rungs.get(), clock=clock(hours(4)))
    said = Finish.objects.filter(entry__batch=pot).get()
    NotePut.objects.create(finish=said, recipe=taken_from, at=hours(4), by=maker)
    run.refresh_from_db()
    cost_sheet(maker, run)
    tag_print(maker, Output.objects.first(), run.code)
    indexing.catch_up()
    Run.objects.get(title="A favour").save()  # changed since, and so not yet in the index as it is
    return run


def at_once(*verbs):
    """Run these in threads of their own; answers what each raised."""
    raised, gate = [], threading.Barrier(len(verbs))

    def one(verb):
        try:
            gate.wait()
            verb()
        except Exception as error:
            raised.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=[verb]) for verb in verbs]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return raised

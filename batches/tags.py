"""What a tag says: from an output, its base and its checks to the words that are printed."""

from django.db import transaction
from django.utils import timezone

from studio import care, fibres, money, units
from studio.models import Paper, Studio

from . import depth
from .models import Check, Entry, Finish, Output, TagPrint, Whereabouts
from .tag_face import TagFace

HAND_DYED = "Dyed by hand, so skeins of one lot differ a little: change skein every two rows."
WORST_FIRST = [
    Check.Result.RUNNING,
    Check.Result.A_LOT,
    Check.Result.SOME,
    Check.Result.TRACE,
    Check.Result.NONE,
]


class NotReady(ValueError):
    """Something stands in the way of a tag; the sentence says what to do."""


def face_of(output, *, price_minor, studio=None, first_wash=True, with_bar=True):
    """The tag of an output. Raises NotReady while its fibre content is not complete.

    `first_wash` False leaves out "cool, separately the first time": a person decided that.
    """
    studio = studio or Studio.get()
    yarn, run = output.yarn, output.yarn.batch.run
    content = content_of(output, studio)
    cared = care_of(output, studio, first_wash=first_wash)
    weight = output.skein_g or yarn.skein_g or (yarn.lot.skein_g if yarn.lot_id else None)
    length = output.skein_m or yarn.skein_m or (yarn.lot.skein_m if yarn.lot_id else None)
    if weight is None:
        raise NotReady("Say what a skein weighs: a tag carries the net weight.")
    return TagFace(
        colourway=output.name or run.name,
        base=yarn.known_base.name if yarn.known_base else yarn.words,
        content=content.text,
        net=both_systems(weight, units.write_g),
        length="" if length is None else both_systems(length, units.write_m),
        dye_lot=dye_lot_of(output),
        care=cared.sentences,
        maker=tuple(line for line in (studio.name, studio.address, studio.contact) if line),
        price="" if price_minor is None else written_price(price_minor, studio),
        grade="Second" if output.grade == Output.Grade.SECOND else "",
        dyes=tuple(depth.segments(_fed_of(output))) if with_bar else (),
        hand_dyed=HAND_DYED,
        notes=content.notes,
    )


def content_of(output, studio):
    """The fibre line for the studio's market, as `fibres.ContentLine`."""
    base = output.yarn.known_base
    if base is None:
        raise NotReady(
            "Nobody knows what this yarn is made of, so it can't be tagged. Add its base to the shelf, and say in "
            "the finish which it is."
        )
    if not base.complete():
        raise NotReady(
            f"The fibre content of {base.name} does not add up to 100 % yet. Complete it on the base's page; the "
            "mill's label says what it is."
        )
    try:
        return fibres.content_line(base.shares(), studio.market)
    except ValueError as problem:
        raise NotReady(f"{base.name}: {problem}") from None


def care_of(output, studio, *, first_wash=True):
    """The care lines, by the base's fibres and the worst standing result of a white cloth."""
    base = output.yarn.known_base
    keys = [row.fibre for row in base.fibres.all()] if base else []
    return care.care_lines(
        keys,
        superwash=bool(base and base.superwash),
        fastness=worst_result(output.yarn.batch),
        market=studio.market,
        first_wash=first_wash,
    )


def worst_result(batch):
    """The worst of what the newest cloth and wash checks of a pot said; None while nothing was tested.

    A retest after a remedy replaces what it answers, so only the last of each kind counts.
    """
    standing = Entry.objects.standing().filter(batch=batch, kind=Entry.Kind.CHECK)
    checks = Check.objects.filter(entry__in=standing, what__in=[Check.What.CLOTH, Check.What.WASH])
    last = {check.what: check.result for check in checks.order_by("entry__at", "entry__received_at")}
    return next((result for result in WORST_FIRST if result in last.values()), None)


def dye_lot_of(output):
    """The run's code; with the pot's number where the pots do not match."""
    batch = output.yarn.batch
    if pots_match(batch.run) is False:
        return f"{batch.run.code}-{batch.number}"
    return batch.run.code


def pots_match(run):
    """What the newest standing finish of the run said; None where nobody was asked."""
    standing = Entry.objects.standing().filter(batch__run=run, kind=Entry.Kind.FINISH)
    said = Finish.objects.filter(entry__in=standing, pots_match__isnull=False).order_by("-entry__received_at")
    return said.values_list("pots_match", flat=True).first()


def both_systems(value, write):
    """ "100 g / 3.5 oz": the metric amount first, then the other."""
    return f"{write(value, 'metric')} / {write(value, 'us')}"


def written_price(minor, studio):
    return money.write_money(money.from_minor(minor, studio.currency), studio.currency, studio.locale)


def _fed_of(output):
    batch = output.yarn.batch
    if pots_match(batch.run) is False:
        return depth.fed_of_batches([batch]).get(batch.pk, [])
    return depth.fed_of_run(batch.run)


def keep_print(output, face, *, copies, design, paper, price_minor, by, clock=timezone.now):
    """Keep what is printed, word for word, and put the yarn on the shelf once all its pots have tags."""
    studio = Studio.get()
    with transaction.atomic():
        printed = TagPrint.objects.create(
            output=output,
            copies=copies,
            design=design,
            paper=paper or Paper.A4,
            colourway=face.colourway,
            base=face.base,
            content=face.content,
            weight=face.net,
            length=face.length,
            dye_lot=face.dye_lot,
            care="\n".join(face.care),
            maker="\n".join(face.maker),
            price_minor=price_minor,
            currency="" if price_minor is None else studio.currency,
            printed_at=clock(),
            by=by,
        )
        batch = output.yarn.batch
        if batch.where == Whereabouts.TO_TAG:
            batch.go(Whereabouts.STORED)
    return printed

"""What a tag says: from an output, its base and its checks to the words that are printed."""

from django.db import transaction
from django.utils import timezone

from studio import care, fibres, money, units
from studio.colourbar import Segment
from studio.models import Studio

from . import depth
from .models import Check, Entry, Finish, Move, Output, Stamp, TagDye, TagPrint, Whereabouts
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


def face_of(output, *, price_minor, studio=None, first_wash=True, with_bar=True, per_kilogram=False):
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
        unit_price=unit_price(price_minor, weight, studio) if per_kilogram and price_minor is not None else "",
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


def unit_price(minor, skein_g, studio):
    """Price for a kilogram, as markets that price yarn by weight want it beside the price (Directive 98/6/EC, Art. 2(b))."""
    price = money.from_minor(minor, studio.currency) * 1000 / skein_g
    return f"{money.write_money(price, studio.currency, studio.locale)} a kilogram"


def _fed_of(output):
    batch = output.yarn.batch
    if pots_match(batch.run) is False:
        return depth.fed_of_batches([batch]).get(batch.pk, [])
    return depth.fed_of_run(batch.run)


def keep_sheet(tags, *, sheet, design, paper, start_at, by, clock=timezone.now):
    """Keep what is printed, word for word. `tags`: tuples of an Output, its face, copies and the price in minor units.

    A pot whose skeins got their tags is on the shelf from then on. Returns the rows.
    """
    studio = Studio.get()
    with transaction.atomic():
        now = clock()
        rows = []
        for output, face, copies, price_minor in tags:
            row = TagPrint.objects.create(
                sheet=sheet,
                output=output,
                copies=copies,
                design=design,
                paper=paper,
                start_at=start_at,
                colourway=face.colourway,
                base=face.base,
                content=face.content,
                weight=face.net,
                length=face.length,
                dye_lot=face.dye_lot,
                care="\n".join(face.care),
                maker="\n".join(face.maker),
                notes="\n".join(face.notes),
                grade=face.grade,
                hand_dyed=face.hand_dyed,
                price=face.price,
                unit_price=face.unit_price,
                price_minor=price_minor,
                currency="" if price_minor is None else studio.currency,
                printed_at=now,
                by=by,
            )
            TagDye.objects.bulk_create(
                TagDye(tag_print=row, position=position, name=dye.name, fill=dye.fill, share=dye.share)
                for position, dye in enumerate(face.dyes, 1)
            )
            rows.append(row)
        for batch in {output.yarn.batch_id: output.yarn.batch for output, *_ in tags}.values():
            if batch.where == Whereabouts.TO_TAG:
                stored = {"what": Move.What.WHERE, "where": Whereabouts.STORED}
                Move.log(batch, Stamp(by=by, words="tags printed"), **stored)
    return rows


def face_as_printed(row):
    """The face of tags that were printed, from what was kept of them."""
    return TagFace(
        colourway=row.colourway,
        base=row.base,
        content=row.content,
        net=row.weight,
        length=row.length,
        dye_lot=row.dye_lot,
        care=tuple(row.care.splitlines()),
        maker=tuple(row.maker.splitlines()),
        price=row.price,
        unit_price=row.unit_price,
        grade=row.grade,
        dyes=tuple(Segment(dye.name, dye.fill, dye.share, unweighed=dye.share is None) for dye in row.dyes.all()),
        hand_dyed=row.hand_dyed,
        notes=tuple(row.notes.splitlines()),
    )

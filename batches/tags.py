"""What a tag says: from an output, its base and its checks to the words that are printed."""

from collections import defaultdict
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from studio import care, fibres, money, units
from studio.colourbar import Segment
from studio.models import Studio
from studio.units import NO_BREAK_SPACE

from . import depth
from .models import Check, Finish, Move, Output, Stamp, TagDye, TagPrint, Whereabouts
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


@dataclass(frozen=True)
class RunFacts:
    """What the tags of a run share, asked once: how its pots came out, and what dye went in."""

    pots_match: bool | None
    dyes: dict  # batch key: [Segment]; None: those of the whole run
    worst: dict  # batch key: the worst of what its newest cloth and wash checks said

    @classmethod
    def of(cls, run):
        """A fixed number of queries."""
        batches = list(run.batches.all())
        match = pots_match(run)
        fed = depth.fed_of_batches(batches) if match is False else {None: depth.fed_of_run(run)}
        return cls(match, {key: tuple(depth.segments(dyes)) for key, dyes in fed.items()}, worst_results(run))

    def dye_lot(self, batch):
        """The run's code; with the pot's number where the pots do not match."""
        return f"{batch.run.code}-{batch.number}" if self.pots_match is False else batch.run.code

    def bar(self, batch):
        return self.dyes.get(batch.pk if self.pots_match is False else None, ())


def face_of(output, *, price_minor, studio=None, first_wash=True, with_bar=True, per_kilogram=False, facts=None):
    """The tag of an output. Raises NotReady while its fibre content is not complete.

    `first_wash` False leaves out "cool, separately the first time": a person decided that. `facts`: those of its run,
    where they have been asked already.
    """
    studio = studio or Studio.get()
    yarn, batch = output.yarn, output.yarn.batch
    facts = facts or RunFacts.of(batch.run)
    content = content_of(output, studio)
    weight, length = output.known_skein_g, output.known_skein_m
    if weight is None:
        raise NotReady("Say what a skein weighs: a tag carries the net weight.")
    return TagFace(
        colourway=output.name or batch.run.name,
        base=yarn.known_base.name,
        content=content.text,
        net=net_mass(weight),
        length="" if length is None else both_systems(length, units.write_m),
        dye_lot=facts.dye_lot(batch),
        care=care_of(output, studio, first_wash=first_wash, facts=facts).sentences,
        maker=tuple(line for line in (studio.name, studio.address, studio.contact) if line),
        price="" if price_minor is None else written_price(price_minor, studio),
        unit_price=unit_price(price_minor, weight, studio) if per_kilogram and price_minor is not None else "",
        grade="Second" if output.grade == Output.Grade.SECOND else "",
        dyes=facts.bar(batch) if with_bar else (),
        hand_dyed=HAND_DYED,
        notes=content.notes,
    )


def content_of(output, studio):
    """The fibre line for the studio's market, as `fibres.ContentLine`."""
    base = output.yarn.known_base
    if base is None:
        raise NotReady(
            "Nobody knows what this yarn is made of, so it can't be tagged. Add its base to the shelf, and say on "
            "the run's page which yarn it is."
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


def care_of(output, studio, *, first_wash=True, facts=None):
    """The care lines, by the base's fibres and the worst standing result of a white cloth."""
    base = output.yarn.known_base
    facts = facts or RunFacts.of(output.yarn.batch.run)
    return care.care_lines(
        [row.fibre for row in base.fibres.all()] if base else [],
        superwash=bool(base and base.superwash),
        fastness=facts.worst.get(output.yarn.batch_id),
        market=studio.market,
        first_wash=first_wash,
    )


def worst_results(run):
    """{batch key: the worst of what its newest cloth and wash checks said}; a pot that nobody tested is left out.

    A retest after a remedy replaces what it answers, so only the last of each kind counts.
    """
    checks = Check.objects.standing().filter(entry__batch__run=run, what__in=[Check.What.CLOTH, Check.What.WASH])
    last = defaultdict(dict)
    for check in checks.select_related("entry").order_by("entry__at", "entry__received_at", "pk"):
        last[check.entry.batch_id][check.what] = check.result
    return {batch: min(results.values(), key=WORST_FIRST.index) for batch, results in last.items()}


def pots_match(run):
    """What the newest standing finish of the run said; None where nobody was asked."""
    said = Finish.objects.standing().filter(entry__batch__run=run, pots_match__isnull=False)
    said = said.order_by("-entry__received_at")
    return said.values_list("pots_match", flat=True).first()


def net_mass(grams):
    """ "100 g / 3.53 oz": three digits of an ounce are what a tag's reader can use."""
    ounces = units.write_number(grams / units.to_g(1, "oz"), digits=3)
    return f"{units.write_g(grams)} / {ounces}{NO_BREAK_SPACE}oz"


def both_systems(value, write):
    """ "100 g / 3.5 oz": the metric amount first, then the other."""
    return f"{write(value, 'metric')} / {write(value, 'us')}"


def written_price(minor, studio):
    return money.write_money(money.from_minor(minor, studio.currency), studio.currency, studio.locale)


def unit_price(minor, skein_g, studio):
    """Price for a kilogram, as some markets want it beside the price (Directive 98/6/EC, Art. 2(b))."""
    price = money.from_minor(minor, studio.currency) * 1000 / skein_g
    return f"{money.write_money(price, studio.currency, studio.locale)} a kilogram"


def keep_sheet(tags, *, sheet, design, paper, start_at, by, clock=timezone.now):
    """Keep what is printed, word for word. `tags`: tuples of an Output, its face, copies and the price in minor units.

    A pot whose skeins got their tags is on the shelf from then on. Returns the rows.
    """
    studio = Studio.get()
    layout = {"sheet": sheet, "design": design, "paper": paper, "start_at": start_at}
    with transaction.atomic():
        now = clock()
        rows = []
        for output, face, copies, price_minor in tags:
            priced = {"price_minor": price_minor, "currency": "" if price_minor is None else studio.currency}
            facts = {**as_kept(face), **layout, **priced, "copies": copies, "printed_at": now, "by": by}
            row = TagPrint.objects.create(output=output, **facts)
            TagDye.objects.bulk_create(
                TagDye(tag_print=row, position=position, name=dye.name, fill=dye.fill, share=dye.share)
                for position, dye in enumerate(face.dyes, 1)
            )
            rows.append(row)
        for batch in {output.yarn.batch_id: output.yarn.batch for output, *_ in tags}.values():
            if batch.where == Whereabouts.TO_TAG:
                stored = {"what": Move.What.WHERE, "where": Whereabouts.STORED}
                Move.log(batch, Stamp(by=by, words="tags printed", clock=lambda: now), **stored)
    return rows


def as_kept(face):
    """The words of a face as `TagPrint` keeps them; `face_as_printed` is the way back."""
    same = ("colourway", "base", "content", "length", "dye_lot", "grade", "hand_dyed", "price", "unit_price")
    lists = {name: "\n".join(getattr(face, name)) for name in ("care", "maker", "notes")}
    return {name: getattr(face, name) for name in same} | lists | {"weight": face.net}


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

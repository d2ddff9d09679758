"""Labels with a code for a phone: on the ties of wet skeins, and on the pots of the bench."""

from dataclasses import dataclass

from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse

from studio import printing, qr

from . import vessels
from .models import BatchYarn

CODE_MM = {"label": 30.0, "strip": 24.0}  # side of the code, quiet zone included; as in ties.css


@dataclass(frozen=True)
class Label:
    """What stands on one label. Equal ones are one distinct label. address: what its code opens."""

    head: str
    pot: str
    name: str
    line: str
    address: str


def pots_of(run):
    """The run's pots in their order, with all that a label says of them. Two queries."""
    pots = list(run.batches.select_related("vessel").order_by("number"))
    yarns = BatchYarn.objects.named().filter(batch__in=pots).order_by("position")
    for pot in pots:
        pot.run, pot.in_it = run, []
    by_key = {pot.pk: pot for pot in pots}
    for yarn in yarns:
        by_key[yarn.batch_id].in_it.append(yarn)
    return pots


def skeins_in(pot):
    """How many labels a pot of `pots_of` takes, one for each skein; 1 where nobody counted them."""
    return sum(yarn.skeins or 0 for yarn in pot.in_it) or 1


def tie_of(pot):
    """The label of a pot of `pots_of`, for the ties of its skeins: its code opens that pot's sink page."""
    return Label(
        head=pot.run.code,
        pot=pot.pot_name,
        name=pot.run.name,
        line=", ".join(dict.fromkeys(yarn.name for yarn in pot.in_it)),
        address=address_of("batches:sink", pot.pk),
    )


def labels_of_vessel(vessel):
    """One label for each of alike vessels: its code opens whatever is in that one."""
    return [
        Label(
            head=vessels.name_of(vessel, number),
            pot="",
            name=vessel.name if vessel.how_many > 1 else "",
            line="The code opens what is in it.",
            address=address_of("batches:pot", vessel.pk, number),
        )
        for number in range(1, vessel.how_many + 1)
    ]


def address_of(page, *args):
    """A page's whole address, as a phone asks for it."""
    return settings.BASE_URL + reverse(page, args=args)


def draw(labels, design, paper, start_at=1, title="Labels"):
    """PDF bytes. labels: pairs (Label, copies), in their order. design: "strip" or "label".

    start_at: the first free place of a part-used sheet, from 1.
    Raises ValueError (qr.TooSmall and printing.TooMuchToPrint among them) and printing.PrinterMissing.
    """
    sheet = printing.sheet_for(design, paper)
    copies = [count for _, count in labels]
    printing.refuse_impossible(copies, sheet, start_at)
    coded = [(label, qr.code_of(label.address, CODE_MM[design])) for label, _ in labels]
    context = {"labels": coded, "design": design, "paper": paper.lower(), "title": title}
    pages = printing.render_pdf(render_to_string("batches/tie_sheet.html", context))
    return printing.impose(pages, copies, sheet, start_at, title)

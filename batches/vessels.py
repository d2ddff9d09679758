"""What is in a pot or jar of the bench now, as far as the log says."""

from dataclasses import dataclass

from .models import Batch, State, Whereabouts

IN_IT = {Whereabouts.SOAKING, Whereabouts.IN_POT, Whereabouts.COOLING}


@dataclass(frozen=True)
class Contents:
    """Batches by how likely they are in this vessel. `here`: surely; empty is nothing that anybody logged."""

    here: tuple
    perhaps: tuple  # under way in alike ones, or their yarn has left it
    planned: tuple


def name_of(vessel, number):
    """What one vessel is called: its own name, or, of several alike ones, its kind and number ("Jar 3")."""
    return vessel.name if vessel.how_many == 1 else f"{vessel.kind.capitalize()} {number}"


def in_it(vessel, number):
    """The `Contents` of a vessel; of several alike ones, of that number. One query.

    Alike ones are told apart by the number of the pot in its run, as every page calls them. Yarn that is being rinsed
    counts where no other is in it: the pot is often in use again by then.
    """
    open_ones = Batch.objects.filter(vessel=vessel, state__in=[State.RUNNING, State.PLANNED])
    batches = list(open_ones.select_related("run__colourway", "vessel").order_by("-run__day", "-run_id", "number"))
    running = [batch for batch in batches if batch.state == State.RUNNING]
    own = [batch for batch in running if vessel.how_many == 1 or batch.number == number]
    here = [batch for batch in own if batch.where in IN_IT]
    here = here or [batch for batch in own if batch.where == Whereabouts.RINSING]
    return Contents(
        here=tuple(here),
        perhaps=tuple(batch for batch in running if batch not in here),
        planned=tuple(batch for batch in batches if batch.state == State.PLANNED),
    )

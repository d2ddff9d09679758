"""What somebody has to be careful of: in a line of a plan, in a vessel, in a whole plan. Keys of `studio.cautions`."""

from recipes.meaning import HOT
from studio.cautions import of_substance
from studio.models import Assistant, Solution, Vessel


def _of_lot(lot):
    """(what is handled as it was bought or None, its cautions) of a lot. A bottle is wet, but a dry mix is powder."""
    if lot.solution_id:
        return None, ["powder"] if lot.unit == "g" else []
    thing = lot.dye or lot.assistant
    return thing, of_substance(thing)


def of_line(line):
    """Of a `PlanLine`: its powder, acid, alkali or mordant as it comes, and its heat."""
    thing = line.dye or line.assistant
    found = _of_lot(line.lot)[1] if line.lot else of_substance(thing) if thing else []
    return found + (["heat"] if line.step in HOT else [])


def sheets_of_line(line):
    """The dye or assistant of a line, whose data sheet may be known."""
    thing = _of_lot(line.lot)[0] if line.lot else line.dye or line.assistant
    return [thing] if thing else []


def of_vessel(vessel):
    """Of what stands in heat: a jar, or anything in a microwave."""
    if vessel is None:
        return []
    jar = ["jars"] if vessel.kind == Vessel.Kind.JAR else []
    return jar + (["microwave"] if vessel.heater == Vessel.Heater.MICROWAVE else [])


def of_plan(worked):
    """(cautions, what they are about) of a plan as it was worked out, for all its pots."""
    found = [key for pot in worked.pots for key in of_vessel(pot.load.vessel)]
    things = []
    for line in (line for pot in worked.pots for line in pot.lines):
        if line.step in HOT:
            found.append("heat")
        if line.lot is not None:
            thing, keys = _of_lot(line.lot)
            found += keys
            things += [thing] if thing else []
        elif isinstance(line.substance, Assistant):
            found += of_substance(line.substance)
            things.append(line.substance)
    return found, things


def of_mixing(makings):
    """(cautions, what they are about) of what is weighed for bottles that are to be made."""
    parts = [part for making in makings for part in making.parts if part.lot is None or not part.lot.solution_id]
    things = list(dict.fromkeys(part.substance for part in parts if not isinstance(part.substance, Solution)))
    return [key for thing in things for key in of_substance(thing)], things

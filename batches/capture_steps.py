"""Things that were done, in words that a notebook's reader takes for the same step again."""

from recipes import notebook, notebook_reading
from recipes.models import RecipeStep
from recipes.notebook import NoteStep
from studio import units

from .models import Move

Kind = RecipeStep.Kind
LONGEST_WORDS = 240


def worded(kind, temperature_c, minutes, words):
    """Words of a step that a notebook reads as just this step; "" where it needs none; None where none can be found."""
    words = shortened(words).rstrip(" .:")
    if kind != Kind.OTHER and not words:
        return ""
    small = f"{words[:1].lower()}{words[1:]}"
    ways = [words]
    if kind != Kind.OTHER:
        plain = notebook.say(NoteStep(0, "", kind, temperature_c, minutes))
        ways += [f"{plain}, {small}", f"{plain}: {small}", f"{plain} ({small})"]
    ways.append(f"Do: {small}")
    return next((said for said in ways if reads_as(said, kind, temperature_c, minutes)), None)


def shortened(words):
    """On one line, and no longer than a step's words may be: what is left out is marked "…", and stays in the log."""
    words = " ".join(words.split())
    if len(words) <= LONGEST_WORDS:
        return words
    begun = words[:LONGEST_WORDS]
    return f"{begun.rpartition(' ')[0] or begun} …"


def reads_as(words, kind, temperature_c, minutes):
    one = read_one(words)
    return one is not None and (one.kind, one.temperature_c, one.minutes) == (kind, temperature_c, minutes)


def read_one(words):
    """The one step that a notebook's reader makes of a line; None where it makes anything else of it."""
    rows = notebook_reading.read_lines(words)
    one = rows[0] if len(rows) == 1 else None
    return one if isinstance(one, NoteStep) and not one.heading else None


def moved(entry):
    """Yarn or liquor that was moved, as a thing to do."""
    said, other = entry.move, entry.move.other_batch
    many = units.write_count(said.skeins, "skein") if said.skeins else "the yarn"
    much = f"{units.write_number(said.volume_ml, digits=9)} mL of " if said.volume_ml else ""
    where = ""
    if other is not None and other.run_id == entry.batch.run_id:
        where = f" {'from' if said.what in (Move.What.YARN_IN, Move.What.LIQUOR_IN) else 'to'} {other.pot_name}"
    return {
        Move.What.YARN_IN: f"Move {many} in{where}",
        Move.What.YARN_OUT: f"Take {many} out{where}",
        Move.What.LIQUOR_IN: f"Do: pour in {much}liquor{where or ' of an earlier bath'}",
        Move.What.LIQUOR_OUT: f"Do: pour off {much}the bath{where}",
    }[said.what]


def long_time(minutes):
    """ "30 min" or "26 h 5 min", as a notebook reads it."""
    if minutes < 180:
        return f"{minutes} min"
    hours, rest = divmod(int(minutes), 60)
    return f"{hours} h{f' {rest} min' if rest else ''}"

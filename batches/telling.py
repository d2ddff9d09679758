"""The log said in words: what an entry says, for every page that shows a log."""

import re
from dataclasses import dataclass, field
from decimal import Decimal

from recipes.models import How, RecipeStep
from studio import shelf_words, units, writing
from studio.naming import says_strength
from studio.units import NO_BREAK_SPACE

from .models import WAITS, Check, Entry, Move, TimeFrom, Timer, TimerEnded, Whereabouts
from .wording import amount_of, capital, minutes, play_time, precise, until

STEPS = dict(RecipeStep.Kind.choices)
PLACES = dict(Whereabouts.choices)
HOW_GOES_WITHOUT_SAYING = ("", How.ADDED, How.BOTTLE)
SKIPPED = "Skipped"
AFTER_ALL = (Whereabouts.TO_TAG, Whereabouts.STORED)
UNIT_TYPED = re.compile(r"\s*[^\W\d_][^\d]*$")  # the words after a number: "1 1/2 tbsp"


def lot_colour(lot):
    """The colour of its dye, or of the dye it holds most of; "" where there is none."""
    if lot.dye_id:
        return lot.dye.colour
    sources = [content.source for content in lot.contents.all() if content.source_id and content.source.dye_id]
    return sources[0].dye.colour if sources else ""


@dataclass
class Line:
    """One line of a log: what happened, what else is to say, and who struck it out where somebody did."""

    entry: Entry
    what: str
    more: list = field(default_factory=list)
    colour: str = ""
    struck: Entry | None = None
    picture: object = None
    page: object = None  # the key of the photo of the notes that it was copied from
    sound: object = None

    @property
    def sub(self):
        """The small line below. Words somebody ended with a full stop go on with a comma instead."""
        *first, last = self.more or [""]
        return ", ".join([*(said.removesuffix(".") for said in first), last])

    @property
    def thumb(self):
        """(width, height) in px of its small picture."""
        return self.picture.shape("thumb")


def lines_of(entries):
    """A `Line` for each entry that is not itself a strike-out, in their order. Costs no query.

    `entries`: all of a batch's, or its newest, with `with_details()` and their plan lines.
    """
    struck = {entry.strike.target: entry for entry in entries if entry.kind == Entry.Kind.STRIKE}
    name_what_ended(entries)
    lines = [line_of(entry, struck.get(entry.pk)) for entry in entries if entry.kind != Entry.Kind.STRIKE]
    _name_what_was_asked(lines)
    return lines


def _name_what_was_asked(lines):
    """An answer names the line that it is about, and the one that a photo shows, where they are among these."""
    by_entry = {line.entry.pk: line.what for line in lines}
    for line in lines:
        if line.entry.kind == Entry.Kind.ANSWER:
            said = line.entry.answer
            line.what = answer_words(line.entry, by_entry.get(said.about_id, ""), by_entry.get(said.line_id, ""))


def line_of(entry, struck=None):
    line = TELLERS[entry.kind](entry)
    line.struck = struck
    if entry.words and entry.kind != Entry.Kind.WORDS:
        line.more.append(entry.words)
    if entry.time_from == TimeFrom.TOGETHER:
        line.more.append("confirmed together")
    elif entry.time_from == TimeFrom.PAPER:
        line.more.append("from paper")
        # Of a check and of a timer, what it comes of is another line of the log.
        line.page = entry.because_id if entry.kind not in (Entry.Kind.CHECK, Entry.Kind.TIMER) else None
    elif entry.time_from == TimeFrom.SAID:
        line.more.append("time said later")
    if added_late(entry):
        line.more.append("added after finish")
    line.more.append(entry.by.name)
    return line


def added_late(entry):
    """Whether it came after its pot was finished. That the skeins went on to the shelf always does, and is not late."""
    return entry.after_finish and not (entry.kind == Entry.Kind.MOVE and entry.move.where in AFTER_ALL)


def tell_addition(entry):
    said = entry.addition
    more = [said.get_how_display()] if said.how not in HOW_GOES_WITHOUT_SAYING else []
    more += [said.place] if said.place else []
    if said.taps:
        more.append(units.write_count(said.taps, "tap"))
    if said.by_measure and said.spread_g is None:
        more.append("weighed once only, so how far off it may be is not known")
    if said.amount is None and (shared := shared_g(said)):
        more.append(f"{amount_of(shared, 'g')} by the weigh-in")
    if as_typed(said):
        more.append(f"typed {as_typed(said)}")
    if said.plan_line_id and said.amount is not None and said.amount == said.plan_line.told:
        more.append("as planned, where it was an estimate" if said.estimated else "as planned")
    return Line(entry, f"{said.name}, {amount_said(said)}", more, addition_colour(said))


def amount_said(said):
    """How much it was, and how that is known: "2 × Bone spoon, about 0.4 g ± 0.04 g"; "2 × Bone spoon, not weighed"."""
    if said.measure_id is None:
        return f"{'about ' if said.estimated else ''}{strength_said(said)}"
    return f"{fillings_said(said)}, {measured_said(said)}"


def fillings_said(said):
    """ "2 × Bone spoon": a measure is called whatever the studio calls it, so it takes no s."""
    return f"{units.write_number(said.fillings)}{NO_BREAK_SPACE}× {said.measure}"


def measured_said(said):
    if said.amount is None:
        return "not weighed"
    return shelf_words.about_g(said.amount, said.spread_g, writing.current().system)


def powder_note(said):
    """Powder that went in, as a line of a notebook that `recipes.notebook_reading` reads.

    Weighed: "0.4 g Rust, dissolved"; by a measure or a weigh-in: "about 0.4 g Rust, sprinkled dry"; with no amount
    known: "Rust by eye".
    """
    grams = said.amount if said.amount is not None else shared_g(said)
    if grams is None:
        return f"{said.name} by eye"
    about = "" if said.amount is not None and not said.about else "about "
    how = f", {said.get_how_display()}" if said.how in (How.DISSOLVED, How.SPRINKLED) else ""
    return f"{about}{units.write_number(grams)} g {said.name}{how}"


def strength_said(said):
    """The amount, and from what strength where it came out of a bottle."""
    amount = amount_of(said.amount, said.unit)
    strength = said.strength_pct if said.amount is not None and said.lot_id and said.lot.solution_id else None
    return f"{amount} of {units.write_pct(strength)}" if strength and not says_strength(said.name, strength) else amount


def as_typed(said):
    """What was typed, where that is not simply the number kept: "1 1/2 metric tbsp", whose spoon is said."""
    if not said.typed or said.typed_unit in ("", said.unit):
        return ""
    if said.typed_unit not in units.UNITS:
        return said.typed
    number = UNIT_TYPED.sub("", said.typed) or said.typed
    return f"{number}{NO_BREAK_SPACE}{units.UNITS[said.typed_unit].label}"


def shared_g(said):
    """Grams that weigh-ins gave an addition that nobody measured; for a bottle, of what is dissolved in it."""
    shares = [part.amount for part in said.parts.all() if part.share_out_id]
    return sum(shares, Decimal(0)) if shares else None


def addition_colour(said):
    if said.lot_id and said.lot.dye_id:
        return said.lot.dye.colour
    parts = [part for part in said.parts.all() if part.lot.dye_id]
    return max(parts, key=lambda part: part.amount).lot.dye.colour if parts else ""


def tell_reading(entry):
    said, found = entry.reading, []
    if said.temperature_c is not None:
        found.append(units.write_c(said.temperature_c, writing.current().system))
    if said.ph is not None:
        found.append(f"pH{NO_BREAK_SPACE}{units.write_number(said.ph)}")
    if said.clear:
        found.append(
            {"clear": "the bath is clear", "nearly": "the bath is nearly clear", "not_yet": "not clear yet"}[said.clear]
        )
    said_first = ", ".join(found)
    return Line(entry, said_first if said_first.startswith("pH") else capital(said_first))


def tell_move(entry):
    said = entry.move
    if said.what == Move.What.WHERE:
        return Line(entry, f"The yarn {WAITS.get(said.where) or f'is now {PLACES[said.where]}'}")
    more = []
    if said.skeins is not None:
        more.append(units.write_count(said.skeins, "skein"))
    if said.grams is not None:
        more.append(amount_of(said.grams, "g"))
    if said.volume_ml is not None:
        more.append(amount_of(said.volume_ml, "mL"))
    return Line(entry, ", ".join([said.get_what_display(), *more, *where_it_went(entry)]))


def where_it_went(entry):
    """Of which yarn a move was, from or to which pot, and which bottle keeps it."""
    said, other = entry.move, entry.move.other_batch
    if said.yarn is not None:
        yield said.yarn.name
    if other is not None:
        run = "" if other.run_id == entry.batch.run_id else f"{other.run.code} "
        yield f"{'from' if said.what in (Move.What.YARN_IN, Move.What.LIQUOR_IN) else 'to'} {run}{other.pot_name}"
    if said.kept is not None:
        yield f"kept as {said.kept.solution}"


def tell_step(entry):
    said, more = entry.step, []
    planned = entry.plan_line
    words = planned.words if planned else f"{said.called} as usual" if said.called else ""
    # What the plan's own words say already is not said twice.
    if said.temperature_c is not None and not (planned and words and said.temperature_c == planned.temperature_c):
        more.append(units.write_c(said.temperature_c, writing.current().system))
    if said.minutes is not None and not (planned and words and said.minutes == planned.minutes):
        more.append(minutes(said.minutes))
    return Line(entry, ", ".join([words or STEPS.get(said.kind, capital(said.kind)), *more]))


def tell_photo(entry):
    stage = entry.photo.get_stage_display()
    return Line(entry, f"Photo, {stage[:1].lower()}{stage[1:]}", picture=entry.photo.picture)


def tell_check(entry):
    said = entry.check_made
    found = [said.get_result_display()] if said.result else []
    if said.rinses is not None:
        found.append(f"at rinse {said.rinses}")
    if said.change_grade is not None:
        found.append(f"change {units.write_number(said.change_grade)}")
    if said.stain_grade is not None:
        found.append(f"staining {units.write_number(said.stain_grade)}")
    what = Check.What(said.what).label
    return Line(entry, f"{what}: {', '.join(found)}" if found else what, [said.standard] if said.standard else [])


def tell_work(entry):
    return Line(entry, f"Work, {minutes(entry.work.minutes)}")


def tell_words(entry):
    if entry.plan_line_id:
        return Line(entry, f"{SKIPPED}: {entry.plan_line}", [entry.words] if entry.words != SKIPPED else [])
    return Line(entry, entry.words)


def tell_weighed(entry):
    line, amount = entry.plan_line, entry.weighed.amount
    if amount == line.told:
        return Line(entry, f"Weighed ahead: {line}")
    told = [f"told {amount_of(line.told, line.unit)}"] if line.told is not None else []
    return Line(entry, f"Weighed ahead: {precise(amount, line.unit)} {line.name}", told)


def tell_finish(entry):
    return Line(entry, "Finished")


# How a timer reads while it runs, and what is said when it has ended.
TIMERS = {
    Timer.What.SOAK: ("Soak", "The soak"),
    Timer.What.HOLD: ("Hold", "The hold"),
    Timer.What.COOL: ("Cooling", "The cooling"),
    Timer.What.SUN: ("In the sun", "The time in the sun"),
    Timer.What.LOOK: ("Look again", "Looking again"),
    Timer.What.OTHER: ("Timer", "The timer"),
}
ENDED = {
    TimerEnded.Outcome.DONE: "is over",
    TimerEnded.Outcome.STOPPED: "was stopped",
    TimerEnded.Outcome.LONGER: "was given more time",
}


def tell_timer(entry):
    said, planned = entry.timer, entry.plan_line
    name = TIMERS[said.what][0]
    if planned and said.what == Timer.What.OTHER:
        name = STEPS.get(planned.step, name)
    return Line(entry, f"{name}, {minutes(said.minutes)}: until {until(said.due_at, entry.at)}")


def name_what_ended(entries):
    """Tell the ends of timers which timer they name, as far as it is among these entries."""
    timers = {}
    for entry in entries:
        if entry.kind == Entry.Kind.TIMER:
            timers[entry.pk] = timers[entry.together, entry.batch_id] = entry.timer
    for entry in entries:
        if entry.kind == Entry.Kind.ENDED:
            target = entry.timer_ended.target
            entry.timer_ended.timer = timers.get(target) or timers.get((target, entry.batch_id))


def tell_timer_ended(entry):
    said = entry.timer_ended
    timer = getattr(said, "timer", None)
    name = TIMERS[timer.what if timer else Timer.What.OTHER][1]
    return Line(entry, f"{name} {ENDED[said.outcome]}")


def tell_skein(entry):
    number = entry.skein_done.number
    return Line(entry, f"Skein {number} done" if number else "Skein done")


def tell_talk(entry):
    sound = entry.talk.sound
    return Line(entry, f"Spoken note, {play_time(sound.seconds)}", sound=sound)


def tell_answer(entry):
    return Line(entry, answer_words(entry))


def answer_words(entry, about="", shown=""):
    """An answer of the evening in a sentence. `about`, `shown`: what the lines say that it names, where known."""
    said = entry.answer
    at = writing.clock(said.about.at) if said.about_id else ""
    if said.question == "line":
        return f"Nobody knows whether {entry.plan_line} went in"
    if said.question == "photo" and said.known:
        line = f": {shown or 'the line'} of {writing.clock(said.line.at)}" if said.line_id else ""
        return f"What the photo of {at} shows{line}"
    about = f"{about} ({at})" if about else f"the line of {at}"
    return {
        "photo": f"Nobody knows what the photo of {at} shows",
        "amount": f"Nobody knows how much it was: {about}",
        "end": f"Nobody knows when it was over: {about}",
        "long": f"Nobody knows how long it took: {about}",
        "where": f"Nobody knows where the yarn went after {at}",
    }[said.question]


TELLERS = {
    Entry.Kind.ADDITION: tell_addition,
    Entry.Kind.READING: tell_reading,
    Entry.Kind.MOVE: tell_move,
    Entry.Kind.STEP: tell_step,
    Entry.Kind.PHOTO: tell_photo,
    Entry.Kind.CHECK: tell_check,
    Entry.Kind.WORK: tell_work,
    Entry.Kind.FINISH: tell_finish,
    Entry.Kind.WORDS: tell_words,
    Entry.Kind.WEIGHED: tell_weighed,
    Entry.Kind.TIMER: tell_timer,
    Entry.Kind.ENDED: tell_timer_ended,
    Entry.Kind.SKEIN: tell_skein,
    Entry.Kind.TALK: tell_talk,
    Entry.Kind.ANSWER: tell_answer,
}

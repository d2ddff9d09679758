"""A notebook's text becomes rows, line by line.

Plain text in, frozen rows out. What cannot be read is never guessed: it comes back as a `NoteProblem` whose sentence
says which line, what about it, and how to write it.
"""

import re
from dataclasses import replace
from decimal import Decimal

from studio import units

from .notebook import NoteFor, NoteLine, NoteProblem, NoteStep, Unreadable, quoted

MOST_LINES = 120
LONGEST_LINE = 300
LONGEST_PLACE = 120
COLDEST_C, HOTTEST_C = -20, 200
SHORTEST_MINUTES, LONGEST_MINUTES = Decimal("0.1"), 60 * 24 * 60

NUMBER = (
    r"(?:[0-9]+ [0-9]+ ?/ ?[0-9]+|[0-9]+ ?/ ?[0-9]+|[0-9]{1,3}(?: [0-9]{3})+(?:[.,][0-9]+)?"
    r"|[0-9][0-9.,'’]*[0-9]|[0-9]|[.,][0-9]+)"
)
SINGLE = r"(?:[0-9]+/[0-9]+|[0-9][0-9.,'’]*[0-9]|[0-9]|[.,][0-9]+)"
ABOUT = re.compile(r"(?:about|approx(?:imately|\.)?|roughly|circa|ca\.?|~|≈)\s*(?=[0-9.,-])", re.I)
BULLET = re.compile(r"[•*·–—-]\s+|[0-9]{1,2}[.)]\s+")
LEADING_VERB = re.compile(
    r"(?:then\s+|and\s+)?(add|pour(?: in)?|put in|stir in|sprinkle(?: on)?|paint(?: on)?|dissolve|dip(?: in)?)\s+",
    re.I,
)
HOW_OF_VERB = {"sprinkle": "sprinkled", "paint": "painted", "dissolve": "dissolved", "dip": "dipped"}
AMOUNT_INSIDE = re.compile(
    rf"{NUMBER}\s*(?:%|(?:k|m)?g|ml|l|lit(?:re|er)s?|oz|lbs?|(?:tea|table)spoons?|tbsp|tsp|cups?|grams?)(?!\w)", re.I
)
NEXT_AMOUNT = re.compile(rf"[,;]\s+(?=(?:about |~ ?|ca\.? ?)?{NUMBER}\s*(?:%|[^\W\d]))", re.I)
BY_EYE = re.compile(r"\b(?:by eye|to taste|as needed|unweighed|not weighed|to cover)\b", re.I)
EYE_FIRST = re.compile(r"(?:a pinch of|a little|some|a dash of)\s+", re.I)
STRENGTH = re.compile(rf"(?:\bat )?(?<![0-9.,'’/])({SINGLE})\s*%", re.I)
DEGREES = r"(?:°|deg(?:rees?)?)\s*[CF]|℃|℉|celsius|fahrenheit"
NOT_A_RATE = r"(?![\w/])(?!\s*(?:a|per)\s+min)"
TEMPERATURE = re.compile(rf"(?:\b(?:at|to|until|of)\s+)?(-?{SINGLE})\s*({DEGREES}|[CF]){NOT_A_RATE}", re.I)
# A dye may be called "Yellow 3F": in its line a bare letter means degrees only after "at" or "to".
TEMPERATURE_OF_LINE = re.compile(
    rf"(?:\b(?:at|to|until)\s+(-?{SINGLE})\s*({DEGREES}|[CF])|(-?{SINGLE})\s*({DEGREES})){NOT_A_RATE}", re.I
)
MINUTE, HOUR = r"min(?:ute)?s?(?!\w)\.?", r"(?:h|hrs?|hours?)(?!\w)\.?"
DURATION = re.compile(
    rf"(?:\bfor\s+)?(?:(?P<h>{NUMBER})\s*{HOUR}(?:\s+(?:and\s+)?(?P<m>{NUMBER})\s*{MINUTE})?|(?P<only>{NUMBER})\s*{MINUTE})",
    re.I,
)
BARE_DEGREES = re.compile(rf"\b(?:at|to)\s+({SINGLE})\s*(?:°|deg(?:rees?)?)?\s*(?:$|[,.;])", re.I)
RATIO = re.compile(rf"({SINGLE})\s*:\s*({SINGLE})")

EACH = r"(?:/\s*|\b(?:(?:for|to|in|on)\s+)?(?:per|each|every|a)\s+)"
BASES = (
    ("per_l", re.compile(rf"{EACH}(?:l|lit(?:re|er)s?)\b(?:\s+of\s+(?:bath|water))?", re.I)),
    ("per_skein", re.compile(rf"{EACH}(?:skein|hank)s?\b", re.I)),
    ("per_pot", re.compile(rf"{EACH}(?:pot|jar|pan|tray)s?\b", re.I)),
    ("fixed", re.compile(r"\b(?:for all|in all|in total|altogether|whatever the weight)\b", re.I)),
    ("owf", re.compile(r"\b(?:o\.?[wm]\.?f|w\.?o\.?[fg])\b\.?|\bof (?:the )?(?:fib(?:re|er)|yarn|weight)\b", re.I)),
)
HOWS = (
    ("sprinkled", re.compile(r"\bsprinkled(?: on)?(?: dry)?\b", re.I)),
    ("dissolved", re.compile(r"\bdissolved\b", re.I)),
    ("painted", re.compile(r"\bpainted(?: on)?\b", re.I)),
    ("dipped", re.compile(r"\bdipped\b", re.I)),
    ("bottle", re.compile(r"\bfrom (?:the |a |its )?bottle\b", re.I)),
)
STEP_VERBS = {
    "soak": "soak presoak pre-soak wet",
    "scour": "scour",
    "mordant": "mordant",
    "strip": "strip",
    "heat": "heat warm bring raise boil",
    "hold": "hold keep simmer steam bake leave",
    "cool": "cool chill",
    "rinse": "rinse",
    "wash": "wash",
    "dry": "dry hang spin",
    "other": "do: stir lift turn wait squeeze press wring wrap lay cover take tie twist fold repeat check move",
}
KIND_OF_VERB = {verb: kind for kind, verbs in STEP_VERBS.items() for verb in verbs.split()}
COOLING = re.compile(r"(?:let|leave)\b.*\bcool\b", re.I)
NEXT_STEP = re.compile(
    r"(?:[,;]\s+(?:then\s+|and\s+)?|\s+(?:and|then)\s+)"
    r"(?=(?:hold|keep|simmer|cool|let cool|rinse|wash|dry|hang|spin)\b)",
    re.I,
)
HEADED = re.compile(
    r"(?P<head>[^:]*\b(?:bath|soak|mordant|scour|strip|rinse|wash|pot|stage)\b[^:0-9]*|[^:]*\bmin\b[^:]*):\s+(?P<rest>\S.*)",
    re.I,
)
FOR = re.compile(r"for\s+(?=(?:about\s+)?[0-9])(?P<what>[^:]*?)(?:\s*:\s*(?P<rest>.*)|\s*)$", re.I)
HOW_TO = "write an amount first, such as 40 mL red 1 %, or begin with what is done, such as Soak, Heat or Rinse"


def read_lines(text, spoons="metric"):
    """What a notebook says: `NoteLine`, `NoteStep`, `NoteFor` and, for what cannot be read, `NoteProblem`, in order.

    `spoons`: "metric" or "us", which spoons and cups the studio means. Never raises for what somebody typed.
    """
    lines = text.splitlines()
    if len(lines) > MOST_LINES:
        why = f"This has {len(lines)} lines, and a recipe takes {MOST_LINES}: leave out what is not needed at the pot."
        return [NoteProblem(0, "", why)]
    found, inside = [], False
    for number, line in enumerate(lines, 1):
        typed = " ".join(line.split())
        if not typed:
            inside = False
            continue
        rows = _read(number, typed, spoons)
        if any(isinstance(row, NoteStep) for row in rows):
            inside = False
        for row in rows:
            if isinstance(row, NoteLine):
                row = replace(row, inside=inside)
            elif isinstance(row, NoteStep):
                inside = row.heading
            found.append(row)
    return found


def _read(number, typed, spoons):
    """The rows of one line; several where it holds several."""
    if len(typed) > LONGEST_LINE:
        return [NoteProblem(number, typed, f"this is longer than {LONGEST_LINE} characters: break it into two lines.")]
    line = BULLET.sub("", typed, count=1) if BULLET.match(typed) else typed
    try:
        if said := FOR.fullmatch(line):
            head = _what_for(number, line[: said.start("rest")] if said["rest"] else line, said["what"])
            return [head, *(_read(number, said["rest"], spoons) if said["rest"] else [])]
        if (headed := HEADED.fullmatch(line)) and not _starts_with_number(headed["head"]):
            return [_step(number, headed["head"] + ":"), *_ingredients(number, headed["rest"], spoons)]
        if _is_step(line):
            return [_step(number, part) for part in NEXT_STEP.split(line)]
        return _ingredients(number, line, spoons)
    except ValueError as why:
        return [NoteProblem(number, typed, _sentence(why))]


def _sentence(why):
    """How a refusal goes on after the line it is about."""
    text = str(why)
    return text if text.endswith((".", "?")) else f"{text}."


def _starts_with_number(text):
    return bool(re.match(rf"\s*-?{NUMBER}", _without_vulgar(text)))


def _is_step(line):
    if (verb := LEADING_VERB.match(line)) and _starts_with_number(line[verb.end() :]):
        return False
    if line.endswith(":") and not _starts_with_number(line):
        return True
    if BY_EYE.search(line):
        return False
    return _kind(line) is not None


def _kind(line):
    """The kind of step that a line begins with, or None."""
    line = re.sub(r"^(?:then|and|gently|slowly)\s+", "", line, flags=re.I)
    if COOLING.match(line):
        return "cool"
    first = re.match(r"[^\W\d]+(?:-[^\W\d]+)?:?", line)
    word = first.group().casefold() if first else ""
    return KIND_OF_VERB.get(word) or KIND_OF_VERB.get(word.rstrip(":"))


def _step(number, words):
    heading = words.endswith(":")
    plain = _without_vulgar(words)
    temperature, rest = _temperature(plain)
    minutes, rest = _minutes(rest)
    kind = _kind(words) or "add"
    if kind == "add" and not heading:
        raise Unreadable(f"{HOW_TO}.")
    if not words.casefold().startswith("do:") and (amount := AMOUNT_INSIDE.search(rest)):
        raise Unreadable(f"{amount[0]} would be lost in here: give what goes in a line of its own.")
    if temperature is None and kind != "other" and (bare := BARE_DEGREES.search(rest)):
        degrees = bare[1]
        raise Unreadable(f"{degrees} of which degrees? Write {degrees} °C or {degrees} °F.")
    return NoteStep(number, words, kind, temperature, minutes, heading)


def _what_for(number, typed, what):
    """ "6 skeins of 100 g in 2 pots" """
    skeins, rest = _count(what, r"(?:skein|hank)s?")
    pots, rest = _count(rest, r"(?:pot|jar|pan)s?")
    grams = None
    if weight := re.search(rf"(?P<each>\bof\s+)?({NUMBER})\s*([^\W\d]+)(?P<of>\s+of\b)?", rest):
        amount = units.read_amount(f"{weight[2]} {weight[3]}", "g", units.MASS)
        grams = units.normalise(amount).number
        grams = grams * skeins if weight["each"] and skeins else grams
        rest = rest[: weight.start()] + rest[weight.end() :]
    left = re.sub(r"\b(?:in|of|and|each|fib(?:re|er)|yarn|about)\b|,", " ", rest, flags=re.I).split()
    if left or grams == 0 or (skeins, pots, grams) == (None, None, None):
        raise Unreadable("write what the amounts are for as in: for 6 skeins of 100 g in 2 pots:")
    return NoteFor(number, typed.rstrip(), skeins, grams, pots)


def _count(text, noun):
    found = re.search(rf"\b([0-9]+)\s+{noun}\b", text, re.I)
    if not found:
        return None, text
    count = int(found[1])
    if not 0 < count <= 10_000:
        raise Unreadable(f"{found[1]} can't be right: write a number from 1 to 10 000.")
    return count, text[: found.start()] + text[found.end() :]


def _ingredients(number, line, spoons):
    rows = []
    for part in NEXT_AMOUNT.split(line):
        try:
            rows.append(_ingredient(number, part.strip(" ;"), spoons))
        except ValueError as why:
            rows.append(NoteProblem(number, part, _sentence(why)))
    return rows


def _ingredient(number, typed, spoons):
    facts, rest = {}, _without_vulgar(typed)
    if verb := LEADING_VERB.match(rest):
        rest = rest[verb.end() :]
        facts["how"] = HOW_OF_VERB.get(verb[1].split()[0].casefold(), "")
    if about := ABOUT.match(rest):
        rest, facts["estimated"] = rest[about.end() :], True
    rest, *segments = re.split(r"[,;]\s+", rest)
    water = re.match(r"water\b[\s:]*", rest, re.I)
    if water:
        rest = f"{rest[water.end() :]} water"
    if RATIO.match(rest):
        facts |= _ratio(RATIO.match(rest))
        rest = rest[RATIO.match(rest).end() :]
    elif re.match(r"-?" + NUMBER, rest):
        found, rest = _amount(rest, spoons)
        facts |= found
    else:
        rest = _by_eye(rest)
    found, rest = _modifiers(rest, facts)
    places = []
    for segment in segments:
        more, left = _modifiers(segment, found)
        if left.strip(" ."):
            places.append(segment.strip())
        else:
            found = more
    name = re.sub(r"^(?:of|the)\s+", "", " ".join(rest.split()).strip(" .,;:"), flags=re.I)
    return _checked(NoteLine(number, typed, name, place=", ".join(places), water=name.casefold() == "water", **found))


def _amount(rest, spoons):
    """({amount, unit, measure, basis}, what comes after) of text that starts with a number."""
    digits = re.match(r"-?" + NUMBER, rest).group()
    value = _read_number(digits)
    after = rest[len(digits) :].lstrip()
    if after.startswith("%"):
        return {"amount": value, "unit": "%", "basis": "owf"}, after[1:]
    key, after = _unit(digits, after, spoons)
    kept = units.normalise(units.Amount(value, key))
    return {"amount": kept.number, "unit": units.UNITS[kept.unit].label, "measure": key}, after


def _unit(digits, after, spoons):
    words = re.match(r"([^\s\d/%,;]+)(?:\s+([^\s\d/%,;]+))?", after)
    if not words:
        raise Unreadable(f"{digits} of what? Write the unit and the name, such as {digits} mL red 1 %.")
    for typed in filter(None, (f"{words[1]} {words[2]}" if words[2] else None, words[1])):
        try:
            key = units.read_amount(f"1 {typed}", "g", units.MASS + units.VOLUME, spoons).unit
        except ValueError:
            continue
        return key, after[words.end(2) if typed != words[1] else words.end(1) :]
    if words[1].startswith(("°", "℃", "℉")) or words[1].casefold() in ("min", "minutes", "degrees"):
        raise Unreadable("begin with what is done, such as Heat to 85 °C or Hold 40 min at 85 °C.")
    raise Unreadable(f"{quoted(words[1])} is not a unit to use here: write g, mL, L, oz, tsp, tbsp, cup or %.")


def _ratio(found):
    left, right = _read_number(found[1]), _read_number(found[2])
    if 1 not in (left, right) or 0 in (left, right):
        raise Unreadable("write the water as so many parts to 1 of yarn, such as water 20:1.")
    return {"amount": right if left == 1 else left, "unit": ":1", "basis": "ratio"}


def _by_eye(rest):
    if found := BY_EYE.search(rest):
        rest = rest[: found.start()] + rest[found.end() :]
        said_twice = EYE_FIRST.match(rest)
        return rest[said_twice.end() :] if said_twice else rest
    if found := EYE_FIRST.match(rest):
        return rest[found.end() :]
    raise Unreadable(f"{HOW_TO}; for an amount nobody weighed write red by eye, and for anything else begin with Do:")


def _modifiers(rest, facts):
    """What else an ingredient's words say: basis, how, temperature, time, strength. (facts, words that are left)."""
    facts = dict(facts)
    for basis, pattern in BASES:
        if found := pattern.search(rest):
            if facts.get("basis", "") not in ("", basis) and (facts["basis"], basis) != ("ratio", "owf"):
                raise Unreadable(_two_bases(facts["basis"], basis))
            facts["basis"], rest = basis, _cut(rest, found)
    for how, pattern in HOWS:
        if found := pattern.search(rest):
            if facts.get("how") not in (None, "", how):
                raise Unreadable(f"it can't be {facts['how']} and {how} at once: make two lines of it.")
            facts["how"], rest = how, _cut(rest, found)
    temperature, rest = _temperature(rest, TEMPERATURE_OF_LINE)
    minutes, rest = _minutes(rest)
    facts |= {key: value for key, value in (("temperature_c", temperature), ("minutes", minutes)) if value is not None}
    if found := STRENGTH.search(rest):
        rest = _cut(rest, found)
        if "strength_pct" in facts or STRENGTH.search(rest):
            raise Unreadable("it names two strengths: write one, such as 40 mL red 1 %.")
        facts["strength_pct"] = _read_number(found[1])
    return facts, rest


def _two_bases(first, second):
    said = {"owf": "% of the yarn's weight", "per_l": "each litre", "per_skein": "each skein", "per_pot": "each pot"}
    names = [said.get(basis, "all of it") for basis in (first, second)]
    return f"it is said both for {names[0]} and for {names[1]}: keep one of the two."


def _cut(text, found):
    return f"{text[: found.start()]} {text[found.end() :]}"


def _temperature(text, pattern=TEMPERATURE):
    found = pattern.search(text)
    if not found:
        return None, text
    digits, unit = [group for group in found.groups() if group is not None]
    sign = -1 if digits.startswith("-") else 1
    fahrenheit = re.search(r"℉|f(?:ahrenheit)?$", unit, re.I)
    celsius = units.to_c(sign * _read_number(digits.lstrip("-")), "degF" if fahrenheit else "degC")
    if not COLDEST_C <= celsius <= HOTTEST_C:
        raise Unreadable(f"{found[0].strip()} can't be right: write a temperature of {COLDEST_C} to {HOTTEST_C} °C.")
    return celsius, _cut(text, found)


def _minutes(text):
    found = DURATION.search(text)
    if not found:
        return None, text
    hours, minutes = (_read_number(part) if part else 0 for part in (found["h"], found["m"] or found["only"]))
    total = hours * 60 + minutes
    if not SHORTEST_MINUTES <= total <= LONGEST_MINUTES:
        raise Unreadable("that time can't be right: write minutes or hours above 0, such as 40 min.")
    return Decimal(total), _cut(text, found)


def _checked(line):
    """The line, or why it makes no sense whatever is on the shelf."""
    if not line.name:
        raise Unreadable("what is it? Write the name after the amount, such as 40 mL red 1 %.")
    if line.amount is not None and BY_EYE.search(line.name):
        raise Unreadable("it has an amount and is by eye as well: keep one of the two.")
    if line.amount is not None and line.amount == 0:
        raise Unreadable("an amount of 0 is nothing: write more than 0, or leave the line out.")
    if line.strength_pct is not None and not 0 < line.strength_pct <= 100:
        raise Unreadable("a strength is above 0 and at most 100 %: write the grams in 100 mL, such as 1 %.")
    if line.unit == "%" and line.basis != "owf":
        raise Unreadable("a % is always of the yarn's weight: leave out what else it is for.")
    if line.unit != "%" and line.basis == "owf":
        raise Unreadable("write it as % of the yarn's weight, such as 0.4 % red, or leave out that word.")
    if line.unit == ":1" and not line.water:
        raise Unreadable("only water is written as so many parts to 1, such as water 20:1.")
    if line.water and (line.strength_pct or line.unit == "%" or line.unit == "g"):
        raise Unreadable("write water as 6 L water, water 20:1 or water by eye.")
    if len(line.place) > LONGEST_PLACE:
        raise Unreadable(f"the place after the comma is longer than {LONGEST_PLACE} characters: shorten it.")
    return line


def _read_number(digits):
    try:
        return units.read_number(digits)
    except ValueError as why:
        raise Unreadable(str(why)) from None


def _without_vulgar(text):
    for sign, fraction in units.VULGAR.items():
        text = text.replace(sign, f" {fraction} ")
    return " ".join(text.replace("\u2044", "/").replace("\u2212", "-").split())

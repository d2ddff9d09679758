"""The cautions that stand wherever a page handles powder, acid, heat, jars, a mordant or what is left over.

Sources: HSE (UK), "Dyes and dyeing"; EU CLP Regulation (EC) 1272/2008 for the hazards of powders, acids, alkalis and
metal salts; NIOSH 42 CFR 84 and EN 149 / EN 143 for respirators; US FDA on superheated water. None of this replaces
the safety data sheet.
"""

from typing import NamedTuple

DEFERS = "The safety data sheet, local rules and licensed professionals come first."


class Caution(NamedTuple):
    title: str
    words: str


CAUTIONS = {
    "powder": Caution(
        "Dry powder is a hazard to the lungs.",
        "Wear a particulate respirator that fits, gloves and eye protection. Work on a damp surface out of "
        "any draught, paste the powder with water first, and wipe up wet. No tool that touched dye goes back "
        "to food.",
    ),
    "acid": Caution(
        "Acid goes into water, never water into acid.",
        "Wear gloves and eye protection with strong acids and with dry citric acid; rinse splashes off "
        "at once with plenty of water. Keep acid away from bleach: together they give off a poisonous gas.",
    ),
    "alkali": Caution(
        "Soda ash and other alkalis hurt the eyes.",
        "Wear gloves and eye protection, stir it into water a little at a time, and rinse splashes off at once with "
        "plenty of water.",
    ),
    "mordant": Caution(
        "A mordant is a metal salt, and some are poisonous.",
        "Wear gloves and eye protection, and a respirator while it is dry. Use no more than the yarn needs, keep its "
        "pots and spoons apart from food, and keep children away from it.",
    ),
    "heat": Caution(
        "Hot liquor and steam scald.",
        "Lift yarn with tools, open lids away from your face, and let the bath cool before it is moved or "
        "tipped. Keep the room aired. Pots used for dye never go back to food.",
    ),
    "jars": Caution(
        "A sealed jar in heat can burst.",
        "Leave every lid loose while jars are hot, and fill none to the brim: liquid and air swell. Use "
        "jars made for heat, on a rack, and warm and cool them slowly.",
    ),
    "microwave": Caution(
        "Liquid from a microwave can boil over when it is touched.",
        "Cover loosely with a vent, heat in short bursts, and let it stand before you move or stir it. Use "
        "gloves for heat, and a microwave that is never used for food.",
    ),
    "disposal": Caution(
        "That a bath looks clear does not make it safe to pour.",
        "Let it cool, then follow the data sheet and local rules for what may go down a drain. A septic tank, a "
        "mordant and a metal-complex dye need extra thought. Powder never goes down a sink.",
    ),
}
WITH_ASSISTANT = ("acid", "alkali", "mordant")


def of_substance(thing):
    """The cautions for handling a dye or an assistant as it comes: keys of `CAUTIONS`."""
    kind = getattr(thing, "kind", None)
    if kind is None:
        return ["powder"]
    return [kind] if kind in WITH_ASSISTANT else []

"""The first quarter of the demo studio's year: first recipes, a cone from the attic, a pot left alone."""

from . import colourways
from .days import yard
from .teller import unlabelled
from .telling import out


def tell(studio):
    """Runs that later chapters come back to, by name."""
    write_the_first_recipes(studio)
    ferry_at_six(studio)
    first = kiln_door_goes_to_mud(studio)
    cone_from_the_attic(studio)
    green_for_the_market(studio)
    second_frost_on_two_bases(studio)
    copper_pan(studio)
    night_bus(studio)
    button_tin(studio)
    return {"kiln door": first}


def write_the_first_recipes(studio):
    """What the notebook had already."""
    now, oda = studio.days.at(studio.days.day(52, "fri"), "15:00"), studio.who("Oda")
    colourways.write_down("Ferry at Six", colourways.FERRY, by=oda, now=now)
    colourways.write_down("Kiln Door", colourways.KILN_DOOR, by=oda, now=now)


def ferry_at_six(studio):
    """By the recipe, one pot, no surprises."""
    run = studio.planned(studio.days.day(51, "tue"), "Ferry at Six", [("Wend DK", 4)], ["Enamel pot"])
    run.start("9:05").say(yard(run.day))
    run.follow()
    run.at("11:50").read(ph="4.6", clear="clear")
    run.check("rinse", rinses=1)
    run.work(65)
    run.on(2, "11:00").check("cloth", "none", by="Pia")
    run.photo("ferry-at-six", words="Four alike, this one by the window")
    run.at("11:20").finish([out("first", 4)], verdict="standard", snippet="Ring binder, page 1")
    run.at("11:40").cost().at("12:00").tag()


def kiln_door_goes_to_mud(studio):
    """The first version: brick before ochre, and the join ran brown."""
    run = studio.planned(studio.days.day(50, "thu"), "Kiln Door", [("Tessel 4-ply", 6)], ["Enamel pot"])
    run.start("9:10").follow(other={"Ochre": 190})
    run.at("12:05").read(c=84, ph="4.2", clear="nearly")
    run.say("The brick ran under the ochre before it had struck. Brown where they meet.")
    run.on(1, "9:20").read(clear="clear")
    run.check("rinse", rinses=3)
    run.work(80)
    run.on(2, "10:40").check("cloth", "none")
    run.photo("kiln-door-first", words="The muddy join, seen from the back")
    run.at("11:00").finish(
        [out("first", 4), out("second", 2)],
        verdict="sell",
        next_time="Ochre first, rust over the join while the ochre is still wet, brick last.",
        snippet="Ring binder, page 2",
    )
    run.at("11:30").cost().at("11:45").tag()
    return run


def cone_from_the_attic(studio):
    """Nobody knows what it is. It took the dye, and was sold as what it looks like."""
    cone = unlabelled("Grey cone from the attic, no label; burns like wool")
    run = studio.bare(studio.days.day(48, "tue"), cone, 3, vessel="Enamel pot", title="Attic Brown")
    run.photo("attic-cone", "before", words="The cone before winding: three hanks of it went in")
    run.start("9:30").say("Wound off three hanks by eye. Smells of sheep and old oil, so it gets a wash first.")
    run.add("Wetting agent", 10)
    run.step("scour", 50, 40, words="Twice, until the water stayed clean.")
    run.at("11:10").add("Bark 1 %", 180)
    run.at("11:14").add("Soot 1 %", 25, place="one end")
    run.at("11:20").add("Citric acid", 9)
    run.step("hold", 85, 40)
    run.at("12:15").read(c=85, clear="clear")
    run.work(75)
    run.on(3, "10:00").check("cloth", "none", by="Pia")
    run.photo("attic-cone-dyed", words="Uneven where the oil was")
    run.at("10:20").finish(
        [out("second", 3, skein_g=118)],
        verdict="sell",
        next_time="Scour a third time. Ask the neighbour where the cone came from.",
    )
    run.at("10:30").now_at("stored", "In the odds basket by the door. No tag: nobody can say what it is made of.")


def green_for_the_market(studio):
    """Left alone on the gas: it boiled, and felted. Wim had only a slip of paper, and copied it the next morning."""
    run = studio.bare(
        studio.days.day(46, "fri"), "Harl Single", 3, vessel="Enamel pot", title="Green for the market", by="Wim"
    )
    run.start("13:25")
    with run.from_paper("market-green-notes", "The phone was flat", copied=(1, "8:50")):
        run.at("13:30").step("soak", 30, 20)
        run.at("13:55").add("Hedge 1 %", 240)
        run.at("14:00").add("Bark 1 %", 90)
        run.at("14:05").add("Vinegar", 150)
        run.at("14:10").step("heat", 85)
        run.at("15:05").read(c=99, words="A rolling boil: back from the telephone.")
        run.at("15:10").step("cool", words="Gas off, lid off. Touched nothing.")
    run.after(5).read(clear="not_yet", words="Still green in there this morning.")
    run.work(40)
    run.on(2, "9:15").say("Two are felted into ropes. One will open if you pull.", by="Oda")
    run.photo("market-green", words="Two ropes and one that opens", by="Oda")
    run.at("9:30").finish(
        [out("lost", 2), out("second", 1, name="Boiled Green")],
        by="Oda",
        verdict="never",
        next_time="A single ply is never left alone on the gas. And the green was wrong before it boiled.",
    )
    run.at("9:40").cost().at("9:50").tag("label")


def second_frost_on_two_bases(studio):
    """A smooth yarn and a hairy one in one pot, at hardly any depth: from bottles made weaker for it."""
    day = studio.days.day(45, "tue")
    morning = studio.days.at(day, "8:00")
    studio.pour("Slate 1 %", 100, morning)
    studio.pour("Damson 1 %", 100, morning)
    studio.make_up("Slate 0.1 %", studio.days.at(day, "8:25"), parts={"Slate 1 %": 50})
    studio.make_up("Damson 0.1 %", studio.days.at(day, "8:30"), parts={"Damson 1 %": 50})
    colourways.write_down(
        "Second Frost", colourways.SECOND_FROST, by=studio.who("Oda"), now=studio.days.at(day, "8:35")
    )
    run = studio.planned(day, "Second Frost", [("Tessel 4-ply", 2), ("Pell Lace", 2)], ["Enamel pot"])
    run.start("9:00").follow()
    run.at("11:20").read(c=78, ph="4.9", clear="clear", by="Pia")
    run.say("The mohair drank first, as always. The 4-ply stayed a shade behind.")
    run.work(55)
    run.on(2, "11:30").check("cloth", "none")
    run.photo("second-frost", words="4-ply on the left, lace on the right, from one pot")
    run.at("11:45").finish(
        [out("first", 2), out("first", 2, yarn=1)],
        verdict="standard",
        next_time="Lace in ten minutes after the 4-ply, and they will match.",
        snippet="Ring binder, page 3",
    )
    run.at("12:00").cost().at("12:15").tag()


def copper_pan(studio):
    """Little water, so that the colours stay where they are poured."""
    day = studio.days.day(43, "thu")
    colourways.write_down("Copper Pan", colourways.COPPER_PAN, by=studio.who("Wim"), now=studio.days.at(day, "9:00"))
    run = studio.planned(day, "Copper Pan", [("Wend DK", 2)], ["Steel pan"], clock="9:10", by="Wim")
    run.start("9:20").follow(steps=6)
    run.photo("copper-pan-wet", "wet", "Ten minutes in, nobody has stirred")
    run.follow()
    run.at("11:20").read(c=86, clear="clear")
    run.work(45)
    run.on(2, "10:00").check("cloth", "none")
    run.photo("copper-pan", words="Pooled at the folds, bare in between")
    run.at("10:15").finish([out("first", 2)], verdict="standard", snippet="Wim's tin, blue card")
    run.at("10:30").cost().at("10:40").tag()


def night_bus(studio):
    """Deep, and honest about it: a trace on the cloth."""
    day = studio.days.day(41, "wed")
    colourways.write_down("Night Bus", colourways.NIGHT_BUS, by=studio.who("Oda"), now=studio.days.at(day, "8:30"))
    run = studio.planned(day, "Night Bus", [("Tessel 4-ply", 4)], ["Enamel pot"])
    run.start("9:00").say(yard(run.day))
    run.follow(other={"Soot": 170})
    run.at("12:30").read(c=70, ph="3.9", clear="nearly")
    run.on(1, "9:10").read(clear="clear", words="Left in its bath overnight, and it took the rest.")
    run.check("rinse", rinses=4)
    run.work(85)
    run.on(3, "11:00").check("cloth", "trace")
    run.check("rub_dry", "none")
    run.photo("night-bus", words="Blue only in the sun")
    run.at("11:20").finish(
        [out("first", 4)],
        verdict="standard",
        next_time="Leave it in the bath overnight from the start.",
        snippet="Ring binder, page 4",
    )
    run.at("11:40").cost().at("12:00").tag()


def button_tin(studio):
    """Eight small skeins in eight jars, a dye in each: six to sell, two to keep as a record of the colours."""
    run = studio.bare(studio.days.day(40, "fri"), "Tessel Mini", 1, vessel="Jars", pots=8, title="Button Tin", by="Pia")
    run.start("9:30")
    run.water(400)
    one_each = ["Brick 1 %", "Ochre 1 %", "Hedge 1 %", "Pond 1 %", "Night 1 %", "Radish 1 %", "Plum 0.5 %", "Bark 1 %"]
    for number, name in enumerate(one_each, 1):
        run.at(f"9:{35 + 2 * number}").add(name, 40 if name == "Plum 0.5 %" else 20, pot=number)
    run.at("9:55").add("Vinegar", 15, typed="1", typed_unit="metric_tbsp")
    run.at("10:10").step("hold", 75, 60, words="In the warm box, lids loose.")
    run.at("15:40").read(clear="clear")
    run.work(50)
    run.on(2, "10:00").check("cloth", "none")
    run.photo("button-tin", words="Brick to bark, in the order of the jars", pot=None)
    sold, kept = [out("first", 1)], [out("sample", 1)]
    run.at("10:20").finish(
        *[sold] * 6, *[kept] * 2, pots_match=False, verdict="as_good", snippet="The two samples hang by the window"
    )
    run.at("10:30").cost().at("10:40").tag("label")

"""The second quarter: alum and plants, painted yarn, five steps of one green and what its water still gave."""

from recipes.models import Recipe

from . import colourways, shelf
from .days import tap_c, yard
from .telling import out


def tell(studio, told):
    shelf.take_delivery(39, studio.days, studio.who("Oda"))
    alumed = alum(studio)
    orchard_wall(studio, alumed)
    straw_bale(studio, alumed)
    paper_lantern(studio)
    steps = cellar_steps(studio)
    slack_water(studio, steps)
    shelf.take_delivery(31, studio.days, studio.who("Wim"))
    rhubarb_row(studio)
    kiln_door_written_anew(studio, told["kiln door"])
    kiln_door_as_it_should_be(studio)
    washing_line(studio)


def alum(studio):
    """Six skeins are mordanted and dyed with nothing: prepared, for the plants."""
    run = studio.bare(studio.days.day(38, "tue"), "Corm Aran", 6, vessel="Enamel pot", title="Alum for the plant dyes")
    run.start("9:00")
    run.step("scour", 60, 40, words=f"The tap gives {tap_c(run.day)} °C today, it took its time.")
    run.at("10:10").water(12000)
    run.at("10:15").add("Alum", 90, how="dissolved", words="15 % of the wool")
    run.at("10:20").add("Cream of tartar", 36, how="dissolved")
    run.at("10:25").step("mordant", 85, 60)
    run.at("12:10").step("cool", words="In the pot until tomorrow.")
    run.work(40)
    run.on(1, "9:00").step("rinse", words="Once, lightly.")
    run.on(2, "10:00").photo("alum-prepared", words="Creamy, a little harder to the hand")
    run.at("10:05").say("Into the linen bag marked ALUM.")
    run.at("10:10").finish([out("prepared", 6)])
    run.at("10:15").cost()
    return run


def orchard_wall(studio, alumed):
    """Four of the alumed skeins in madder, never over 70 °C."""
    day = studio.days.day(37, "wed")
    colourways.write_down(
        "Orchard Wall", colourways.ORCHARD_WALL, by=studio.who("Oda"), now=studio.days.at(day, "8:40")
    )
    run = studio.planned(day, "Orchard Wall", [(studio.skeins_of(alumed, "prepared"), 4)], ["Enamel pot"])
    run.start("8:50").say("Madder soaked since last night in its own muslin bag.")
    run.follow(steps=3)
    run.at("10:05").read(c=63, words="It wants to run away; gas at its lowest.")
    run.photo("orchard-wall-pot", "wet", "Forty minutes in")
    run.follow()
    run.on(1, "9:30").check("rinse", rinses=5)
    run.work(90)
    run.on(3, "10:30").check("cloth", "trace")
    run.photo("orchard-wall", words="Redder than the pot said")
    run.at("10:45").finish(
        [out("first", 4)],
        verdict="standard",
        next_time="The bag has enough for a second, paler bath. Do not tip it.",
        snippet="Plant book, page 1",
    )
    run.at("11:00").cost().at("11:10").tag()


def straw_bale(studio, alumed):
    """The other two, in weld from a garden."""
    day = studio.days.day(36, "thu")
    colourways.name_it("Straw Bale", by=studio.who("Wim"), now=studio.days.at(day, "9:00"))
    run = studio.bare(
        day,
        studio.skeins_of(alumed, "prepared"),
        2,
        vessel="Steel pan",
        colourway="Straw Bale",
        clock="9:05",
        by="Wim",
    )
    run.start("9:15").water(3000)
    run.at("9:20").add("Weld", 120, how="dissolved", words="Chopped, boiled for half an hour first, strained.")
    run.at("9:50").add_words("Chalk", "A pinch: it woke the yellow up.")
    run.at("9:55").step("hold", 70, 45)
    run.at("10:50").read(c=69, ph="7.5", clear="nearly")
    run.work(60)
    run.on(2, "10:00").check("cloth", "none")
    run.photo("straw-bale", words="Brighter than any straw")
    run.at("10:10").finish([out("first", 2)], verdict="as_good", snippet="Plant book, page 2")
    run.at("10:20").cost().at("10:30").tag("label")


def paper_lantern(studio):
    """Painted from three bottles that were weighed in the morning and in the evening; nobody measured at the table."""
    day = studio.days.day(35, "wed")
    colourways.write_down(
        "Paper Lantern", colourways.PAPER_LANTERN, by=studio.who("Oda"), now=studio.days.at(day, "8:00")
    )
    bottles = ["Lantern gold", "Lantern rose", "Lantern ember"]
    for name in bottles:
        studio.make_up(name, studio.days.at(day, "8:20"), ml=250)
        studio.weigh(name, studio.days.at(day, "8:40"), by="Pia")
    run = studio.planned(day, "Paper Lantern", [("Tessel 4-ply", 6)], ["Long table"], clock="8:50")
    run.start("9:00").follow(steps=1)
    run.at("10:10")
    run.follow(steps=3, other=dict.fromkeys(bottles), every=20)
    run.at("11:15").add("Lantern rose", None, how="painted", place="skeins 4 to 6, a second pass", by="Pia")
    run.photo("paper-lantern-table", "wet", "Before they were wrapped")
    run.at("11:30").follow()
    run.at("13:30").read(clear="clear", words="What drips out of the parcel is clear.")
    for name, gone in zip(bottles, ("171.2", "214.6", "142.8"), strict=True):
        studio.weigh(name, studio.days.at(day, "17:20"), gone=gone)
    run.at("17:30").work(150)
    run.on(2, "11:00").check("cloth", "none")
    run.photo("paper-lantern", words="The bare hand's width shows")
    run.at("11:15").finish(
        [out("first", 5), out("second", 1)],
        verdict="standard",
        next_time="Blot before wrapping: the sixth ran.",
        snippet="Ring binder, page 5",
    )
    run.at("11:30").cost().at("11:45").tag()


def cellar_steps(studio):
    """One pot, five skeins. One comes out each time more dye goes in, so that each is a step greener."""
    day = studio.days.day(33, "tue")
    colourways.name_it("Cellar Steps", by=studio.who("Oda"), now=studio.days.at(day, "8:30"))
    run = studio.bare(day, "Wend DK", 5, vessel="Tall pot", colourway="Cellar Steps")
    run.start("9:00").say(yard(day))
    run.water(16000)
    run.add("Vinegar", 320)
    run.at("9:10").step("heat", 80)
    yarn = run.batches[0].yarns.get()
    for number, ml in enumerate((15, 35, 60, 90), 1):
        run.after(14).add("Pond 1 %", ml)
        run.after(12).move(
            "yarn_out", yarn=yarn, skeins=1, grams=100, words=f"Step {number}: out while it still shows."
        )
    run.after(10).add("Pond 1 %", 130, words="All of it for the last one.")
    run.after(2).add("Night 1 %", 20)
    run.photo("cellar-steps-pot", "wet", "The fifth, alone in all that water")
    run.after(5).step("hold", 82, 40)
    run.after(45).read(c=81, ph="4.8", clear="not_yet", words="Plenty left. Kept for tomorrow.")
    run.work(110)
    run.on(2, "11:00").check("cloth", "none")
    run.photo("cellar-steps", words="Top step to bottom step")
    steps = [out("first", 1, name=f"Cellar Steps {number}") for number in range(1, 6)]
    run.at("11:20").finish(
        [*steps],
        verdict="standard",
        next_time="Take the first out at ten minutes; it is nearly the second.",
        snippet="Ring binder, pages 6 and 7",
    )
    run.at("11:30").cost().at("11:45").tag()
    return run


def slack_water(studio, steps):
    """The same water, a day later: three skeins go in, and the rest of it is kept in a bottle."""
    run = studio.bare(studio.days.day(33, "wed"), "Harl Single", 3, vessel="Tall pot", title="Slack Water", by="Wim")
    run.start("9:30")
    run.move("liquor_in", volume_ml=14000, other_batch=steps.batches[0], words="As it stood since yesterday.")
    run.at("9:40").step("heat", 80)
    run.at("9:50").add("Pond 1 %", 15, words="It looked thin.")
    run.at("10:20").step("hold", 82, 45)
    run.at("11:10").read(c=80, clear="nearly")
    run.at("11:20").move("liquor_out", volume_ml=3000, keep_as="Cellar Steps liquor")
    run.say("What the steps left in the water, and a spoonful more. Nobody can say how much that is.")
    run.work(35)
    run.on(2, "11:30").check("cloth", "none")
    run.photo("slack-water", words="Three alike, paler than any step")
    run.at("11:45").finish([out("first", 3)], verdict="sell", next_time="It will not come again. Do not take orders.")
    run.at("12:00").cost().at("12:10").tag()


def rhubarb_row(studio):
    """Wim's own."""
    day = studio.days.day(31, "fri")
    colourways.write_down("Rhubarb Row", colourways.RHUBARB_ROW, by=studio.who("Wim"), now=studio.days.at(day, "9:00"))
    run = studio.planned(day, "Rhubarb Row", [("Kerf Sport", 3)], ["Enamel pot"], clock="9:10", by="Wim")
    run.start("9:20").follow()
    run.at("11:40").read(c=80, ph="4.7", clear="clear")
    run.work(60)
    run.on(2, "10:00").check("cloth", "none")
    run.check("rub_wet", "trace")
    run.photo("rhubarb-row", words="One leaf left on")
    run.at("10:15").finish([out("first", 3)], verdict="standard", snippet="Wim's tin, pink card")
    run.at("10:30").cost().at("10:40").tag()


def kiln_door_written_anew(studio, run):
    """The second version takes up what the first run said for next time."""
    first = Recipe.objects.get(colourway__name="Kiln Door", number=1)
    now = studio.days.at(studio.days.day(30, "sat"), "16:00")
    said = {"by": studio.who("Oda"), "now": now, "made_from": first}
    run.moment = now
    run.note_into(colourways.write_down("Kiln Door", colourways.KILN_DOOR_AGAIN, **said))


def kiln_door_as_it_should_be(studio):
    """Two pots by the second version; a nought too many, struck out at once. The standard from then on."""
    run = studio.planned(studio.days.day(29, "tue"), "Kiln Door", [("Tessel 4-ply", 6)], ["Enamel pot", "Enamel pot"])
    run.start("9:00").follow(steps=5, other={"Rust": 50})
    (wrong,) = run.add("Rust 1 %", 200, pot=1, place="over the join")
    run.after(1).strike([wrong], "A nought too many.")
    run.after(1).add("Rust 1 %", 20, pot=1, place="over the join")
    run.photo("kiln-door-wet", "wet", "Ochre still wet, the rust just on", pot=1)
    run.after(4).follow()
    run.at("12:20").read(ph="4.3", clear="clear")
    run.work(95)
    run.on(1, "9:30").check("rinse", rinses=2)
    run.on(2, "10:30").check("cloth", "none")
    run.photo("kiln-door-pots", words="Pot one on the left, pot two on the right", pot=2)
    run.photo("kiln-door-standard", words="The join at last", pot=1)
    run.photo("snippet-page", "paper", "The card it is kept on", pot=1)
    run.photo("kiln-door-knitted", "paper", "Knitted up: the joins come as flecks, not as mud", pot=1)
    run.at("11:00").finish(
        [out("first", 3)],
        [out("first", 2), out("second", 1)],
        verdict="standard",
        pots_match=True,
        next_time="Nothing. Do exactly this.",
        snippet="Ring binder, page 8",
    )
    run.at("11:20").cost().at("11:40").tag()


def washing_line(studio):
    """From the bottle of kept liquor: how much dye is in it, nobody knows."""
    run = studio.bare(studio.days.day(27, "thu"), "Corm Aran", 2, vessel="Steel pan", title="Washing Line", by="Pia")
    run.start("10:00").water(2000)
    run.at("10:05").add("Cellar Steps liquor", 1500, words="Shaken first.")
    run.at("10:10").add("Vinegar", 30, typed="2", typed_unit="metric_tbsp")
    run.at("10:20").step("hold", 80, 30)
    run.at("11:00").read(c=79, clear="clear")
    run.work(30)
    run.on(2, "10:00").check("cloth", "none")
    run.photo("washing-line", words="Hardly there", by="Oda")
    run.at("10:10").finish([out("first", 2)], by="Oda", verdict="sell")
    run.at("10:20").cost().at("10:30").tag("label")

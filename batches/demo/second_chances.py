"""The third quarter: a customer's wool, blotches stripped and dyed over, seconds overdyed, and one that bled."""

from . import colourways, shelf
from .days import yard
from .teller import customers
from .telling import out


def tell(studio, told):
    shelf.take_delivery(27, studio.days, studio.who("Oda"))
    customers_handspun(studio)
    hedge_court(studio)
    blotchy = hedge_court_blotchy(studio)
    stripped = stripped_bare(studio, blotchy)
    night_bus_over_it(studio, stripped)
    late_plums(studio, told["kiln door"])
    bramble_bleeds(studio)
    quince_jars(studio)


def customers_handspun(studio):
    """In by weight and count, and out again; nothing of it is the studio's to sell."""
    wool = customers("Tova's handspun", 96)
    run = studio.bare(studio.days.day(26, "wed"), wool, 3, vessel="Enamel pot", title="Tova's handspun")
    run.photo("handspun-before", "before", words="As she brought it: thick, thin, and her own sheep")
    yarn = run.batches[0].yarns.get()
    run.start("9:15").move("yarn_in", yarn=yarn, skeins=3, grams=288, words="Weighed with her standing there.")
    run.step("soak", 30, 60, words="Still greasy, so long and warm.")
    run.at("10:30").water(7000)
    run.at("10:35").add("Damson 1 %", 230)
    run.at("10:40").add("Vinegar", 140)
    run.at("10:45").step("hold", 82, 40)
    run.at("11:40").read(c=80, ph="4.7", clear="clear")
    run.work(50)
    run.on(2, "14:00").check("cloth", "none")
    run.photo("handspun-after", words="Darker where it is spun thin")
    run.at("14:10").move("yarn_out", yarn=yarn, skeins=3, grams=285, words="Three grams of grease lighter.")
    run.at("14:15").finish(
        [out("customer", 3, skein_g=95)],
        verdict="as_good",
        next_time="Ask for it washed, or charge for the washing.",
        snippet="Ring binder, page 9: a yard she left us",
    )
    run.at("14:20").cost()
    run.on(3, "10:00").say("Fetched. She paid, and left eggs.")


def hedge_court(studio):
    """The good one."""
    day = studio.days.day(25, "thu")
    colourways.write_down("Hedge Court", colourways.HEDGE_COURT, by=studio.who("Oda"), now=studio.days.at(day, "8:30"))
    run = studio.planned(day, "Hedge Court", [("Harl Single", 4)], ["Enamel pot"])
    run.start("9:00").say(yard(day))
    run.follow()
    run.at("12:00").read(c=84, ph="4.4", clear="clear")
    run.work(70)
    run.on(2, "10:30").check("cloth", "none", by="Pia")
    run.photo("hedge-court", words="Three brown places, as written")
    run.at("10:45").finish([out("first", 4)], verdict="standard", snippet="Ring binder, page 10")
    run.at("11:00").cost().at("11:15").tag()


def hedge_court_blotchy(studio):
    """The same recipe with the acid in too early: it struck where it touched."""
    run = studio.planned(
        studio.days.day(24, "wed"), "Hedge Court", [("Wend DK", 2)], ["Steel pan"], clock="13:00", by="Wim"
    )
    run.start("13:10").follow(steps=2)
    run.say("Poured the acid in with the first of the green to save a quarter of an hour.")
    run.follow(every=1)
    run.at("15:40").read(c=85, ph="3.4", clear="clear", words="Clear after four minutes, which is the trouble.")
    run.work(55)
    run.on(2, "9:40").check("cloth", "none", by="Oda")
    run.photo("hedge-court-blotchy", words="It struck where it touched", by="Oda")
    run.at("9:55").say("Into the box under the bench, to be stripped.", by="Oda")
    run.at("10:00").finish(
        [out("again", 2)],
        by="Oda",
        verdict="never",
        next_time="Acid when the dye has spread, and never with it.",
    )
    run.at("10:05").cost()
    return run


def stripped_bare(studio, blotchy):
    """The colour is taken out again."""
    run = studio.bare(
        studio.days.day(23, "tue"),
        studio.skeins_of(blotchy, "again"),
        2,
        vessel="Steel pan",
        title="Stripping the blotchy Hedge Court",
    )
    run.photo("hedge-court-blotchy", "before", words="Dark at the ends, bald in the middle")
    run.start("9:10").say("Window open, extractor on, mask and gloves. Read the sheet again.")
    run.water(4000)
    run.at("9:20").add("Soda ash", 4, how="dissolved")
    run.at("9:25").read(ph="9.2")
    run.at("9:30").step("heat", 75)
    run.at("9:50").add("Thiourea dioxide", 6, how="dissolved")
    run.at("9:52").step("strip", 80, 30, words="Lid on. Green to straw in ten minutes.")
    run.at("10:30").read(c=78, clear="nearly")
    run.at("10:50").step("rinse", words="Four times, then a drop of vinegar to bring it back.")
    run.at("10:55").add("Vinegar", 20)
    run.work(65)
    run.on(2, "10:00").photo("hedge-court-stripped", words="Dull straw, a little harsh")
    run.at("10:10").finish(
        [out("prepared", 2, name="Stripped straw")],
        next_time="Good enough to dye over with anything dark.",
    )
    run.at("10:15").cost()
    return run


def night_bus_over_it(studio, stripped):
    """Over stripped yarn, from the written recipe."""
    straw = studio.skeins_of(stripped, "prepared", name="Stripped straw")
    run = studio.planned(studio.days.day(22, "thu"), "Night Bus", [(straw, 2)], ["Steel pan"])
    run.photo("hedge-court-stripped", "before", words="Straw, from the box under the bench")
    run.start("9:00").follow()
    run.at("12:40").read(ph="4.0", clear="clear")
    run.work(60)
    run.on(2, "10:30").check("cloth", "trace")
    run.photo("night-bus-over", words="A green cast if you know where to look")
    run.at("10:45").finish(
        [out("first", 2)],
        verdict="as_good",
        next_time="Over straw it wants a tenth more of the night.",
    )
    run.at("11:00").cost().at("11:10").tag()


def late_plums(studio, kiln_door):
    """The two muddy seconds of winter, under plum."""
    day = studio.days.day(20, "wed")
    colourways.name_it("Late Plums", by=studio.who("Oda"), now=studio.days.at(day, "9:00"))
    run = studio.bare(
        day, studio.skeins_of(kiln_door, "second"), 2, vessel="Steel pan", colourway="Late Plums", clock="9:10"
    )
    run.photo("kiln-door-seconds", "before", words="Nobody bought them")
    run.start("9:20").step("soak", 40, 30)
    run.at("10:00").water(3000)
    run.at("10:05").add("Plum 0.5 %", 300)
    run.at("10:10").add("Damson 1 %", 40, place="the ochre parts")
    run.at("10:25").add("Citric acid", 4)
    run.at("10:30").step("hold", 85, 40)
    run.at("11:20").read(c=84, ph="4.4", clear="clear")
    run.work(45)
    run.on(2, "10:00").check("cloth", "none")
    run.photo("late-plums", words="The mud is what makes it")
    run.at("10:10").finish(
        [out("second", 2)],
        verdict="sell",
        next_time="Worth doing on purpose.",
        snippet="Ring binder, page 11",
    )
    run.at("10:20").cost().at("10:30").tag()


def bramble_bleeds(studio):
    """Deep and improvised. It bled; more acid and more heat; then it held."""
    day = studio.days.day(18, "tue")
    colourways.name_it("Bramble Ink", by=studio.who("Oda"), now=studio.days.at(day, "9:00"))
    run = studio.bare(day, "Tessel 4-ply", 3, vessel="Enamel pot", colourway="Bramble Ink")
    run.start("9:30").step("soak", 40, 30)
    for clock, name, ml in [
        ("10:05", "Damson 1 %", 380),
        ("10:15", "Brick 1 %", 90),
        ("10:30", "Night 1 %", 220),
        ("11:05", "Damson 1 %", 160),
        ("11:20", "Soot 1 %", 110),
    ]:
        run.at(clock).add(name, ml)
    run.photo("bramble-ink-pot", "wet", "After the second damson")
    run.at("11:30").add("Citric acid", 6)
    run.at("11:35").step("hold", 85, 45)
    run.at("12:30").read(c=84, ph="5.3", clear="nearly")
    run.work(80)
    run.on(1, "9:00").now_at("to_check", by="Pia")
    (bled,) = run.at("9:10").check("cloth", "a_lot", by="Pia")
    run.photo("bramble-cloth-stain", "cloth", "A minute under a damp cloth", by="Pia", about=bled)
    run.at("9:30").read(ph="5.3", words="The bath had never come down to 5.")
    (remedy,) = run.at("9:40").check(
        "remedy", because=bled, words="Citric acid to pH 4, back to 85 °C for 30 minutes, cooled in the bath."
    )
    run.add("Citric acid", 8)
    run.at("9:45").step("hold", 85, 30)
    run.at("10:30").read(c=80, ph="4.0", clear="clear")
    run.at("15:30").step("rinse", words="Five times, the last two without a shadow.")
    run.work(50)
    run.on(2, "10:00").now_at("to_check")
    (held,) = run.at("10:10").check("cloth", "trace", because=remedy)
    run.photo("bramble-cloth-clean", "cloth", "The same minute, after the second heat", about=held)
    run.at("10:30").check("rub_dry", "none")
    run.at("10:32").check("rub_wet", "trace")
    run.on(3, "11:00").say("Nearly black at the foot when dry.")
    run.photo("bramble-ink", words="Violet only where it is thin")
    run.at("11:30").finish(
        [out("first", 3)],
        verdict="as_good",
        next_time="Acid half an hour earlier, and measure it before the heat comes off.",
        snippet="Ring binder, page 12",
    )
    run.at("11:45").cost().at("12:00").tag()


def quince_jars(studio):
    """Eight jars, dry dye tapped between the layers by eye; the dye's own jars were weighed morning and evening."""
    day = studio.days.day(16, "fri")
    colourways.name_it("Quince Ledger", by=studio.who("Oda"), now=studio.days.at(day, "8:30"))
    for name in ("Quince", "Bark"):
        studio.weigh(name, studio.days.at(day, "8:50"), by="Wim")
    run = studio.bare(day, "Wend DK", 1, vessel="Jars", pots=8, colourway="Quince Ledger")
    run.start("9:10")
    run.water(700)
    between = {"how": "sprinkled", "place": "between the layers"}
    for number in range(1, 9):
        run.at(f"9:{15 + 5 * number}").add("Quince", None, pot=number, taps=3 + number % 3, **between)
        run.after(2).add("Bark", None, pot=number, by="Wim", taps=1, **between)
    run.photo("quince-jars", "wet", "All eight on the sill", pot=None)
    run.at("10:40").add("Vinegar", 15, by="Pia", typed="1", typed_unit="metric_tbsp")
    run.at("10:50").step("hold", 70, 300, words="Lids loose. Turned by a quarter every hour.")
    run.at("16:20").read(c=68, clear="nearly")
    for name, gone in (("Quince", "5.12"), ("Bark", "1.36")):
        studio.weigh(name, studio.days.at(day, "17:40"), gone=gone, by="Wim")
    run.at("17:50").work(120)
    run.on(1, "9:30").read(clear="clear")
    run.on(3, "10:00").check("cloth", "trace")
    run.check("rub_dry", "none")
    run.photo("quince-ledger", words="Four of the eight: no two the same", pot=None)
    sold, kept = [out("first", 1)], [out("sample", 1)]
    run.at("10:20").finish(
        *[sold] * 7,
        kept,
        verdict="standard",
        pots_match=False,
        next_time="Weigh the bark: one tap more or less shows.",
        snippet="The eighth, whole, on the nail by the door",
    )
    run.at("10:40").cost().at("11:00").tag()
    run.at("11:10").into_the_recipes()

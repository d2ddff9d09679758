"""A pink of half a year ago once more: the radish that came is weaker, the yarn is another, and it takes two pots."""

from functools import partial

from batches import series

from . import shelf
from .days import working_days_after
from .telling import out


def the_pink_again(studio):
    the_old_radish_goes(studio)
    shelf.take_delivery(7, studio.days, studio.who("Oda"))
    how_strong_is_the_new_one(studio)
    rhubarb_on_other_yarn(studio)


def the_old_radish_goes(studio):
    """The last of the lot that the pink was first dyed with."""
    at = studio.days.at(studio.days.day(7, "tue"), "8:00")
    why = "Given to Pia's evening class: the new jar comes today."
    studio.lot("Radish").throw_away(by=studio.who("Oda"), at=at, why=why, clock=lambda: at)


def how_strong_is_the_new_one(studio):
    """Three small skeins beside the kept one: a fifth more of the new radish looks as the old one did."""
    day = studio.days.day(7, "wed")
    studio.make_up("Radish 1 %", studio.days.at(day, "8:30"), ml=250, top_up=False)
    run = studio.strength_test(day, "Rhubarb Row", "Radish", (100, 110, 120), "Tessel Mini", "Jars", by="Wim")
    run.start("9:10").follow()
    run.at("11:30").read(clear="clear")
    run.work(40)
    run.on(2, "10:00").photo("rhubarb-ladder", words="100, 110 and 120 % of the new radish", pot=None)
    run.at("10:05").matches(120, hue="A shade cooler than the last one.")
    run.at("10:15").finish([out("sample", 1)], snippet="Wim's tin, behind the pink card")
    run.at("10:30").cost()


def rhubarb_on_other_yarn(studio):
    """Six for somebody who saw the first ones, on the 4-ply and in two pots."""
    run = studio.planned(
        studio.days.day(6, "thu"), "Rhubarb Row", [("Tessel 4-ply", 6)], ["Enamel pot", "Enamel pot"], by="Wim"
    )
    run.start("9:10").follow()
    run.at("12:00").read(c=80, ph="4.6", clear="clear")
    run.work(85)
    run.on(2, "10:00").check("cloth", "none", by="Pia")
    run.photo("rhubarb-again", words="On the 4-ply, beside the first in daylight", pot=None)
    run.at("10:20").finish(
        [out("first", 3)],
        verdict="as_good",
        pots_match=True,
        next_time="The green foot a finger shorter on this yarn.",
        snippet="Wim's tin, pink card, under the first",
    )
    run.at("10:35").cost().at("10:45").tag()


def hedge_and_bark(studio):
    """A small series: the two dyes of one colourway in five shares, as deep together each time."""
    family = partial(series.family_of, steps=5, total_pct=1)
    run = studio.samples(studio.days.day(4, "thu"), "Hedge Court", family, "Tessel Mini", "Jars")
    run.start("9:10").follow_each()
    run.at("11:40").read(clear="clear")
    run.work(45)
    run.on(2, "10:00").photo("hedge-family", words="From hedge to bark, in quarters", pot=None)
    run.at("10:10").finish([out("sample", 1)], snippet="On a card by the window")
    run.at("10:25").cost()


def kiln_doors_to_come(studio):
    """Two days' work that is planned: three loads for the market."""
    tomorrow = working_days_after(studio.days.today, 1)
    first, second = working_days_after(tomorrow, 1), working_days_after(tomorrow, 2)
    days, vessels = [first, first, second], ["Enamel pot", "Tall pot", "Enamel pot"]
    studio.over_days(days, "Kiln Door", "Tessel 4-ply", 12, vessels)

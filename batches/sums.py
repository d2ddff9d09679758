"""The sums of the journal for the page of sums: what a skein costs, what to ask for it, and what a weigh-in shares."""

from decimal import Decimal

from batches.costing import FIRST, SECOND, Made, Rate, Use, cost_sheet
from batches.sharing import share_out
from recipes.sums import PRACTICE, Box, Found, Sum
from studio import money, units, writing

IAS_2 = "IAS 2 Inventories, paragraphs 10 to 14"
GUM = "JCGM 100:2008, F.2.2.1, for what a scale can tell; the shares themselves are arithmetic"
SKEIN_G = Decimal(100)  # all alike: only their number counts here
SECOND_PCT = 60


def places():
    return money.minor_units(writing.current().currency)


def _cost(yarn, dye, minutes, hour, overhead, firsts, seconds):
    skeins = firsts + seconds
    if not skeins:
        raise ValueError("Write how many skeins came out of it: at least one.")
    uses = [
        Use("yarn", "Yarn", 1, Rate(yarn), base="all"),
        Use("dye", "Dye and acid", 1, Rate(dye)),
        Use("labour", "Work", minutes, Rate(hour, 60)),
        Use("overhead", "Overhead", skeins, Rate(overhead)),
    ]
    made = [Made("firsts", "all", int(firsts), SKEIN_G, FIRST), Made("seconds", "all", int(seconds), SKEIN_G, SECOND)]
    sheet = cost_sheet(uses, [each for each in made if each.count], SECOND_PCT, places())
    named = {"firsts": "A first costs", "seconds": "A second costs"}
    each = [Found(named[share.output_key], share.each, "money") for share in sheet.shares]
    return [Found("All of it", sheet.total, "money"), *each]


def _price(cost, profit, tax, fee, fixed):
    price = money.price_for_profit(cost, profit, tax, fee, fixed, places())
    left = money.what_is_left(price, cost, tax, fee, fixed, places())
    return [
        Found("Ask at least", price, "money"),
        Found("Sales tax in it", left.tax, "money"),
        Found("Fees", left.fee, "money"),
        Found("Left over", left.left, "money"),
    ]


def _margin(cost, margin):
    return [Found("Ask at least", money.price_for_margin(cost, margin, places=places()), "money")]


def _shares(before, after, measured, taps, step):
    found = share_out(before, after, measured, taps, scale_step_g=step)
    if not found.is_shared:
        raise ValueError(" ".join(found.said))
    numbered = zip(taps, found.parts, strict=True)
    shares = [Found(f"{units.write_number(count)} taps had", part, "g") for count, part in numbered]
    return [Found("Left the jar unweighed", found.rest, "g"), *shares]


SUMS = (
    (
        "Money",
        (
            Sum(
                "cost",
                "What a skein cost",
                "All that went in, shared over the skeins; a second bears 60 % of what a first does.",
                (
                    Box("yarn", "Yarn, all of it", "money", "50.40"),
                    Box("dye", "Dye, acid and energy", "money", "0"),
                    Box("minutes", "Work", "minutes", "95"),
                    Box("hour", "An hour of work", "money", "18"),
                    Box("overhead", "Overhead a skein", "money", "0.90"),
                    Box("firsts", "Firsts", "count", "5"),
                    Box("seconds", "Seconds", "count", "1"),
                ),
                _cost,
                IAS_2,
            ),
            Sum(
                "price",
                "A price that leaves so much over",
                "Price = (cost + wanted + fixed fee) ÷ (1 ÷ (1 + tax) − fee).",
                (
                    Box("cost", "Cost of the skein", "money", "18.40"),
                    Box("profit", "To be left over", "money", "9"),
                    Box("tax", "Sales tax inside the price", "%", "20"),
                    Box("fee", "Fee on the price", "%", "6.5"),
                    Box("fixed", "Fixed fee", "money", "0.25"),
                ),
                _price,
                PRACTICE,
                "The fee is taken on the whole price, tax too: added on top of the price it would fall short.",
            ),
            Sum(
                "margin",
                "A price for a margin",
                "Price = cost ÷ (1 − margin). A margin is a share of the price, a mark-up one of the cost.",
                (Box("cost", "Cost of the skein", "money", "18.40"), Box("margin", "Margin", "%", "40")),
                _margin,
                PRACTICE,
            ),
        ),
    ),
    (
        "At the scale",
        (
            Sum(
                "shares",
                "What unweighed sprinkles had",
                "Left = jar before − jar after − weighed uses; each sprinkle has its share of it by taps.",
                (
                    Box("before", "Jar before", "g", "212.4"),
                    Box("after", "Jar after", "g", "205.2"),
                    Box("measured", "Weighed uses between", "g", "4"),
                    Box("taps", "Taps of each sprinkle", "parts", "6:2", "With colons between, such as 6:2."),
                    Box("step", "Step of the scale", "g", "0.1"),
                ),
                _shares,
                GUM,
                "Weigh with the lid both times, and without a refill in between.",
            ),
        ),
    ),
)

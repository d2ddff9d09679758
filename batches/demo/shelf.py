"""What stands on the demo studio's shelf: yarns, dyes, acids, pots and tools, and what came in which week.

Every name is invented. The colours are how a dye looks on wool at about 1 %.
"""

from decimal import Decimal

from studio.models import (
    Assistant,
    Base,
    BaseFibre,
    Dye,
    Measure,
    MeasureWeighing,
    Solution,
    SolutionPart,
    Tool,
    Vessel,
)
from studio.receiving import landed_minor, receive

D = Decimal
MILL, DYES_FROM, SPINNERS = "Nettle Bank Mill", "Cinder & Madder", "Fold & Furrow Spinners"

BASES = [  # name, make-up, fibres, skein g, m, superwash, from, price of a first, low at
    ("Tessel 4-ply", "4-ply", {"wool": 75, "nylon": 25}, 100, 425, True, MILL, 2895, 8),
    ("Tessel Mini", "4-ply, 20 g", {"wool": 75, "nylon": 25}, 20, 85, True, MILL, 750, 10),
    ("Wend DK", "DK", {"wool": 100}, 100, 225, False, MILL, 2600, 6),
    ("Pell Lace", "lace", {"mohair": 70, "silk": 30}, 50, 420, False, SPINNERS, 3200, 4),
    ("Corm Aran", "aran", {"wool": 100}, 100, 160, False, MILL, 2400, 4),
    ("Harl Single", "single ply", {"wool": 100}, 100, 366, False, SPINNERS, 2550, 4),
    ("Kerf Sport", "sport", {"wool": 80, "alpaca": 20}, 100, 300, False, SPINNERS, 2750, 6),
]
DYES = [  # name, colour, class
    ("Brick", "#9c3122", "acid_milling"),
    ("Ochre", "#d39a3c", "acid_milling"),
    ("Rust", "#bf5a2c", "acid_milling"),
    ("Plum", "#5e3138", "acid_milling"),
    ("Soot", "#3a3034", "metal_complex"),
    ("Slate", "#5d6b7c", "acid_milling"),
    ("Damson", "#6d4a63", "acid_milling"),
    ("Quince", "#cda53f", "acid_levelling"),
    ("Bark", "#5e4a35", "metal_complex"),
    ("Pond", "#2f6a66", "acid_milling"),
    ("Night", "#33456b", "acid_milling"),
    ("Radish", "#b6607a", "acid_levelling"),
    ("Hedge", "#7f9440", "acid_milling"),
    ("Madder root", "#b5533a", "natural"),
    ("Weld", "#d8c04a", "natural"),
]
ASSISTANTS = [  # name, kind, unit, strength, note
    ("Citric acid", "acid", "g", None, "Anhydrous."),
    ("Vinegar", "acid", "mL", 5, "Clear, from the shop."),
    ("Wetting agent", "wetting", "mL", None, ""),
    ("Alum", "mordant", "g", None, "Potassium alum, for the plant dyes."),
    ("Cream of tartar", "other", "g", None, "With the alum: keeps the wool soft."),
    ("Soda ash", "alkali", "g", None, "For stripping only."),
    ("Thiourea dioxide", "other", "g", None, "Takes colour out. Window open, lid on, and read its sheet first."),
    ("Neutral soap", "other", "mL", None, "For washing out what did not hold."),
]
VESSELS = [  # name, kind, to the brim mL, usual fill mL, skeins, heater, how many
    ("Enamel pot", "pot", 14000, 12000, 6, "gas", 1),
    ("Tall pot", "pot", 20000, 16000, 8, "own", 1),
    ("Steel pan", "pan", 6000, 3000, 2, "hob", 1),
    ("Jars", "jar", 1000, 800, 1, "sun", 8),
    ("Long table", "table", None, None, 6, "steam", 1),
]
TOOLS = [
    ("Small scale", "scale", "0.01", 200),
    ("Kitchen scale", "scale", "1", 5000),
    ("Syringe", "syringe", "1", 60),
    ("Cylinder", "cylinder", "5", 500),
]
MASTERS = [  # name, kind, keeps days, parts in g per 100 mL
    ("Brick 1 %", "stock", 120, {"Brick": 1}),
    ("Ochre 1 %", "stock", 120, {"Ochre": 1}),
    ("Rust 1 %", "stock", 120, {"Rust": 1}),
    ("Plum 0.5 %", "stock", 120, {"Plum": "0.5"}),
    ("Soot 1 %", "stock", 120, {"Soot": 1}),
    ("Slate 1 %", "stock", 120, {"Slate": 1}),
    ("Slate 0.1 %", "stock", 60, {"Slate": "0.1"}),
    ("Damson 1 %", "stock", 120, {"Damson": 1}),
    ("Damson 0.1 %", "stock", 60, {"Damson": "0.1"}),
    ("Bark 1 %", "stock", 120, {"Bark": 1}),
    ("Pond 1 %", "stock", 120, {"Pond": 1}),
    ("Night 1 %", "stock", 120, {"Night": 1}),
    ("Radish 1 %", "stock", 120, {"Radish": 1}),
    ("Hedge 1 %", "stock", 120, {"Hedge": 1}),
    ("Lantern gold", "painting", 30, {"Ochre": "0.8", "Quince": "0.4", "Citric acid": 1}),
    ("Lantern rose", "painting", 30, {"Radish": "0.7", "Citric acid": 1}),
    ("Lantern ember", "painting", 30, {"Rust": "0.9", "Brick": "0.2", "Citric acid": 1}),
]

# By week before today: who sent it, the invoice, carriage, and what was in it.
# (thing, amount, price in cents; yarn in skeins), with the lot number and more facts where there are any.
DELIVERIES = {
    52: [
        (MILL, "NB 2231", 1450, [
            ("Tessel 4-ply", 40, 33600, {"number": "T-2209"}),
            ("Wend DK", 24, 18720, {"number": "W-2214"}),
            ("Corm Aran", 12, 8400, {"number": "C-2187"}),
            ("Tessel Mini", 30, 6000, {"number": "TM-2209"}),
        ]),
        (SPINNERS, "1187", 980, [
            ("Pell Lace", 10, 13000, {"number": "P 31"}),
            ("Harl Single", 12, 9000, {"number": "H 48"}),
            ("Kerf Sport", 9, 8100, {"number": "K 12"}),
        ]),
        (DYES_FROM, "CM-0417", 690, [
            ("Brick", 120, 1890, {"number": "B-0417"}),
            ("Ochre", 100, 1640, {"number": "O-0418"}),
            ("Rust", 100, 1640, {"number": "R-0419"}),
            ("Plum", 50, 1120, {"number": "P-0420"}),
            ("Soot", 50, 1080, {"number": "S-0421"}),
            ("Slate", 40, 860, {"number": "S-0422"}),
            ("Damson", 80, 1510, {"number": "D-0423"}),
            ("Quince", 100, 1640, {"number": "Q-0424"}),
            ("Bark", 60, 1220, {"number": "B-0425"}),
            ("Pond", 60, 1380, {"number": "P-0426"}),
            ("Night", 60, 1380, {"number": "N-0427"}),
            ("Radish", 50, 1190, {"number": "R-0428"}),
            ("Hedge", 50, 1190, {"number": "H-0429"}),
            ("Citric acid", 1000, 890, {}),
            ("Wetting agent", 250, 1200, {}),
        ]),
        ("The shop on the corner", "", 0, [("Vinegar", 5000, 650, {"use_by_weeks": -20})]),
    ],
    39: [
        (DYES_FROM, "CM-0466", 690, [
            ("Madder root", 500, 2250, {"number": "last autumn's", "use_by_weeks": 3}),
            ("Alum", 500, 720, {}),
            ("Cream of tartar", 250, 640, {}),
        ]),
        ("Wim's aunt, from her garden", "", 0, [("Weld", 300, None, {"note": "Dried in the loft. A gift."})]),
    ],
    31: [
        (MILL, "NB 2305", 1450, [
            ("Tessel 4-ply", 16, 13760, {"number": "T-2291"}),
            ("Wend DK", 8, 6480, {"number": "W-2290"}),
        ]),
        (SPINNERS, "1240", 980, [
            ("Pell Lace", 8, 10800, {"number": "P 37"}),
            ("Harl Single", 10, 7800, {"number": "H 55"}),
        ]),
    ],
    27: [
        (DYES_FROM, "CM-0512", 690, [
            ("Thiourea dioxide", 250, 1480, {"number": "TD-09"}),
            ("Soda ash", 500, 420, {}),
            ("Neutral soap", 1000, 980, {}),
            ("Slate", 50, 980, {
                "number": "S-0509", "strength_pct": 85, "note": "Their letter says 85 % of the last lot.",
            }),
        ]),
    ],
    12: [
        (DYES_FROM, "CM-0588", 690, [
            ("Brick", 120, 1990, {"number": "B-0583"}),
            ("Ochre", 100, 1720, {"number": "O-0584"}),
            ("Night", 60, 1450, {"number": "N-0585"}),
            ("Citric acid", 1000, 930, {}),
        ]),
        (MILL, "NB 2377", 0, [
            ("Tessel 4-ply", 24, 21360, {"number": "T-2366"}),
            ("Wend DK", 24, None, {"number": "W-2364", "note": "Came without an invoice."}),
        ]),
    ],
    7: [
        (DYES_FROM, "CM-0629", 690, [
            ("Radish", 50, 1240, {"number": "R-0627", "note": "Their letter says a little weaker than the last."}),
        ]),
    ],
    3: [("The shop on the corner", "", 0, [("Vinegar", 5000, 690, {"use_by_weeks": -70})])],
}  # fmt: skip


def put_up():
    """The names of things, with nothing of them there yet."""
    for name, make_up, fibres, g, m, superwash, supplier, price, low in BASES:
        facts = {"make_up": make_up, "superwash": superwash, "supplier": supplier, "price_minor": price}
        base = Base.objects.create(name=name, skein_g=D(g), skein_m=D(m), low_skeins=low, **facts)
        base.write_fibres(
            BaseFibre(position=position, fibre=fibre, percent=D(percent))
            for position, (fibre, percent) in enumerate(fibres.items(), 1)
        )
    for name, colour, dye_class in DYES:
        Dye.objects.create(name=name, colour=colour, dye_class=dye_class, supplier=DYES_FROM)
    for name, kind, unit, strength, note in ASSISTANTS:
        Assistant.objects.create(name=name, kind=kind, unit=unit, strength_pct=strength, note=note)
    for name, kind, volume, fill, skeins, heater, how_many in VESSELS:
        facts = {"volume_ml": volume, "fill_ml": fill, "skeins": skeins, "heater": heater, "how_many": how_many}
        Vessel.objects.create(name=name, kind=kind, **facts)
    for name, kind, step, largest in TOOLS:
        Tool.objects.create(name=name, kind=kind, step=D(step), largest=D(largest))
    for name, kind, keeps, parts in MASTERS:
        master = Solution.objects.create(name=name, kind=kind, keeps_days=keeps)
        master.write_parts(SolutionPart(**substance(part), g_per_100=D(pct)) for part, pct in parts.items())


def substance(name):
    """{"dye": Dye} or {"assistant": Assistant} of this name."""
    dye = Dye.objects.filter(name=name).first()
    return {"dye": dye} if dye else {"assistant": Assistant.objects.get(name=name)}


def take_delivery(weeks, days, by):
    """What came in that week, on its Tuesday."""
    came = days.at(days.day(weeks, "tue"), "8:15")
    for supplier, reference, extras, goods in DELIVERIES[weeks]:
        lines = [_line(days, *one) for one in goods]
        costs = landed_minor([price for _, _, price, _ in goods], extras)
        facts = {"supplier": supplier, "reference": reference, "extras_minor": extras}
        receive(lines, by=by, came_at=came, clock=lambda: came, costs=costs, **facts)


def _line(days, name, amount, _, facts):
    """One line of a delivery, as `receive` takes it. `use_by_weeks` before today, or after it below 0."""
    facts = dict(facts)
    if "use_by_weeks" in facts:
        facts["use_by"] = days.day(facts.pop("use_by_weeks"), "sat")
    base = Base.objects.filter(name=name).first()
    if base is not None:
        return {"base": base, "received": base.skein_g * amount, **facts}
    thing = substance(name)
    # Every jar of powder was weighed empty, so that a weigh-in can say what is in it.
    return {**thing, "received": D(amount), "tare_g": D("42.5") if "dye" in thing else None, **facts}


def weigh_the_spoon(days, by):
    """The mustard spoon, weighed twice full of two powders: so that a spoonful means something."""
    spoon = Measure.objects.create(name="Mustard spoon", note="Level, scraped off with a card.")
    at = days.at(days.day(50, "wed"), "16:00")
    for name, grams in (("Quince", "2.24"), ("Quince", "2.31"), ("Bark", "2.02")):
        dye = Dye.objects.get(name=name)
        MeasureWeighing.objects.create(measure=spoon, dye=dye, fillings=5, grams=D(grams), at=at, by=by)

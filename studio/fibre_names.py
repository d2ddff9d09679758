"""Tables of fibres: what they are called on a label, what people call them, and which dyes they take.

Names: 15 USC 68b and 70b with 16 CFR 300 and 303.6-303.7 for the United States, Annex I of Regulation (EU)
1007/2011 for the European Union. Great Britain kept the same names (SI 2012/1102), so one column serves both.
Only generic names stand here; registered fibre trade marks are not names the law lets anyone print instead.
Uptake: from memory of the dyeing handbooks (Broadbent, Basic Principles of Textile Coloration; Lewis and
Rippon, The Coloration of Wool and Other Keratin Fibres).
"""

from typing import NamedTuple


class Fibre(NamedTuple):
    words: str  # for a form
    us: str
    eu: str
    wool_act: bool = False  # counts as wool in 15 USC 68(b)


FIBRES = {
    "wool": Fibre("Wool", "Wool", "wool", wool_act=True),
    "alpaca": Fibre("Alpaca", "Alpaca", "alpaca", wool_act=True),
    "mohair": Fibre("Mohair", "Mohair", "mohair", wool_act=True),
    "cashmere": Fibre("Cashmere", "Cashmere", "cashmere", wool_act=True),
    "llama": Fibre("Llama", "Llama", "llama", wool_act=True),
    "camel": Fibre("Camel", "Camel Hair", "camel", wool_act=True),
    "vicuna": Fibre("Vicuna", "Vicuna", "vicuna", wool_act=True),
    "yak": Fibre("Yak", "Yak Hair", "yak"),
    "guanaco": Fibre("Guanaco", "Guanaco Hair", "guanaco"),
    "angora": Fibre("Angora (rabbit)", "Angora Rabbit Hair", "angora"),
    "silk": Fibre("Silk", "Silk", "silk"),
    "nylon": Fibre("Nylon (polyamide)", "Nylon", "polyamide"),
    "cotton": Fibre("Cotton", "Cotton", "cotton"),
    "linen": Fibre("Linen (flax)", "Linen", "linen"),
    "hemp": Fibre("Hemp", "Hemp", "true hemp"),
    "ramie": Fibre("Ramie", "Ramie", "ramie"),
    "jute": Fibre("Jute", "Jute", "jute"),
    "viscose": Fibre("Viscose (rayon, also from bamboo)", "Viscose", "viscose"),
    "modal": Fibre("Modal", "Modal", "modal"),
    "lyocell": Fibre("Lyocell", "Lyocell", "lyocell"),
    "cupro": Fibre("Cupro", "Cupro", "cupro"),
    "protein": Fibre("Protein (soy, milk; azlon)", "Azlon", "protein"),
    "acetate": Fibre("Acetate", "Acetate", "acetate"),
    "triacetate": Fibre("Triacetate", "Triacetate", "triacetate"),
    "polyester": Fibre("Polyester", "Polyester", "polyester"),
    "acrylic": Fibre("Acrylic", "Acrylic", "acrylic"),
    "elastane": Fibre("Elastane (spandex)", "Spandex", "elastane"),
    "polypropylene": Fibre("Polypropylene (olefin)", "Olefin", "polypropylene"),
    "polylactide": Fibre("Polylactide (PLA)", "PLA", "polylactide"),
    "metallised": Fibre("Metallised thread (glitter)", "Metallic", "metallised fibre"),
    "metal": Fibre("Metal", "Metallic", "metal fibre"),
}

# A blend nobody can state. It is printed alone or not at all, so it is not a choice beside the others.
UNDETERMINED = "undetermined"
UNDETERMINED_FIBRE = Fibre(
    "Mixed fibres, not known", "miscellaneous odd lots of undetermined fiber content", "mixed fibres"
)

# A speciality a buyer pays for is never "functional" in a trace (15 USC 70b(b)).
LUXURY = frozenset({"silk", "angora", "yak", "guanaco"})

# Other generic or everyday words for a fibre.
SYNONYMS = {
    "sheep's wool": "wool",
    "sheeps wool": "wool",
    "camel hair": "camel",
    "kashmir": "cashmere",
    "yak hair": "yak",
    "angora rabbit": "angora",
    "angora goat": "mohair",
    "polyamide": "nylon",
    "polyamid": "nylon",
    "flax": "linen",
    "true hemp": "hemp",
    "rayon": "viscose",
    "spandex": "elastane",
    "azlon": "protein",
    "olefin": "polypropylene",
    "pla": "polylactide",
    "polylactic acid": "polylactide",
    "metallic": "metallised",
    "metallized": "metallised",
    "mixed fibres": UNDETERMINED,
    "mixed fibers": UNDETERMINED,
    "unknown": UNDETERMINED,
}

# Breeds, grades and kinds: the fibre they are, and the words that may stand beside the content line.
BREEDS = {
    "merino": ("wool", "Merino"),
    "extrafine merino": ("wool", "Extrafine Merino"),
    "bluefaced leicester": ("wool", "Bluefaced Leicester"),
    "blue faced leicester": ("wool", "Bluefaced Leicester"),
    "bfl": ("wool", "Bluefaced Leicester"),
    "shetland": ("wool", "Shetland"),
    "corriedale": ("wool", "Corriedale"),
    "polwarth": ("wool", "Polwarth"),
    "rambouillet": ("wool", "Rambouillet"),
    "targhee": ("wool", "Targhee"),
    "cormo": ("wool", "Cormo"),
    "falkland": ("wool", "Falkland"),
    "romney": ("wool", "Romney"),
    "cheviot": ("wool", "Cheviot"),
    "gotland": ("wool", "Gotland"),
    "icelandic": ("wool", "Icelandic"),
    "wensleydale": ("wool", "Wensleydale"),
    "masham": ("wool", "Masham"),
    "jacob": ("wool", "Jacob"),
    "lambswool": ("wool", "Lamb's wool"),
    "lamb's wool": ("wool", "Lamb's wool"),
    "baby alpaca": ("alpaca", "Baby alpaca"),
    "suri alpaca": ("alpaca", "Suri alpaca"),
    "suri": ("alpaca", "Suri alpaca"),
    "kid mohair": ("mohair", "Kid mohair"),
    "superkid mohair": ("mohair", "Superkid mohair"),
    "baby camel": ("camel", "Baby camel"),
    "mulberry silk": ("silk", "Mulberry silk"),
    "mulberry": ("silk", "Mulberry silk"),
    "bombyx silk": ("silk", "Mulberry silk"),
    "tussah": ("silk", "Tussah silk"),
    "tussah silk": ("silk", "Tussah silk"),
    "eri silk": ("silk", "Eri silk"),
    "silk noil": ("silk", "Silk noil"),
    "pima cotton": ("cotton", "Pima cotton"),
    "bamboo": ("viscose", "Bamboo"),
    "bamboo viscose": ("viscose", "Bamboo"),
    "bamboo rayon": ("viscose", "Bamboo"),
    "viscose from bamboo": ("viscose", "Bamboo"),
    "rayon from bamboo": ("viscose", "Bamboo"),
    "rayon made from bamboo": ("viscose", "Bamboo"),
}

BAMBOO = (
    "“Bamboo” is not printed: fibre made from bamboo by the viscose process is viscose (in the US it may "
    "also read “Rayon Made From Bamboo”). Only bast fibre got out mechanically, with proof, is bamboo."
)
CHECK_METALLIC = (
    "Ask the supplier what the sparkle is: a plastic film with a metal coat is metallised thread, a drawn "
    "metal wire is metal, and a shiny film with no metal is named by its plastic."
)
SOY_OR_MILK = "Fibre regenerated from soy or milk is labelled protein (azlon in the US), never soy, milk or silk."

# Words that name a fibre but need a person to look twice: key and what to look at.
DOUBTFUL = {
    "glitter": ("metallised", CHECK_METALLIC),
    "sparkle": ("metallised", CHECK_METALLIC),
    "stainless steel": ("metal", CHECK_METALLIC),
    "steel": ("metal", CHECK_METALLIC),
    "soy": ("protein", SOY_OR_MILK),
    "soya": ("protein", SOY_OR_MILK),
    "soy silk": ("protein", SOY_OR_MILK),
    "milk": ("protein", SOY_OR_MILK),
    "milk protein": ("protein", SOY_OR_MILK),
    "casein": ("protein", SOY_OR_MILK),
}

# Truthful words that are about something other than the fibre.
CLAIMS = {
    "superwash": "Superwash is a treatment: it goes on a line of its own, not into the fibre content.",
    "organic": "Organic is a claim that needs proof: it goes on a line of its own, not into the content.",
}

DYE_CLASSES = {
    "acid_levelling": "Acid, levelling",
    "acid_milling": "Acid, milling",
    "metal_complex": "1:2 metal complex",
    "reactive": "Reactive",
    "direct": "Direct",
    "disperse": "Disperse",
    "basic": "Basic",
    "natural": "Natural, on a mordant",
}

# ● dyes   ○ some: stains, pale, or only by a special method   – no uptake worth having
_HAIR = "●   ●   ●   ●   ○   ○   ○   ●"
_CELLULOSE = "–   –   –   ●   ●   –   –   ○"
_NOTHING = "–   –   –   –   –   –   –   –"
#                 acid acid 1:2  re-  di-  dis-  ba- natu-
#                 lev. mil. met. act. rect perse sic ral
_UPTAKE = {
    "wool": _HAIR,
    "alpaca": _HAIR,
    "mohair": _HAIR,
    "cashmere": _HAIR,
    "llama": _HAIR,
    "camel": _HAIR,
    "vicuna": _HAIR,
    "yak": _HAIR,
    "guanaco": _HAIR,
    "angora": _HAIR,
    "silk": "          ●   ●   ●   ●   ○   –   ○   ●",
    "nylon": "         ●   ●   ●   ○   ○   ●   –   ○",
    "protein": "       ●   ●   ○   ○   ○   –   –   ○",
    "cotton": _CELLULOSE,
    "linen": _CELLULOSE,
    "hemp": _CELLULOSE,
    "ramie": _CELLULOSE,
    "jute": "          –   –   –   ●   ●   –   ○   ○",
    "viscose": _CELLULOSE,
    "modal": _CELLULOSE,
    "lyocell": _CELLULOSE,
    "cupro": _CELLULOSE,
    "acetate": "       –   –   –   –   –   ●   –   –",
    "triacetate": "    –   –   –   –   –   ●   –   –",
    "polyester": "     –   –   –   –   –   ●   –   –",
    "polylactide": "   –   –   –   –   –   ●   –   –",
    "acrylic": "       –   –   –   –   –   ○   ●   –",
    "elastane": "      ○   ○   ○   –   –   ○   –   –",
    "polypropylene": _NOTHING,
    "metallised": _NOTHING,
    "metal": _NOTHING,
}
_MEANS = {"●": "dyes", "○": "some", "–": "none"}

# {fibre key: {dye class key: "dyes" | "some" | "none"}}
UPTAKE = {
    fibre: dict(zip(DYE_CLASSES, (_MEANS[mark] for mark in row.split()), strict=True)) for fibre, row in _UPTAKE.items()
}

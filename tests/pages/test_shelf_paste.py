"""The shelf pasted from a spreadsheet: looked over, refused by row with reasons, and nothing half done."""

import re
import threading
from datetime import date
from decimal import Decimal
from html import unescape
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, connection
from django.utils import timezone

from recipes.models import Colourway, Recipe
from studio.models import Base, Count, Delivery, Dye, Lot, Movement, Solution, SolutionPart, Studio
from tests import builders
from tests.pages.shelf_forms import boxes, problems

PASTE = "/shelf/paste/"


@pytest.fixture
def maker(cast, client_of, studio):
    return client_of(cast.maker)


def words_of(answer):
    """The text of a page, tags and no-break spaces taken out."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())).replace("\xa0", " ").split())


def box_of(answer):
    """What stands in the box of a page."""
    found = re.search(r'<textarea name="text"[^>]*>\n?(.*?)</textarea>', answer.content.decode(), re.DOTALL)
    return unescape(found[1])


def look(client, slug, text):
    """Paste and read; gives the page."""
    return client.post(f"{PASTE}{slug}/", boxes(client.get(f"{PASTE}{slug}/")) | {"text": text, "do": "read"})


def take(client, slug, page, **changed):
    """Press the button of a page that was looked at; gives the answer."""
    sent = boxes(page) | {"text": box_of(page), "do": "keep"} | changed
    return client.post(f"{PASTE}{slug}/", sent)


def paste(client, slug, text):
    """Look and take, and the page after."""
    answer = take(client, slug, look(client, slug, text))
    assert answer.status_code == 302, words_of(answer)
    return client.get(answer.url)


def refused(page):
    """{row number: its sentences} as the page says them."""
    part = re.search(r'<ul class="rows-said">.*?</ul>', page.content.decode(), re.DOTALL)
    found = {}
    for row in re.findall(r"<li>.*?</li>", part[0], re.DOTALL) if part else ():
        text = " ".join(unescape(re.sub(r"<[^>]+>", " ", row)).replace("\xa0", " ").split())
        found[int(re.match(r"(?:Row|Recipe) ([0-9]+)", text)[1])] = text
    return found


def rows(*cells):
    return "\n".join("\t".join(row) for row in cells) + "\n"


# --- ninety good rows and ten bad ones of ten kinds

BASE_HEAD = ("Name", "Fibre content", "Skein weight (g)", "Length", "Superwash", "Price", "Low under")
FAULTS = [
    (("", "100 % wool", "100", "400 m", "", "", ""), "Name is empty, and it is needed."),
    (("Fault two", "100 % wool", "1,000", "400 m", "", "", ""), "could be 1 or 1000: write 1 or 1000."),
    (("Fault three", "80 % wool, 30 % nylon", "100", "", "", "", ""), "The fibres add up to 110 %"),
    (("Fault four", "75 % wool, 25 % glorp", "100", "", "", "", ""), "“glorp” is not a generic fibre name"),
    (("Fault five", "100 % wool", "-100", "", "", "", ""), "is below zero"),
    (("Fault six", "100 % wool", "100", "400 mL", "", "", ""), "This can't be given in mL: write it in"),
    (("Fault seven", "100 % wool", "100", "", "perhaps", "", ""), "is neither yes nor no"),
    (("Fault eight", "100 % wool", "100", "", "", "12.345", ""), "EUR has 2 digits after the point"),
    (("=A1", "100 % wool", "100", "", "", "", ""), "is a formula and not what came of it: write its value."),
    (("Good 7", "100 % wool", "100", "", "", "", ""), "has this name already: keep one of the two."),
]


def hundred():
    """(the text, [row numbers of the faults]): a fault after every nine good rows."""
    table, at = [BASE_HEAD], []
    for number in range(1, 91):
        table.append(
            (f"Good {number}", "75 % Merino wool, 25 % nylon", f"{100 + number},5", f"{400 + number} m", "yes",
             f"{20 + number}.50", str(number))
        )  # fmt: skip
        if number % 9 == 0:
            table.append(FAULTS[number // 9 - 1][0])
            at.append(len(table))
    return rows(*table), at


def test_ninety_good_rows_are_kept_and_ten_bad_ones_stay_with_their_reasons(maker, cast):
    text, at = hundred()
    page = look(maker, "bases", text)
    said = refused(page)
    assert sorted(said) == at
    for number, (_, sentence) in zip(at, FAULTS, strict=True):
        assert sentence in said[number], said[number]
    assert "90 bases can be kept." in words_of(page)
    assert not Base.objects.exists()

    after = maker.get(take(maker, "bases", page).url)
    assert "90 bases are in the studio now. 10 rows are left in the box" in words_of(after)
    bases = list(Base.objects.prefetch_related("fibres").order_by("pk"))
    assert len(bases) == 90
    for number, base in enumerate(bases, 1):
        assert base.name == f"Good {number}"
        assert (base.skein_g, base.skein_m) == (Decimal(f"{100 + number}.5"), Decimal(400 + number))
        assert (base.superwash, base.price_minor, base.low_skeins) == (True, (20 + number) * 100 + 50, number)
        content = [(fibre.fibre, fibre.percent, fibre.breed) for fibre in base.fibres.all()]
        assert content == [("wool", Decimal(75), "Merino"), ("nylon", Decimal(25), "")]
        assert base.history.get().history_user == cast.maker

    left = box_of(after).splitlines()
    assert left == ["\t".join(BASE_HEAD), *("\t".join(cells) for cells, _ in FAULTS)]
    said = refused(after)
    assert sorted(said) == list(range(2, 12))
    for number, (_, sentence) in zip(range(2, 11), FAULTS[:9], strict=True):
        assert sentence in said[number]
    assert "Good 7 is here already, and its fibre content is 75 % wool (Merino)" in said[11]  # by now


def test_what_was_put_right_goes_after_the_others(maker):
    text, _ = hundred()
    after = paste(maker, "bases", text)
    right = box_of(after).replace("1,000", "100").replace("glorp", "silk")
    after = paste(maker, "bases", right)
    assert Base.objects.count() == 92
    assert len(refused(after)) == 8


# --- each kind, smaller


def test_headings_and_words_as_people_write_them(maker):
    text = rows(
        ("Yarn", "Composition", "Grams", "Yards", "superwash"), ("Plover", "75 merino / 25 nylon", "100", "400", "SW")
    )
    paste(maker, "bases", text)
    base = Base.objects.get()
    assert (base.skein_g, base.superwash, round(base.skein_m)) == (
        100,
        True,
        366,
    )  # 400 yd of 0.9144 m: NIST Handbook 44


def test_dyes(maker):
    after = paste(
        maker,
        "dyes",
        rows(
            ("Colour", "Name", "Class", "SDS", "Shelf place"),
            ("#9C3122", "Brick", "acid milling", "example.org/brick.pdf", "A1"),
            ("goldenrod", "Ochre", "Levelling acid dye", "", "A2"),
            ("", "Soot", "1:2 metal complex", "", "A3"),
            ("#abc", "Mist", "fiber-reactive", "", ""),
            ("reddish", "Plum", "acid milling", "", ""),
            ("", "Moss", "acid", "", ""),
            ("", "Fern", "", "", ""),
        ),
    )
    found = {dye.name: (dye.dye_class, dye.colour, dye.sheet_url) for dye in Dye.objects.all()}
    assert found == {
        "Brick": ("acid_milling", "#9c3122", "https://example.org/brick.pdf"),
        "Ochre": ("acid_levelling", "#daa520", ""),  # CSS Color Module Level 4: goldenrod
        "Soot": ("metal_complex", "", ""),
        "Mist": ("reactive", "#aabbcc", ""),
    }
    said = refused(after)
    assert "“reddish” is no colour that is known here" in said[2]
    assert "could be levelling or milling" in said[3]
    assert "Class is empty, and it is needed." in said[4]
    assert "Left out, since it does not belong here: Shelf place." in words_of(after)
    assert maker.get("/shelf/").status_code == 200


def test_lots_come_in_deliveries_or_were_here_already(maker, cast):
    base, dye = builders.make_base("Sparrow 4-ply"), builders.make_dye("Brick")
    vinegar = builders.make_assistant("Vinegar")
    after = paste(
        maker,
        "lots",
        "What;Amount;Lot;Came;Price;Supplier;Invoice;Strength;Use by\n"
        "sparrow 4-ply;20 skeins;K-204;2026-03-02;168,00;Nettle Bank;R 7;;\n"
        "BRICK;250 g;B1;2026-03-02;18,99;Nettle Bank;R 7;85 %;\n"
        "Vinegar;1/2 L;;;;;;;2027-01-31\n"
        "Brick;20;B2;;;;;;\n"
        "Brick;20 skeins;B3;;;;;;\n"
        "Bricks;20 g;;;;;;;\n"
        "Brick;20 g;B4;03/04/2026;;;;;\n"
        "Vinegar;1 L;;;;;;90;\n"
        "Brick;250 g;B1;2026-03-02;;;;;\n",
    )
    lots = list(Lot.objects.order_by("pk"))
    assert [(lot.substance, lot.received, lot.number, lot.unit) for lot in lots] == [
        (base, Decimal(2000), "K-204", "g"),
        (dye, Decimal(250), "B1", "g"),
        (vinegar, Decimal(500), "", "mL"),
    ]
    delivery = Delivery.objects.get()
    assert (delivery.supplier, delivery.reference) == ("Nettle Bank", "R 7")
    assert [lot.delivery for lot in lots] == [delivery, delivery, None]
    assert [lot.cost_minor for lot in lots] == [16800, 1899, None]
    assert (lots[1].strength_pct, lots[2].use_by) == (Decimal(85), date(2027, 1, 31))
    assert timezone.localdate(lots[0].came_at) == date(2026, 3, 2)
    assert [lot.on_hand_now() for lot in lots] == [2000, 250, 500]
    said = refused(after)
    assert "“20” of what? Write the unit too" in said[2]
    assert "Only yarn comes in skeins" in said[3]
    assert "“Bricks” is not on the shelf yet: put it there first. Is Brick meant?" in said[4]
    assert "could be 3 Apr 2026 or 4 Mar 2026: write 2026-04-03 or 2026-03-04" in said[5]
    assert "Only a dye powder has a strength here" in said[6]
    assert sorted(said) == [2, 3, 4, 5, 6]  # the last row is here by now, and goes
    assert {lot.by for lot in lots} == {cast.maker}


@pytest.mark.parametrize(("strength", "sentence"), [("0", "has some strength"), ("500 %", "400")])
def test_a_pasted_strength_beyond_belief_is_told_and_left_in_its_place(maker, cast, strength, sentence):
    builders.make_dye("Brick")
    after = look(maker, "lots", f"What;Amount;Strength\nBrick;250 g;{strength}\n")
    assert sentence in refused(after)[2] and strength in words_of(after)
    assert not Lot.objects.exists()


def test_bottles_are_traced_to_their_powder(maker, cast):
    dye, soot = builders.make_dye("Brick"), builders.make_dye("Soot")
    day = timezone.make_aware(timezone.datetime(2026, 3, 1))
    brick = Lot.receive(dye=dye, received=Decimal(100), by=cast.maker, came_at=day, number="B1")
    black = Lot.receive(dye=soot, received=Decimal(50), by=cast.maker, came_at=day, strength_pct=Decimal(50))
    page = look(
        maker,
        "bottles",
        rows(
            ("Name", "Amount", "What is in it", "Made", "Kind"),
            ("Brick 1 %", "240 mL", "", "2026-02-20", ""),
            ("Mud", "1/2 L", "Brick 0.5 %, Soot 0.4 %", "2026-03-10", "painting"),
            ("Old dip", "300 mL", "", "", "kept liquor"),
            ("Plum 1 %", "240 mL", "", "", ""),
            ("Thin", "240 mL", "Brick 0 %", "", ""),
            ("Wet", "240 g", "Brick 1 %", "", ""),
            ("Brick 1 %", "240 mL", "Brick 2 %", "", ""),
            ("Bare", "240 mL", "", "", ""),
        ),
    )
    assert "made before its powder came here, so none is taken off" in words_of(page)
    assert "2.5 g taken off Brick lot B1" in words_of(page)
    after = maker.get(take(maker, "bottles", page).url)
    assert [(master.name, master.kind) for master in Solution.objects.order_by("pk")] == [
        ("Brick 1 %", "stock"),
        ("Mud", "painting"),
        ("Old dip", "liquor"),
    ]
    bottles = list(Lot.objects.filter(solution__isnull=False).order_by("pk"))
    assert [bottle.on_hand_now() for bottle in bottles] == [240, 500, 300]
    held = [{content.source: content.g_per_100 for content in bottle.contents.all()} for bottle in bottles]
    assert held == [{brick: Decimal(1)}, {brick: Decimal("0.5"), black: Decimal("0.8")}, {None: None}]
    assert (brick.on_hand_now(), black.on_hand_now()) == (Decimal("97.5"), Decimal(46))
    said = refused(after)
    assert "“Plum” is not on the shelf yet" in said[2]
    assert "A strength is the grams in 100 mL" in said[3]
    assert "write it in" in said[4]
    assert "Brick 1 % is here already, and its content is 1 % Brick there" in said[5]
    assert "Write what is in it with its strength" in said[6]


def test_a_bottle_s_dye_and_strength_may_stand_in_columns_of_their_own(maker, cast):
    builders.receive_powder(cast.maker, dye=builders.make_dye("Moss"))
    page = look(
        maker,
        "bottles",
        rows(
            ("Bottle", "Dye", "Strength", "mL left"),
            ("Moss 1%", "Moss", "1 %", "400"),
            ("Moss 0,5", "", "0,5", "250"),
            ("Pond", "moss", "2", "100"),
            ("Moss 3 %", "Moss", "", "100"),
            ("Slack", "Moss", "", "100"),
            ("Mire 1 %", "Mire", "1 %", "100"),
        ),
    )
    assert "None" not in words_of(page) and "2 % Moss" in words_of(page)
    after = maker.get(take(maker, "bottles", page).url)
    made = {part.solution.name: (part.dye.name, part.g_per_100) for part in SolutionPart.objects.all()}
    assert made == {
        "Moss 1%": ("Moss", 1),
        "Moss 0,5": ("Moss", Decimal("0.5")),
        "Pond": ("Moss", 2),
        "Moss 3 %": ("Moss", 3),
    }
    said = refused(after)
    assert "can't be read: write what is in it with its strength, as Brick 1 %." in said[2]
    assert "Dye “Mire” is not on the shelf yet: put it there first." in said[3]


def test_counts(maker, cast):
    yarn = builders.receive_yarn(cast.maker, skeins=20)
    powder = builders.receive_powder(cast.maker)
    name, dye = yarn.base.name, powder.dye.name
    builders.receive_powder(cast.maker, dye=powder.dye)
    text = rows(
        ("What", "How much is there", "Counted", "Lot", "Note"),
        (name, "17 skeins", "2026-03-20", "", "by the door"),
        (dye, "1 oz", "", "", ""),
        (name, "18", "", "", ""),
        ("Nobody", "1 g", "", "", ""),
        (name, "17 skeins", "2026-03-20", "", ""),
        (name, "17 skeins", "2126-03-20", "", ""),
    )
    page = look(maker, "counts", text)
    assert "Write which under Lot number" in refused(page)[3]
    after = maker.get(take(maker, "counts", page).url)
    count = Count.objects.get()
    assert (count.lot, count.amount, count.why) == (yarn, Decimal(1700), "by the door")
    assert timezone.localdate(count.at) == date(2026, 3, 20)
    assert yarn.on_hand_now() == 1700
    assert "“18” of what?" in refused(after)[3]
    assert "There is no lot of “Nobody” on the shelf" in refused(after)[4]
    assert "still to come" in refused(after)[6]


NOTEBOOK = """Low tide
for 2 skeins of 100 g:
Water 20:1
0.6 % brick
0.2 % ochre
Hold 30 min at 85 °C

Wet slate:
for 200 g:
1.5 % soot

0.4 % brick
for 100 g

Rose hip
1 % rose

Sea fog
for 100 g:
1 % brick
"""


def test_recipes_as_a_notebook_has_them(maker, cast):
    for name in ("Brick", "Ochre", "Soot"):
        builders.make_dye(name)
    page = look(maker, "recipes", NOTEBOOK)
    said = refused(page)
    assert sorted(said) == [3, 4]
    assert "write the colourway's name above it" in said[3]
    assert "there is no rose on the shelf" in said[4]
    assert "Say how much yarn the amounts are for" in said[4]
    after = maker.get(take(maker, "recipes", page).url)
    assert [way.name for way in Colourway.objects.order_by("pk")] == ["Low tide", "Wet slate", "Sea fog"]
    version = Recipe.objects.get(colourway__name="Low tide")
    assert (version.fibre_g, version.skeins, version.liquor_ratio, version.by) == (200, 2, 20, cast.maker)
    dyes = [(i.dye.name, i.amount) for step in version.steps.all() for i in step.ingredients.all() if i.dye]
    assert dyes == [("Brick", Decimal("0.6")), ("Ochre", Decimal("0.2"))]
    assert version.colourway.standard == version
    assert box_of(after) == "0.4 % brick\nfor 100 g\n\nRose hip\n1 % rose\n"
    again = look(maker, "recipes", NOTEBOOK)
    assert "3 rows are here already" in words_of(again)
    other = look(maker, "recipes", NOTEBOOK.replace("0.6 % brick", "0.7 % brick"))
    assert "Low tide is here already and is dyed otherwise there" in refused(other)[1]


def test_recipes_from_a_spreadsheet_with_several_lines_in_a_cell(maker):
    builders.make_dye("Brick")
    base = builders.make_base("Sparrow 4-ply")
    text = (
        "Name,Skeins,Base,How it is dyed,Recipe\r\n"
        'Low tide,2,Sparrow 4-ply,Hand-painted,"Water 20:1\r\n0.6 % brick\r\n""last"" third"\r\n'
        'Fog,,Sparrow 4-ply,,"for 3 skeins\r\n0.1 % brick"\r\n'
        'Mud,1,Robin,,"1 % brick"\r\n'
    )
    page = look(maker, "recipes", text)
    assert '“"last" third”' in refused(page)[2].replace("”last”", '"last"') or "Line 3" in refused(page)[2]
    assert "There is no base “Robin” on the shelf" in refused(page)[4]
    take(maker, "recipes", page)
    version = Recipe.objects.get()
    assert (version.colourway.name, version.fibre_g, version.skeins) == ("Fog", Decimal(300), 3)
    assert list(version.bases.all()) == [base]


# --- nothing half done, nothing twice, nothing lost


def test_nothing_is_kept_when_the_database_fails_midway(maker, monkeypatch):
    text, _ = hundred()
    page = look(maker, "bases", text)
    whole, calls = Base.write_fibres, []

    def fails(base, content):
        calls.append(base)
        if len(calls) == 45:
            raise IntegrityError("the disk is full")
        whole(base, content)

    monkeypatch.setattr(Base, "write_fibres", fails)
    answer = take(maker, "bases", page)
    assert answer.status_code == 422
    assert not Base.objects.exists()
    assert box_of(answer) == text
    monkeypatch.undo()
    take(maker, "bases", answer)
    assert Base.objects.count() == 90


def test_an_error_of_another_kind_keeps_nothing_either(maker, monkeypatch):
    page = look(maker, "dyes", rows(("Name", "Class"), ("Brick", "direct"), ("Soot", "direct")))
    whole = Dye.save

    def fails(dye, *args, **kwargs):
        if dye.name == "Soot":
            raise OSError("gone")
        whole(dye, *args, **kwargs)

    monkeypatch.setattr(Dye, "save", fails)
    with pytest.raises(OSError, match="gone"):
        take(maker, "dyes", page)
    assert not Dye.objects.exists()


def test_a_second_press_makes_nothing_more(maker):
    builders.make_dye("Brick")
    page = look(maker, "lots", rows(("What", "Amount"), ("Brick", "100 g")))
    first, second = take(maker, "lots", page), take(maker, "lots", page)
    assert (first.status_code, second.status_code) == (302, 302)
    assert first.url == second.url
    assert Lot.objects.count() == 1


def test_going_back_and_sending_the_old_page_anew_makes_nothing_more(maker):
    builders.make_dye("Brick")
    page = look(maker, "lots", rows(("What", "Amount"), ("Brick", "100 g")))
    take(maker, "lots", page)
    again = take(maker, "lots", page, once=str(uuid4()))  # another number, the same rows
    assert again.status_code == 422
    assert "1 row is here already" in words_of(again)
    assert Lot.objects.count() == 1


def test_what_changed_since_it_was_looked_at_is_looked_at_again(maker):
    text = rows(("Name", "Class"), ("Brick", "direct"))
    page = look(maker, "dyes", text)
    answer = take(maker, "dyes", page, text=text + "Soot\tdirect\n")
    assert answer.status_code == 422
    assert "has changed since you looked" in words_of(answer)
    assert "Soot" in box_of(answer)
    assert not Dye.objects.exists()
    builders.make_dye("Brick", dye_class="direct")
    answer = take(maker, "dyes", page)
    assert "has changed since you looked" in words_of(answer)
    assert Dye.objects.count() == 1


def test_the_box_waits_for_its_person(maker, cast, client_of):
    text = rows(("Name", "Class"), ("Brick", "acid"))
    look(maker, "dyes", text)
    assert box_of(maker.get(f"{PASTE}dyes/")) == text
    assert box_of(maker.get(PASTE)) == ""
    assert box_of(client_of(cast.owner).get(f"{PASTE}dyes/")) == ""


def test_the_same_rows_again_are_left_as_they_are(maker):
    text = rows(("Name", "Content", "Weight"), ("Sparrow", "75 % wool, 25 % nylon", "100 g"))
    paste(maker, "bases", text)
    page = look(maker, "bases", text)
    assert "1 row is here already" in words_of(page)
    assert "Sparrow is here already and left as it is" in words_of(page)
    assert "Put" not in words_of(page)
    other = look(maker, "bases", text.replace("75 % wool", "70 % wool"))
    assert "its fibre content is 75 % wool, 25 % nylon (polyamide) there" in refused(other)[2]


# --- what spreadsheets send


@pytest.mark.parametrize(
    "data",
    [
        "Name;Class\r\nBrûlée;direct\r\n".encode(),
        b"\xef\xbb\xbf" + "Name,Class\nBrûlée,direct\n".encode(),
        "Name\tClass\r\nBrûlée\tdirect\r\n".encode("utf-16"),
        "Name\tClass\r\nBrûlée\tdirect\r\n".encode("utf-16-le"),
        "Name;Class\r\nBrûlée;direct\r\n".encode("cp1252"),
        'sep=;\r\n"Name";"Class"\r\n"Brûlée";"direct"\r\n'.encode(),
        "Name,Class\rBrûlée,direct\r".encode(),
    ],
)
def test_a_file_as_a_spreadsheet_saves_it(maker, data):
    file = SimpleUploadedFile("dyes.csv", data, "text/csv")
    page = maker.post(f"{PASTE}dyes/", {"once": str(uuid4()), "text": "", "file": file, "do": "read"})
    take(maker, "dyes", page)
    assert Dye.objects.get().name == "Brûlée"


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"PK\x03\x04" + b"\x00" * 100, "This is a workbook"),
        (b"\xd0\xcf\x11\xe0\xa1", "This is a workbook"),
        (b"\x89PNG\r\n\x1a\n" + bytes(range(32)) * 30, "This file is not text"),
        (b"Name;Class\n" + b"x" * 1_000_001, "too large"),
    ],
)
def test_a_file_that_is_no_list_is_refused(maker, data, sentence):
    file = SimpleUploadedFile("dyes.xlsx", data)
    page = maker.post(f"{PASTE}dyes/", {"once": str(uuid4()), "text": "", "file": file, "do": "read"})
    assert page.status_code == 422
    assert sentence in problems(page)


def test_a_file_and_a_full_box_together_are_asked_about(maker):
    file = SimpleUploadedFile("dyes.csv", b"Name;Class\nSoot;direct\n")
    page = maker.post(f"{PASTE}dyes/", {"once": str(uuid4()), "text": "Name\tClass", "file": file, "do": "read"})
    assert "empty one of the two" in problems(page)
    assert box_of(page) == "Name\tClass"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("Brick\tdirect\n", "The first row must say what the columns are"),
        ("Name\nBrick\n", "What is missing is a column with the heading “Class”"),
        ("Name\tDye\tClass\nBrick\tBrick\tdirect\n", "both say “Name”"),
        ("Name\tClass\n", "Only the headings are here"),
        ('Name\tClass\n"Brick\tdirect\n', "has a quotation mark that is never closed"),
        ('Name\tClass\n"Brick"s\tdirect\n', "right after a closing quotation mark"),
        ("Name\tClass\n" + "Brick\tdirect\n" * 301, "That is 301 rows, and 300 are taken at once"),
        ("Name\tClass\n" + "x" * 200_000, "Row 2 has a cell that is too long"),
        ("\t".join(["Name"] + ["x"] * 60) + "\n", "That is 61 columns"),
        ("x" * 300_001, "has 300001 characters and 300000 fit"),
    ],
)
def test_a_paste_that_can_not_be_read_says_why_and_loses_nothing(maker, text, sentence):
    page = look(maker, "dyes", text)
    assert page.status_code == 422
    assert sentence in problems(page)
    assert box_of(page) == text
    assert not Dye.objects.exists()


def test_odd_cells_are_refused_or_taken_as_they_are(maker):
    page = look(
        maker,
        "dyes",
        rows(
            ("Name", "Class", "Note"),
            ("#REF!", "direct", ""),
            ("x" * 81, "direct", ""),
            ("Big", "direct", "y" * 4001),
            ("A\x00\x07Z", "direct", "☃🧶"),
            ("'-5 red", "direct", ""),
            ("Over", "direct", "", "more"),
            ("@minus", "direct", "+1"),
            ("<b>Bold</b>", "direct", ""),
        ),
    )
    said = refused(page)
    assert sorted(said) == [2, 3, 4, 7]
    assert "is what a spreadsheet writes when it can't work a cell out" in said[2]
    assert "has 81 characters and 80 fit" in said[3]
    assert "4001 characters are too many for one cell" in said[4]
    assert "There are more cells than headings" in said[7]
    take(maker, "dyes", page)
    assert sorted(Dye.objects.values_list("name", flat=True)) == ["-5 red", "<b>Bold</b>", "@minus", "AZ"]
    assert "<b>Bold" not in page.content.decode()


@pytest.mark.parametrize("slug", ["bases", "dyes", "lots", "bottles", "counts", "recipes"])
@pytest.mark.parametrize("system", ["metric", "us"])
def test_the_example_of_each_kind_is_read_as_it_stands(maker, cast, slug, system):
    Studio.objects.update(system=system)
    if slug not in ("bases", "dyes"):
        builders.make_base("Sparrow 4-ply", skein_g=Decimal("99.223") if system == "us" else Decimal(100))
        builders.make_assistant("Vinegar")
        for name in ("Brick", "Ochre", "Soot"):
            builders.make_dye(name)
    if slug in ("bottles", "counts"):
        for dye in Dye.objects.all():
            number = "B1" if dye.name == "Brick" else ""
            Lot.receive(dye=dye, received=Decimal(100), number=number, by=cast.maker, came_at=builders.NOON)
        Lot.receive(base=Base.objects.get(), received=2000, number="K-204", by=cast.maker, came_at=builders.NOON)
    page = maker.get(f"{PASTE}{slug}/?example=1")
    assert page.status_code == 200
    assert refused(page) == {}
    assert "can be kept" in words_of(page)
    file = maker.get(f"{PASTE}{slug}/list.csv")
    assert file.headers["Content-Disposition"] == f'attachment; filename="{slug}.csv"'
    assert refused(look(maker, slug, file.content.decode("utf-8-sig"))) == {}


def test_prices_in_another_currency_are_not_taken_for_ours(maker):
    text = "Name;Weight;Price ({})\nSparrow;100 g;20\n"
    assert "is in USD, and this studio counts in EUR" in problems(look(maker, "bases", text.format("USD")))
    assert "is in $, and this studio counts in EUR" in problems(look(maker, "bases", text.format("$")))
    paste(maker, "bases", text.format("EUR"))
    assert Base.objects.get().price_minor == 2000


# --- who, and at what cost


@pytest.mark.parametrize(("role", "status"), [("owner", 200), ("maker", 200), ("helper", 403), ("viewer", 403)])
def test_makers_paste(cast, client_of, studio, role, status):
    client = client_of(getattr(cast, role))
    assert client.get(PASTE).status_code == status
    assert client.post(f"{PASTE}dyes/", {"once": str(uuid4()), "text": ""}).status_code == status
    assert client.get(f"{PASTE}dyes/list.csv").status_code == status


def test_there_is_no_seventh_kind(maker):
    assert maker.get(f"{PASTE}pots/").status_code == 404
    assert maker.get(f"{PASTE}pots/list.csv").status_code == 404


@pytest.mark.parametrize("slug", ["bases", "dyes", "lots", "bottles", "counts", "recipes"])
def test_looking_costs_the_same_however_many_rows(maker, cast, django_assert_max_num_queries, slug):
    for number in range(30):
        powder = builders.receive_powder(cast.maker, dye=builders.make_dye(f"Dye {number}"))
        assert powder
    line = {
        "bases": ("Name\tContent\tWeight\n", "Base {}\twool\t100 g\n"),
        "dyes": ("Name\tClass\n", "New {}\tdirect\n"),
        "lots": ("What\tAmount\n", "Dye {}\t100 g\n"),
        "bottles": ("Name\tAmount\tHolds\n", "Bottle {0}\t100 mL\tDye {0} 1 %\n"),
        "counts": ("What\tAmount\n", "Dye {}\t90 g\n"),
        "recipes": ("Name\tWeight\tRecipe\n", "Way {0}\t100 g\t1 % dye {0}\n"),
    }[slug]

    def text(many):
        return line[0] + "".join(line[1].format(number) for number in range(many))

    look(maker, slug, text(1))
    with django_assert_max_num_queries(40) as few:
        page = look(maker, slug, text(2))
    assert refused(page) == {}
    with django_assert_max_num_queries(len(few)):
        page = look(maker, slug, text(30))
    assert refused(page) == {}
    assert "30 " in words_of(page)


def test_keeping_costs_no_more_than_the_rows_that_are_written(maker, django_assert_max_num_queries):
    """A base is a row with its history, and each fibre too; two fibres are cleared and written in one piece."""

    def many(number):
        names = "".join(f"Base {number}-{each}\t75 % wool, 25 % nylon\t100 g\n" for each in range(number))
        return look(maker, "bases", f"Name\tContent\tWeight\n{names}")

    page = many(1)
    with django_assert_max_num_queries(80) as one:
        take(maker, "bases", page)
    page = many(11)
    with django_assert_max_num_queries(len(one) + 10 * 16):
        take(maker, "bases", page)
    assert Movement.objects.count() == 0


@pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite lets one write at a time")
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("same_page", [True, False])
def test_of_two_that_press_at_once_one_puts_it_on_the_shelf(client_of, same_page):
    cast = builders.make_cast()
    Studio.get()
    builders.make_dye("Brick")
    maker, owner = client_of(cast.maker), client_of(cast.maker if same_page else cast.owner)
    text = rows(("What", "Amount"), *[("Brick", f"{number} g") for number in range(1, 21)])
    page = look(maker, "lots", text)
    other = page if same_page else look(owner, "lots", text)
    gate, answers = threading.Barrier(2), []

    def press(client, seen):
        gate.wait()
        try:
            answers.append(take(client, "lots", seen).status_code)
        finally:
            connection.close()

    threads = [threading.Thread(target=press, args=args) for args in ((maker, page), (owner, other))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(answers) == ([302, 302] if same_page else [302, 422])
    assert Lot.objects.count() == 20

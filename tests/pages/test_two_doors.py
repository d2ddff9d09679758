"""One table of what can be logged, sent through both doors: a page's form without JavaScript, and a machine.

Each row is sent as the page sends it, as a machine sends the same fields, and as a machine sends JSON, with everything
put back in between: the same rows are stored under the same numbers, and the same sentences say what is wrong.
"""

import html
import json
import re
from contextlib import contextmanager
from dataclasses import dataclass, field
from uuid import UUID

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction

from batches import intake
from batches.models import AdditionLot, Batch, Entry, PhotoTaken, Timer
from recipes.models import HouseStep
from studio.models import Movement
from tests import builders
from tests.maths.test_sound import recorded

SENT = UUID("0f0e0d0c-0b0a-4908-8706-050403020100")
JSON = {"accept": "application/json"}


@dataclass(frozen=True)
class Case:
    """`right` is saved; `wrong` is refused at `where`, a field or "__all__". {names} stand for keys of the world."""

    right: dict
    wrong: dict
    where: str
    photo: bytes | None = None


def photo(colour="#9c3122"):
    held = builders.io.BytesIO()
    builders.Image.new("RGB", (40, 30), colour).save(held, "JPEG")
    return held.getvalue()


# By kind, as in intake.KINDS. Whoever adds a kind gives it a row here.
CASES = {
    "bottle": Case(
        {"lot": "{red}", "amount": "5,5", "how": "painted", "pots": "all"}, {"lot": "{red}", "amount": "3 g"}, "amount"
    ),
    "powder": Case(
        {"lot": "{soot}", "amount": "0.45", "how": "sprinkled"}, {"lot": "{soot}", "amount": "1 tsp"}, "amount"
    ),
    "other": Case(
        {"lot": "{acid}", "amount": "1 1/2", "amount_unit": "metric_tbsp"}, {"lot": "{acid}", "what": "Plum"}, "what"
    ),
    "water": Case({"amount": "2 L"}, {"amount": "plenty"}, "amount"),
    "reading": Case({"temperature": "85", "ph": "4,6", "clear": "nearly"}, {"ph": "15"}, "ph"),
    "step": Case({"step": "heat", "minutes": "20", "temperature": "85", "note": "Slowly"}, {"step": "other"}, "note"),
    "usual": Case({"house_step": "{usual}", "pots": "all"}, {"house_step": "999999"}, "house_step"),
    "again": Case({"source": "{theirs}"}, {"source": "{struck}"}, "source"),
    "move": Case(
        {"what": "liquor_out", "volume": "1.5", "volume_unit": "L"}, {"where": "drying", "skeins": "3"}, "skeins"
    ),
    "skein": Case({"number": "2"}, {"number": "0"}, "number", photo()),
    "photo": Case({"stage": "dry", "note": "By the window"}, {"stage": "sideways"}, "stage", photo()),
    "talk": Case({"note": "More acid next time"}, {"note": "Late", "when": "soon"}, "when", recorded("ogg", 0.5)),
    "check": Case({"what": "cloth", "result": "trace"}, {"what": "cloth"}, "result"),
    "work": Case({"minutes": "1/3"}, {"minutes": "20", "quick": "15"}, "minutes"),
    "words": Case({"note": "Smells of sheep", "when": "2026-03-14T12:20", "paper": "on"}, {}, "note"),
    "timer": Case({"what": "hold", "minutes": "30"}, {"what": "hold", "minutes": "30", "quick": "5"}, "minutes"),
    "timer_end": Case({"target": "{timer}"}, {"target": "{their_timer}"}, "__all__"),
    "timer_more": Case({"target": "{timer}", "minutes": "10"}, {"target": "{timer}", "minutes": "soon"}, "minutes"),
    "answer": Case(
        {"question": "amount", "about": "{unweighed}", "say": "unknown"},
        {"question": "amount", "about": "{unweighed}", "say": "perhaps"},
        "say",
    ),
    "strike": Case({"target": "{mine}"}, {"target": "{old}"}, "reason"),
    "tick": Case({"line": "{line}", "amount": "50"}, {"line": "{their_line}"}, "line"),
    "weighed": Case({"line": "{line}"}, {"line": "{heat}"}, "__all__"),
    "all_weighed": Case({}, {"pots": "none"}, "pots"),
    "done_to_here": Case({"line": "{heat}"}, {"line": "{their_line}"}, "line"),
}


def test_every_kind_has_its_row():
    assert CASES.keys() == intake.KINDS.keys(), (
        "a kind of entry without a row in the table of both doors, or the reverse"
    )


@dataclass
class World:
    person: object
    pot: Batch
    keys: dict = field(default_factory=dict)

    def fields(self, kind, said):
        said = {name: value.format(**self.keys) for name, value in said.items()}
        return {"kind": kind, "id": str(SENT), "by": str(self.person.pk)} | said


@pytest.fixture
def world(cast):
    with time_machine.travel(builders.hours(1), tick=False):
        helper = cast.helper
        red, acid, soot = builders.bottle(helper), builders.receive_assistant(helper), builders.receive_powder(helper)
        run = builders.run_with_pots(helper, lines=[(red, 40), (None,), (acid, 15)])
        pot, other = run.batches.order_by("number")
        elsewhere = builders.one_pot(helper, lines=[(red, 10)])
        theirs = builders.addition(helper, other, red, 5, at=builders.hours(1))
        struck = builders.words(helper, other, at=builders.hours(1))
        builders.Strike.log(other, builders.stamp(helper, builders.hours(1)), target=struck.pk)
        timers = [
            Timer.log(one, builders.stamp(helper, builders.hours(1)), what="soak", minutes=30)
            for one in (pot, elsewhere)
        ]
        keys = {
            "red": red.pk,
            "acid": acid.pk,
            "soot": soot.pk,
            "theirs": theirs.pk,
            "struck": struck.pk,
            "usual": HouseStep.objects.create(name="Long soak", kind="soak", minutes=30).pk,
            "mine": builders.addition(helper, pot, red, 5, at=builders.hours(1)).pk,
            "unweighed": builders.addition(helper, pot, soot, at=builders.hours(1)).pk,
            "old": builders.words(helper, pot, at=builders.NOON).pk,
            "timer": timers[0].pk,
            "their_timer": timers[1].pk,
            "line": pot.plan.get(position=1).pk,
            "heat": pot.plan.get(position=2).pk,
            "their_line": elsewhere.plan.get().pk,
        }
        yield World(helper, pot, keys)


# The doors. Each answers (whether it is kept, {field: sentences})


def sent_with(kind, file):
    """The file of a case, in the box of its kind."""
    if file is None:
        return {}
    if kind == "talk":
        return {"sound": SimpleUploadedFile("a.ogg", file, "audio/ogg")}
    return {"photos": SimpleUploadedFile("a.jpg", file, "image/jpeg")}


def by_page(browser, world, fields, photo):
    """As a browser sends the page's form, and what a person then reads."""
    files = sent_with(fields["kind"], photo)
    answer = browser.post(f"/sink/{world.pot.pk}/log/", fields | files, follow=True)
    shown = html.unescape(re.sub(r"<[^>]+>", "", answer.content.decode()))
    return answer, shown


def by_machine(browser, world, fields, photo):
    files = sent_with(fields["kind"], photo)
    return browser.post(f"/sink/{world.pot.pk}/log/", fields | files, headers=JSON)


def by_json(browser, world, fields, photo):
    path = f"/sink/{world.pot.pk}/log/"
    return browser.post(path, json.dumps(fields), content_type="application/json", headers=JSON)


@contextmanager
def put_back():
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def stored():
    """Every row that the log and the shelf have, in order, but for keys that a database counts up."""
    entries = Entry.objects.in_order().with_details()
    found = [(facts(entry), facts(entry.detail) if entry.detail is not None else None) for entry in entries]
    shelf = Movement.objects.order_by("pk").values_list("lot", "kind", "amount", "at", "by", "why")
    parts = AdditionLot.objects.order_by("addition", "lot").values_list("addition", "lot", "amount")
    return found, list(shelf), list(parts), list(Batch.objects.order_by("pk").values_list("where", "state"))


COUNTED_UP = {"movement", "kept"}


def facts(row):
    said = {one.attname: getattr(row, one.attname) for one in row._meta.concrete_fields if one.name not in COUNTED_UP}
    return type(row).__name__, said


def photo_of(kind, door):
    """JSON holds no files: a kind that may do without them is sent so too, and one that must not, not at all."""
    return None if door is by_json else CASES[kind].photo


def doors_of(kind):
    return [by_machine] if kind in ("photo", "talk") else [by_machine, by_json]


@pytest.mark.parametrize("kind", CASES)
def test_the_same_is_stored(world, client_of, kind):
    browser, fields = client_of(world.person), world.fields(kind, CASES[kind].right)
    before = stored()
    for door in doors_of(kind):
        photo = photo_of(kind, door)
        with put_back():
            answer, shown = by_page(browser, world, fields, photo)
            assert answer.status_code == 200 and answer.redirect_chain, shown
            paged = stored()
            # Sent once more through the other door it is known: the doors are one.
            again = door(browser, world, fields, photo)
            assert (again.status_code, again.json()["state"]) == (200, "already")
            assert stored() == paged != before
        with put_back():
            answer = door(browser, world, fields, photo)
            assert (answer.status_code, answer.json()) == (201, {"id": str(SENT), "state": "saved", "errors": {}})
            assert stored() == paged
    assert PhotoTaken.objects.count() == 0


@pytest.mark.parametrize("kind", CASES)
def test_the_same_is_refused_in_the_same_words(world, client_of, kind):
    case = CASES[kind]
    browser, fields = client_of(world.person), world.fields(kind, case.wrong)
    old = time_machine.travel(builders.hours(3), tick=False)  # by now a line of an hour ago needs a reason
    before = stored()
    with old:
        page, shown = by_page(browser, world, fields, case.photo)
        said = [door(browser, world, fields, photo_of(kind, door)) for door in doors_of(kind)]
    assert [answer.status_code for answer in said] == [422] * len(said)
    errors = said[0].json()["errors"]
    assert case.where in errors and all(answer.json()["errors"] == errors for answer in said)
    assert page.redirect_chain or page.status_code == 422
    form = page.context.get("form") if not page.redirect_chain else None
    assert form is None or {name: list(found) for name, found in form.errors.items()} == errors
    for sentence in [sentence for found in errors.values() for sentence in found]:
        assert sentence in shown and sentence[-1] in ".”"
    assert stored() == before


def test_json_may_say_numbers_and_yes_as_json_does(world, client_of):
    browser = client_of(world.person)
    typed = world.fields("tick", {"line": "{line}", "amount": "50.5", "pots": "this"})
    native = typed | {"line": int(typed["line"]), "amount": 50.5, "by": world.person.pk, "skip": False, "note": None}
    assert by_json(browser, world, native, None).status_code == 201
    assert by_machine(browser, world, typed, None).json()["state"] == "already"


@pytest.mark.parametrize(
    "number", ["1e99999999999999999999", "-1e-99999999999999999999", "NaN", "Infinity", "9" * 5000]
)
def test_a_number_out_of_this_world_is_said_to_be_one(world, client_of, number):
    typed = world.fields("tick", {"line": "{line}", "amount": "NUMBER"})
    said = json.dumps(typed).replace('"NUMBER"', number)
    path = f"/sink/{world.pot.pk}/log/"
    answer = client_of(world.person).post(path, said, content_type="application/json", headers=JSON)
    assert (answer.status_code, list(answer.json()["errors"])) == (422, ["amount"])


@pytest.mark.parametrize("kind", ["strike", "timer_end"])
def test_what_names_itself_is_refused_in_words(world, client_of, kind):
    fields = world.fields(kind, {"target": str(SENT), "reason": "It was never there"})
    answer = by_machine(client_of(world.person), world, fields, None)
    assert (answer.status_code, list(answer.json()["errors"])) == (422, ["__all__"])
    assert "itself" in answer.json()["errors"]["__all__"][0]

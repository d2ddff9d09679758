"""From an output, its base and its checks to the words that are printed."""

from types import SimpleNamespace
from uuid import uuid4

import pytest

from batches import tags
from batches.models import Check, Finish, Output, TagPrint
from batches.tag_sheet import tag_sheet
from studio.models import Studio
from tests import builders
from tests.builders import clock, hours, stamp


@pytest.fixture
def made(cast, studio):
    """Two finished pots of two skeins each, of which nobody has said whether they match."""
    studio.name, studio.address, studio.contact = "Lamp Lane Dyehouse", "1 Lamp Lane, Quernstow", "hello@example.org"
    studio.save()
    yarn = builders.receive_yarn(cast.maker, builders.make_base("Sparrow"), skeins=10)
    run = builders.run_with_pots(cast.maker, yarn, colourway=builders.colourway(cast.maker, "Low tide"))
    return SimpleNamespace(run=run, by=cast.maker, yarn=yarn)


def finish(made, **facts):
    for batch in made.run.batches.order_by("number"):
        builders.finish(made.by, batch, at=hours(3), **facts)
    return list(Output.objects.order_by("yarn__batch__number"))


def test_a_tag_says_what_the_base_and_the_run_say(made):
    output = finish(made)[0]
    face = tags.face_of(output, price_minor=2895)
    assert (face.colourway, face.base, face.dye_lot, face.price) == ("Low tide", "Sparrow", made.run.code, "€28.95")
    assert face.content.startswith("75") and "wool" in face.content.lower()
    assert face.net.replace("\xa0", " ") == "100 g / 3.53 oz" and " / " in face.length
    assert face.maker == ("Lamp Lane Dyehouse", "1 Lamp Lane, Quernstow", "hello@example.org")
    assert "Wash cool, separately the first time." in face.care


def test_cool_and_separate_goes_only_when_a_person_says_so(made):
    output = finish(made)[0]
    assert not any("separately" in line for line in tags.face_of(output, price_minor=None, first_wash=False).care)


@pytest.mark.parametrize(("match", "lots"), [(True, ["", ""]), (None, ["", ""]), (False, ["-1", "-2"])])
def test_whether_the_pots_match_decides_the_dye_lot(made, match, lots):
    outputs = finish(made, pots_match=match)
    faces = [tags.face_of(output, price_minor=None) for output in outputs]
    assert [face.dye_lot for face in faces] == [f"{made.run.code}{pot}" for pot in lots]


def test_pots_that_do_not_match_show_their_own_dye(made):
    jar = builders.receive_powder(made.by, builders.make_dye("Rust"))
    builders.addition(made.by, made.run.batches.get(number=1), jar, 2)
    first, second = finish(made, pots_match=False)
    assert [dye.name for dye in tags.face_of(first, price_minor=None).dyes] == ["Rust"]
    assert tags.face_of(second, price_minor=None).dyes == ()


def test_no_tag_before_the_fibre_content_is_complete(made):
    output = finish(made)[0]
    made.yarn.base.fibres.last().delete()
    with pytest.raises(tags.NotReady, match="does not add up to 100 %"):
        tags.face_of(output, price_minor=None)


def test_no_tag_for_a_yarn_nobody_knows(cast):
    unnamed = builders.BatchYarn(source="unlabelled", words="Grey hank", skeins=1, skein_g=100)
    run = builders.Run.plan(by=cast.maker, day=hours(0).date(), pots=[{"yarns": [unnamed]}], clock=clock())
    run.start(by=cast.maker, clock=clock())
    builders.finish(cast.maker, run.batches.get(), at=hours(3))
    with pytest.raises(tags.NotReady, match="Nobody knows what this yarn is made of"):
        tags.face_of(Output.objects.get(), price_minor=None)


def test_a_pot_that_bled_says_so_until_a_retest_holds(made):
    batch = made.run.batches.get(number=1)
    Check.log(batch, stamp(made.by, hours(1)), what="cloth", result="a_lot")
    first, second = finish(made)
    assert any("will release colour" in line for line in tags.face_of(first, price_minor=None).care)
    assert not any("will release" in line for line in tags.face_of(second, price_minor=None).care)
    Check.log(batch, stamp(made.by, hours(4)), what="cloth", result="none")
    assert not any("will release" in line for line in tags.face_of(first, price_minor=None).care)


def test_the_worse_of_cloth_and_wash_counts(made):
    batch = made.run.batches.get(number=1)
    Check.log(batch, stamp(made.by, hours(1)), what="wash", result="running")
    Check.log(batch, stamp(made.by, hours(2)), what="cloth", result="none")
    output = finish(made)[0]
    assert tags.care_of(output, Studio.get()).hold


def test_a_printed_sheet_says_the_same_words_whatever_changes_later(made, cast):
    output = finish(made)[0]
    face = tags.face_of(output, price_minor=2895, per_kilogram=True)
    sheet = uuid4()
    tags.keep_sheet([(output, face, 2, 2895)], sheet=sheet, design="swing", paper="A4", start_at=1, by=cast.maker)
    base = made.yarn.base
    base.name, base.price_minor = "Renamed", 9999
    base.save()
    assert tags.face_as_printed(TagPrint.objects.get(sheet=sheet)) == face


def test_printing_puts_the_pot_on_the_shelf_and_only_that_pot(made, cast):
    output = finish(made)[0]
    face = tags.face_of(output, price_minor=None)
    facts = {"design": "swing", "paper": "A4", "start_at": 1, "by": cast.maker}
    tags.keep_sheet([(output, face, 2, None)], sheet=uuid4(), clock=clock(hours(5)), **facts)
    assert [batch.where for batch in made.run.batches.order_by("number")] == ["stored", "to_tag"]


def test_a_later_verdict_leaves_the_yarn_on_the_shelf(made, cast):
    output = finish(made)[0]
    facts = {"design": "swing", "paper": "A4", "start_at": 1, "by": cast.maker}
    tags.keep_sheet([(output, tags.face_of(output, price_minor=None), 2, None)], sheet=uuid4(), **facts)
    batch = made.run.batches.get(number=1)
    Finish.log(batch, stamp(cast.maker, hours(30)), outputs=[], verdict="standard")
    batch.refresh_from_db()
    assert batch.where == "stored"


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_sheet_comes_out_as_a_pdf(made, paper):
    faces = [(tags.face_of(output, price_minor=2895), 2) for output in finish(made)]
    assert tag_sheet(faces, "swing", paper).startswith(b"%PDF")


def test_the_facts_of_a_run_are_asked_once(made, cast, django_assert_max_num_queries):
    outputs = [Output.objects.select_related("yarn__batch__run").get(pk=output.pk) for output in finish(made)]
    with django_assert_max_num_queries(9):
        facts = tags.RunFacts.of(made.run)
    studio = Studio.get()
    for output in outputs:
        tags.content_of(output, studio)
    with django_assert_max_num_queries(3 * len(outputs) * 2):
        for output in outputs:
            tags.face_of(output, price_minor=None, studio=studio, facts=facts)

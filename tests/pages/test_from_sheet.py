"""Copied from the bench sheet: its rows in its order, each as told or as written, through the one way in."""

from datetime import timedelta
from decimal import Decimal
from types import SimpleNamespace
from uuid import uuid4

import pytest
from django.utils import timezone
from lxml import html

from batches import bench_sheet
from batches.models import Addition, Batch, Entry, PhotoTaken, PlanLine, Run, StepDone, TimeFrom
from tests import builders
from tests.builders import stamp
from tests.pages.run_forms import BAD, boxes, sentences


@pytest.fixture
def at(cast, client_of, studio):
    red = builders.bottle(cast.maker)
    soot = builders.receive_powder(cast.maker)
    acid = builders.receive_assistant(cast.maker)
    yarn = builders.receive_yarn(cast.maker, skeins=40)
    return SimpleNamespace(red=red, soot=soot, acid=acid, yarn=yarn, by=cast.maker, browser=client_of(cast.helper))


def begun(at, pots=2, told=None, vessel=None):
    """A run that was started the day before yesterday. `told`: mL of the red in each pot; by default all alike."""
    each = [
        {
            "vessel": vessel,
            "fibre_g": Decimal(200),
            "yarns": [builders.shelf_yarn(at.yarn, 2)],
            "lines": [
                PlanLine(step="add", water=True, exact=4000, told=4000, unit="mL"),
                builders.plan_line(at.red, 30 if told is None else told[number]),
                builders.plan_line(at.soot, "0.4"),
                builders.plan_line(step="heat", words="Heat to 85 °C", temperature_c=85),
                builders.plan_line(at.acid, 20),
            ],
        }
        for number in range(pots)
    ]
    then = timezone.now() - timedelta(days=2)
    run = Run.plan(by=at.by, day=then.date(), pots=each, clock=builders.clock(then))
    run.start(by=at.by, clock=builders.clock(then))
    return run


def line(run, pot, position):
    return PlanLine.objects.get(batch__run=run, batch__number=pot, position=position)


def address(run):
    return f"/runs/{run.code}/paper/"


def day_of(run):
    return run.day + timedelta(days=1)


def send(at, run, *cells, page=None, **more):
    """`cells`: triples of pot, position and what is written in its boxes."""
    data = {"page": str(page or uuid4()), "day": str(day_of(run)), "by": at.by.pk}
    data |= {"row-TOTAL_FORMS": 0, "row-INITIAL_FORMS": 0}
    for pot, position, said in cells:
        data |= {f"line-{line(run, pot, position).pk}-{box}": value for box, value in said.items()}
    return at.browser.post(address(run), data | more)


def clock(entry):
    return timezone.localtime(entry.at).strftime("%H:%M")


def test_the_rows_stand_as_on_the_sheet(at):
    run = begun(at, told=[30, 60])
    page = html.fromstring(at.browser.get(address(run)).content.decode())
    rows = page.xpath("//ol[@class='sheet-rows']/li")
    names = [row.xpath("h3")[0].text_content() for row in rows]
    assert names == ["Water", str(at.red.substance), str(at.soot.substance), "Heat to 85 °C", str(at.acid.substance)]
    told = [[b.text.replace("\xa0", " ") for b in row.xpath(".//b")] for row in rows]
    assert told == [["4 L", "4 L"], ["30 mL", "60 mL"], ["0.4 g", "0.4 g"], [], ["20 mL", "20 mL"]]


def test_what_was_told_and_what_was_written_goes_in_at_its_time(at):
    run = begun(at, told=[30, 60])
    answer = send(
        at,
        run,
        (1, 1, {"told": "on", "at": "9:05"}),
        (2, 1, {"amount": "3.5 L", "at": "9:07"}),
        (1, 2, {"told": "on"}),
        (2, 2, {"amount": "62", "at": "9:20"}),
        (1, 4, {"amount": "83 °C, 40 min", "at": "9:30"}),
        (2, 4, {"at": "9:35"}),
        (1, 5, {"amount": "0"}),
    )
    assert answer.status_code == 302
    assert {entry.time_from for entry in Entry.objects.all()} == {TimeFrom.PAPER}
    went_in = {(a.entry.batch.number, str(a.name)): (a.amount, clock(a.entry)) for a in Addition.objects.all()}
    red = Addition.objects.filter(lot=at.red).first().name
    assert went_in == {
        (1, "Water"): (4000, "09:05"),
        (2, "Water"): (3500, "09:07"),
        (1, red): (30, "09:05"),
        (2, red): (62, "09:20"),
    }
    done = StepDone.objects.order_by("entry__batch__number").values_list("temperature_c", "minutes")
    assert list(done) == [(83, 40), (85, None)]
    assert Entry.objects.get(plan_line=line(run, 1, 5)).kind == Entry.Kind.WORDS  # left out, and said so
    assert not PlanLine.objects.filter(batch__run=run, batch__number=2, position=5).with_done().get().done


def test_a_row_without_a_time_has_that_of_the_pot_beside_it(at):
    run = begun(at, told=[30, 60])
    cells = [(1, 1, {"at": "9:05"}), (2, 1, {"at": "9:10"}), (1, 2, {"at": "9:40"}), (2, 2, {"told": "on"})]
    assert send(at, run, *cells, (2, 3, {"told": "on"})).status_code == 302
    second = Entry.objects.filter(batch__number=2).in_order()
    assert [clock(entry) for entry in second] == ["09:10", "09:40", "09:40"]


def test_one_tick_takes_a_whole_column_as_told_but_for_what_is_written(at):
    run = begun(at, told=[30, 60])
    all_of = {f"all-{run.batches.get(number=1).pk}-all": "on"}
    answer = send(at, run, (1, 1, {"at": "9:05"}), (1, 3, {"amount": "0.5 g", "at": "9:30"}), **all_of)
    assert answer.status_code == 302
    assert Entry.objects.filter(batch__number=1).count() == 5 and not Entry.objects.filter(batch__number=2).exists()
    assert Addition.objects.get(lot=at.soot).amount == Decimal("0.5")
    assert clock(Addition.objects.get(lot=at.acid).entry) == "09:30"


def test_alike_jars_are_one_touch_of_all_of_them(at):
    jars = builders.make_vessel("Jars", kind="jar", how_many=6)
    run = begun(at, pots=6, vessel=jars)
    page = html.fromstring(at.browser.get(address(run)).content.decode())
    assert len(page.xpath("//*[@class='cell']")) == 5
    assert send(at, run, (1, 1, {"told": "on", "at": "9:05"})).status_code == 302
    assert Addition.objects.count() == 6 and Entry.objects.values("together").distinct().count() == 1


def test_jars_that_have_had_it_are_left_alone(at):
    jars = builders.make_vessel("Jars", kind="jar", how_many=3)
    run = begun(at, pots=3, vessel=jars)
    assert send(at, run, (1, 1, {"at": "9:05"})).status_code == 302
    builders.addition(at.by, run.batches.get(number=2), at.red, 31, at=timezone.now(), plan_line=line(run, 2, 2))
    assert "Jars 1 and 3" in at.browser.get(address(run)).content.decode()
    assert send(at, run, (1, 2, {"told": "on", "at": "9:20"})).status_code == 302
    assert sorted(Addition.objects.filter(lot=at.red).values_list("entry__batch__number", "amount")) == [
        (1, 30),
        (2, 31),
        (3, 30),
    ]


def test_a_line_that_is_in_the_log_has_no_boxes(at):
    run = begun(at, told=[30, 60])
    send(at, run, (1, 2, {"told": "on", "at": "9:05"}))
    page = at.browser.get(address(run))
    assert f"line-{line(run, 1, 2).pk}-told" not in boxes(page) and f"line-{line(run, 2, 2).pk}-told" in boxes(page)
    assert "in the log" in page.content.decode()


def test_it_names_the_photo_of_the_page(at):
    run = begun(at)
    notes = PhotoTaken.log(
        run.batches.first(), stamp(at.by, timezone.now()), picture=builders.picture(at.by), stage="paper"
    )
    send(at, run, (1, 1, {"told": "on", "at": "9:05"}), photo=str(notes.pk))
    assert {entry.because_id for entry in Entry.objects.filter(kind="addition")} == {notes.pk}


def test_a_page_sent_twice_is_stored_once(at):
    run, page = begun(at, told=[30, 60]), uuid4()
    cells = [(1, 1, {"told": "on", "at": "9:05"}), (2, 2, {"amount": "62", "at": "9:20"})]
    assert [send(at, run, *cells, page=page).status_code for _ in range(2)] == [302, 302]
    assert Addition.objects.count() == 2


def test_good_cells_are_kept_and_the_wrong_ones_stay_with_what_was_typed(at):
    run = begun(at, told=[30, 60])
    answer = send(
        at,
        run,
        (1, 1, {"told": "on", "at": "9:05"}),
        (1, 2, {"amount": "a dash"}),
        (1, 5, {"told": "on", "amount": "0.5"}),
        (2, 1, {"told": "on", "at": "25:99"}),
        (2, 3, {"told": "on"}),  # its time would be that of the row above, which can't be read
        (2, 4, {"amount": "hot", "at": "9:40"}),
    )
    assert answer.status_code == 422 and Addition.objects.count() == 1
    shown = boxes(answer)
    typed = {name: value for name, value in shown.items() if name.startswith("line-") and value}
    key = {(pot, place): f"line-{line(run, pot, place).pk}" for pot in (1, 2) for place in (1, 2, 3, 4, 5)}
    assert typed[f"{key[1, 2]}-amount"] == "a dash" and typed[f"{key[1, 2]}-at"] == "09:05"
    assert typed[f"{key[1, 5]}-amount"] == "0.5" and typed[f"{key[1, 5]}-told"] == "on"
    assert typed[f"{key[2, 1]}-at"] == "25:99" and typed[f"{key[2, 3]}-told"] == "on"
    assert typed[f"{key[2, 4]}-amount"] == "hot"
    assert f"{key[1, 1]}-at" not in shown  # it is in the log
    assert "1 row kept." in answer.content.decode() and len(sentences(answer)) == 4


def test_the_first_row_of_a_column_needs_a_time_and_it_is_said_once(at):
    run = begun(at, told=[30, 60])
    answer = send(at, run, *((1, place, {"told": "on"}) for place in (1, 2, 3)))
    assert answer.status_code == 422 and not Entry.objects.exists()
    assert len(sentences(answer)) == 1 and "Write the time of the first row" in sentences(answer)[0]
    ticked = [name for name, value in boxes(answer).items() if name.endswith("-told") and value]
    assert len(ticked) == 3


def parted(at, run, position, *cells, **more):
    """The page after "One pot at a time" was pressed at this line."""
    return send(at, run, *cells, part=line(run, 1, position).pk, **more)


def amounts(lot):
    return list(Addition.objects.filter(lot=lot).order_by("entry__batch__number").values_list("amount", flat=True))


def test_a_row_is_parted_into_its_pots_and_keeps_all_that_was_typed(at):
    run = begun(at, pots=3)
    typed = (1, 2, {"amount": "28", "at": "9:20"}), (1, 3, {"told": "on"})
    answer = parted(at, run, 2, *typed, **{"row-TOTAL_FORMS": 1, "row-0-note": "Rain"})
    assert answer.status_code == 200 and not sentences(answer) and not Entry.objects.exists()
    shown = boxes(answer)
    for pot in (1, 2, 3):
        key = f"line-{line(run, pot, 2).pk}"
        assert (shown[f"{key}-amount"], shown[f"{key}-at"]) == ("28", "9:20")
    assert shown[f"line-{line(run, 1, 3).pk}-told"] == "on" and shown["row-0-note"] == "Rain"
    assert f"line-{line(run, 2, 3).pk}-told" not in shown  # the row below is still one


def test_pots_of_one_column_get_what_was_written_for_each(at):
    run = begun(at)
    cells = (1, 1, {"at": "9:05"}), (1, 2, {"told": "on", "at": "9:20"}), (2, 2, {"amount": "33"})
    assert send(at, run, *cells, (1, 3, {"told": "on"})).status_code == 302
    assert amounts(at.red) == [30, 33] and amounts(at.soot) == [Decimal("0.4")] * 2
    of_second = Entry.objects.filter(batch__number=2).in_order()
    assert [clock(entry) for entry in of_second] == ["09:05", "09:20", "09:20"]


def test_a_parted_row_below_has_the_time_of_its_own_pot(at):
    run = begun(at)
    cells = (1, 1, {"at": "9:05"}), (2, 1, {"at": "9:10"}), (1, 2, {}), (2, 2, {"amount": "33"})
    assert send(at, run, *cells).status_code == 302
    assert clock(Addition.objects.get(lot=at.red).entry) == "09:10" and amounts(at.red) == [33]


def test_a_parted_row_that_is_half_wrong_keeps_the_good_half_and_stays_parted(at):
    run = begun(at, pots=3)
    cells = [(1, 2, {"told": "on", "at": "9:20"}), (2, 2, {"amount": "a dash"}), (3, 2, {"amount": "", "at": ""})]
    answer = send(at, run, *cells)
    assert answer.status_code == 422 and len(sentences(answer)) == 1 and amounts(at.red) == [30]
    shown = boxes(answer)
    assert shown[f"line-{line(run, 2, 2).pk}-amount"] == "a dash" and shown[f"line-{line(run, 2, 2).pk}-at"] == "09:20"
    assert f"line-{line(run, 1, 2).pk}-at" not in shown and f"line-{line(run, 3, 2).pk}-at" in shown
    cells = [(2, 2, {"amount": "31", "at": "9:20"}), (3, 2, {"amount": "", "at": ""})]
    assert send(at, run, *cells, page=shown["page"]).status_code == 302 and amounts(at.red) == [30, 31]


def test_a_parted_page_sent_twice_is_stored_once(at):
    run, page = begun(at), uuid4()
    cells = [(1, 2, {"told": "on", "at": "9:20"}), (2, 2, {"amount": "33"})]
    assert [send(at, run, *cells, page=page).status_code for _ in range(2)] == [302, 302]
    assert amounts(at.red) == [30, 33]


@pytest.mark.parametrize("first", ["joined", "parted"])
def test_a_page_sent_again_with_something_else_is_never_taken_for_kept(at, first):
    """Somebody went back in the browser, and the page still has the number of the one that was saved."""
    run, page = begun(at), uuid4()
    ways = {
        "joined": [(1, 2, {"told": "on", "at": "9:20"})],
        "parted": [(1, 2, {"told": "on", "at": "9:20"}), (2, 2, {"amount": "33"})],
    }
    second = ways["parted" if first == "joined" else "joined"]
    assert send(at, run, *ways[first], page=page).status_code == 302
    before = amounts(at.red)
    answer = send(at, run, *second, page=page)
    assert answer.status_code == 422 and "in the log already" in sentences(answer)[0]
    assert amounts(at.red) == before


def test_a_changed_amount_under_the_same_page_is_said(at):
    run, page = begun(at, told=[30, 60]), uuid4()
    assert send(at, run, (1, 2, {"amount": "31", "at": "9:20"}), page=page).status_code == 302
    answer = send(at, run, (1, 2, {"amount": "35", "at": "9:20"}), page=page)
    assert answer.status_code == 422 and "in the log already" in sentences(answer)[0] and amounts(at.red) == [31]


def test_alike_jars_sent_twice_are_stored_once(at):
    jars, page = builders.make_vessel("Jars", kind="jar", how_many=6), uuid4()
    run = begun(at, pots=6, vessel=jars)
    sent = [send(at, run, (1, 1, {"told": "on", "at": "9:05"}), page=page).status_code for _ in range(2)]
    assert sent == [302, 302] and Addition.objects.count() == 6


def test_a_row_of_one_pot_is_not_parted(at):
    page = at.browser.get(address(begun(at, told=[30, 60])))
    assert "at a time" not in page.content.decode()
    assert "One pot at a time" in at.browser.get(address(begun(at))).content.decode()


def test_no_row_is_parted_into_more_boxes_than_can_be_sent_back(at, monkeypatch):
    run = begun(at)  # five rows of two pots
    monkeypatch.setattr(bench_sheet, "MOST_BOXES", 5)
    assert "One pot at a time" not in at.browser.get(address(run)).content.decode()
    monkeypatch.setattr(bench_sheet, "MOST_BOXES", 6)
    assert "One pot at a time" in at.browser.get(address(run)).content.decode()
    assert "One pot at a time" not in parted(at, run, 1).content.decode()


@pytest.mark.parametrize("junk", [*BAD.values(), "0", "999999999999999999999999"])
def test_a_row_that_is_not_there_is_not_parted(at, junk):
    run = begun(at)
    answer = send(at, run, (1, 2, {"amount": "28"}), part=junk)
    assert answer.status_code == 422 and not Entry.objects.exists()
    assert boxes(answer)[f"line-{line(run, 1, 2).pk}-amount"] == "28"


def test_rows_of_the_sheet_and_others_go_in_together(at):
    run = begun(at, told=[30, 60])
    more = {"row-TOTAL_FORMS": 1, "row-0-at": "10:00", "row-0-what": "", "row-0-note": "Rain", "row-0-pot": "all"}
    assert send(at, run, (1, 1, {"told": "on", "at": "9:05"}), **more).status_code == 302
    assert Entry.objects.filter(words="Rain").count() == 2 and Addition.objects.count() == 1


def test_asking_for_more_rows_keeps_what_is_written_on_the_sheet(at):
    run = begun(at, told=[30, 60])
    answer = send(at, run, (1, 1, {"amount": "a dash", "at": "9:05"}), more="row")
    assert boxes(answer)[f"line-{line(run, 1, 1).pk}-amount"] == "a dash" and not sentences(answer)
    assert not Entry.objects.exists()


def test_what_was_weighed_once_for_all_pots_is_written_in_what_was_poured(at):
    run = begun(at, told=[30, 60])
    first = run.batches.get(number=1)
    Batch.objects.filter(pk=first.pk).update(edition=2)
    poured = builders.plan_line(at.soot, "0.4", batch=first, edition=2, position=1, pour_ml=Decimal(50))
    poured.save()
    assert "50\xa0mL" in at.browser.get(address(run)).content.decode()
    assert send(at, run, (1, 1, {"amount": "60", "at": "9:05"})).status_code == 302
    assert Addition.objects.get(lot=at.soot).amount == Decimal("0.48")  # 0.4 g x 60 mL / 50 mL


def test_a_plan_written_anew_meanwhile_loses_nothing_that_was_typed(at):
    run = begun(at, told=[30, 60])
    old = line(run, 2, 2)
    Batch.objects.filter(pk=old.batch_id).update(edition=2)
    builders.plan_line(at.red, 70, batch=old.batch, edition=2, position=1).save()
    answer = send(
        at, run, (1, 1, {"told": "on", "at": "9:05"}), **{f"line-{old.pk}-amount": "62", f"line-{old.pk}-at": "9:20"}
    )
    assert answer.status_code == 422 and Addition.objects.count() == 1
    (sentence,) = sentences(answer)
    assert "62, 9:20" in sentence and str(at.red.substance) in sentence


@pytest.mark.parametrize("junk", BAD.values(), ids=BAD)
@pytest.mark.parametrize("box", ["amount", "at"])
def test_what_cannot_be_read_is_said_and_kept(at, box, junk):
    run = begun(at, told=[30, 60])
    answer = send(at, run, (1, 2, {"at": "9:05", box: junk}))
    assert answer.status_code == 422 and sentences(answer) and not Entry.objects.exists()
    assert boxes(answer)[f"line-{line(run, 1, 2).pk}-{box}"].strip() == junk.replace("\x00", "")


def test_a_line_that_somebody_else_logged_meanwhile_is_said(at):
    run = begun(at, told=[30, 60])
    builders.addition(at.by, run.batches.get(number=1), at.red, 31, at=timezone.now(), plan_line=line(run, 1, 2))
    answer = send(at, run, (1, 2, {"amount": "33", "at": "9:05"}))
    assert answer.status_code == 422 and "in the log already" in sentences(answer)[0]
    assert boxes(answer)[f"line-{line(run, 1, 2).pk}-amount"] == "33"


def test_a_run_without_a_plan_has_only_the_free_rows(at, cast):
    run = builders.run_with_pots(cast.maker, at.yarn, pots=1, at=timezone.now() - timedelta(days=2))
    assert "As on the bench sheet" not in at.browser.get(address(run)).content.decode()


def test_the_largest_sheet_that_is_printed_can_be_sent_back_whole(at, settings):
    """Of each box a tick, an amount and a time, and what stands round them."""
    assert bench_sheet.MOST_BOXES * 3 + 300 <= settings.DATA_UPLOAD_MAX_NUMBER_FIELDS


def test_a_sheet_too_large_to_be_printed_has_only_the_free_rows(at, monkeypatch):
    run = begun(at, told=[30, 31])
    monkeypatch.setattr(bench_sheet, "MOST_BOXES", 9)
    page = at.browser.get(address(run))
    assert page.status_code == 200 and "As on the bench sheet" not in page.content.decode()
    monkeypatch.setattr(bench_sheet, "MOST_BOXES", 10)
    assert "As on the bench sheet" in at.browser.get(address(run)).content.decode()


def test_queries_do_not_grow_with_the_pots(at, django_assert_max_num_queries):
    one, many = begun(at, pots=1), begun(at, pots=9, told=range(30, 39))
    with django_assert_max_num_queries(45) as few:
        at.browser.get(address(one))
    with django_assert_max_num_queries(len(few)):
        at.browser.get(address(many))

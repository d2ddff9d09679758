"""What a row may not say, the database itself refuses, whoever writes it.

Every constraint needs a row of `BAD` (or is about uniqueness, and then a copy of a row is the bad one), so a new
constraint without one fails. A bad row is a good one of the sample day, changed behind the program's back.
"""

from datetime import timedelta
from functools import partial
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction
from django.db.models import CheckConstraint, F, QuerySet, UniqueConstraint

from batches.models import Entry, Run
from studio.models import Count, Movement
from tests import builders

OURS = [
    model
    for name in ("studio", "recipes", "batches")
    for model in apps.get_app_config(name).get_models()
    if not model.__name__.startswith("Historical")
]
CHECKS = {
    constraint.name: model
    for model in OURS
    for constraint in model._meta.constraints
    if isinstance(constraint, CheckConstraint)
}
UNIQUES = {
    constraint.name: model
    for model in OURS
    for constraint in model._meta.constraints
    if isinstance(constraint, UniqueConstraint)
}


def some_count():
    return Count.objects.first().pk


def a_lonely_movement():
    return Movement.objects.filter(batch_yarn__isnull=True).first().pk


def a_started_run():
    return Run.objects.filter(started_at__isnull=False).first().pk


YARN, POWDER, ACID, BOTTLE = ({f"{name}__isnull": False} for name in ("base", "dye", "assistant", "solution"))
STARTED, WAITING = {"state": "finished"}, {"state": "planned"}
REMEDY = {"what": "remedy"}
EVERY = {}
A_DYE = {"dye__isnull": False}
PLACED = {"what": "where"}

# constraint -> (which row of the sample day, what is changed in it)
BAD = {
    "index_part_dye_or_yarn": (A_DYE, {"words": "For Ida"}),
    "index_part_grams_not_negative": (A_DYE, {"grams": -1}),
    "strength_test_before_sensible": (EVERY, {"before_pct": 401}),
    "strength_test_not_beside_itself": (EVERY, {"beside": F("run")}),
    "rung_above_zero": (EVERY, {"pct": 0}),
    "match_between_two": (EVERY, {"low": None, "high": F("low")}),
    "match_two_different": (EVERY, {"high": F("low")}),
    "match_corrects_the_lot": (EVERY, {"correction": None}),
    "vessel_kind_known": (EVERY, {"kind": "zzz"}),
    "vessel_heater_known": (EVERY, {"heater": "zzz"}),
    "vessel_volume_above_zero": (EVERY, {"volume_ml": 0, "fill_ml": None}),
    "vessel_fill_above_zero": (EVERY, {"fill_ml": 0}),
    "vessel_fill_within_volume": (EVERY, {"volume_ml": 5, "fill_ml": 6}),
    "vessel_at_least_one": (EVERY, {"how_many": 0}),
    "tool_kind_known": (EVERY, {"kind": "zzz"}),
    "tool_step_above_zero": (EVERY, {"step": 0}),
    "tool_largest_above_step": (EVERY, {"step": 2, "largest": 1}),
    "measure_weighing_some_fillings": (EVERY, {"fillings": 0}),
    "measure_weighing_some_grams": (EVERY, {"grams": 0}),
    "dye_class_known": (EVERY, {"dye_class": "zzz"}),
    "assistant_kind_known": (EVERY, {"kind": "zzz"}),
    "assistant_unit_known": (EVERY, {"unit": "oz"}),
    "solution_kind_known": (EVERY, {"kind": "zzz"}),
    "solution_part_one_substance": ({"dye__isnull": False}, {"dye": None}),
    "solution_part_above_zero": (EVERY, {"g_per_100": 0}),
    "solution_part_to_100": (EVERY, {"g_per_100": 101}),
    "movement_kind_known": ({"kind": "received"}, {"kind": "zzz"}),
    "movement_only_uses_are_unweighed": ({"kind": "received"}, {"amount": None}),
    "movement_what_comes_is_positive": ({"kind": "received"}, {"amount": -1}),
    "movement_what_goes_is_negative": ({"kind": "made_into"}, {"amount": 1}),
    "movement_use_is_negative": ({"kind": "used"}, {"amount": 1}),
    "movement_reversal_names_one": ({"kind": "received"}, {"reverses": F("pk")}),
    "movement_share_settles_one": ({"kind": "used"}, {"settles": F("pk")}),
    "movement_count_names_one": ({"kind": "received"}, {"count": some_count}),
    "movement_into_a_bottle": ({"kind": "made_into"}, {"into": None}),
    "count_not_negative": (EVERY, {"amount": -1}),
    "delivery_extras_not_negative": (EVERY, {"extras_minor": -1}),
    "lot_one_substance": (ACID, {"assistant": None}),
    "lot_received_something": (ACID, {"received": 0}),
    "lot_unit_known": (ACID, {"unit": "oz"}),
    "lot_yarn_and_powder_in_g": (YARN, {"unit": "mL"}),
    "lot_yarn_has_skein_weight": (YARN, {"skein_g": None}),
    "lot_skein_length_above_zero": (YARN, {"skein_m": 0}),
    "lot_skeins_are_yarn": (ACID, {"skein_m": 1}),
    "lot_powder_has_strength": (POWDER, {"strength_pct": None}),
    "lot_cost_not_negative": (ACID, {"cost_minor": -1}),
    "lot_tare_not_negative": (ACID, {"tare_g": -1}),
    "lot_bottle_is_made": (BOTTLE, {"cost_minor": 1}),
    "lot_only_bottles_continue": (ACID, {"continues": F("pk")}),
    "lot_correction_says_something": (EVERY, {"strength_pct": None}),
    "lot_correction_cost_not_negative": (EVERY, {"cost_minor": -1}),
    "lot_correction_tare_not_negative": (EVERY, {"tare_g": -1}),
    "lot_correction_strength_sensible": (EVERY, {"strength_pct": 0}),
    "content_known_or_not": ({"source__isnull": False}, {"g_per_100": None}),
    "weighing_above_zero": (EVERY, {"gross_g": 0}),
    "share_out_two_weighings": (EVERY, {"opening": F("closing")}),
    "share_out_measured_not_negative": (EVERY, {"measured_g": -1}),
    "person_role_known": (EVERY, {"role": "zzz"}),
    "studio_one_row": (EVERY, {"id": 2}),
    "studio_market_known": (EVERY, {"market": "zz"}),
    "studio_system_known": (EVERY, {"system": "zz"}),
    "studio_spoons_known": (EVERY, {"spoons": "zz"}),
    "studio_paper_known": (EVERY, {"paper": "zz"}),
    "studio_hour_not_negative": (EVERY, {"hour_minor": -1}),
    "studio_overhead_not_negative": (EVERY, {"overhead_minor": -1}),
    "studio_second_pct_to_100": (EVERY, {"second_pct": 101}),
    "studio_tax_pct_below_100": (EVERY, {"tax_pct": 100}),
    "studio_repeats_pct_sensible": (EVERY, {"repeats_pct": 0}),
    "picture_has_width": (EVERY, {"width": 0}),
    "picture_has_height": (EVERY, {"height": 0}),
    "picture_crop_says_where": ({"crop_of__isnull": True}, {"across_pct": 50}),
    "picture_crop_of_another": ({"crop_of__isnull": False}, {"crop_of": F("pk")}),
    "picture_crop_within": ({"crop_of__isnull": False}, {"down_pct": 101}),
    "picture_crop_not_too_small": ({"crop_of__isnull": False}, {"size_pct": 24}),
    "document_not_empty": (EVERY, {"size": 0}),
    "base_skein_has_weight": (EVERY, {"skein_g": 0}),
    "base_skein_length_above_zero": (EVERY, {"skein_m": 0}),
    "base_price_not_negative": (EVERY, {"price_minor": -1}),
    "base_dye_factor_sensible": (EVERY, {"dye_factor_pct": 401}),
    "base_fibre_percent_to_100": (EVERY, {"percent": 101}),
    "base_fibre_named": (EVERY, {"fibre": ""}),
    "base_fibre_virgin_or_recycled": (EVERY, {"virgin": True, "recycled": True}),
    "recipe_method_known": (EVERY, {"method": "zzz"}),
    "recipe_scales_known": (EVERY, {"scales": "zzz"}),
    "recipe_some_skeins": (EVERY, {"skeins": 0}),
    "recipe_some_fibre": (EVERY, {"fibre_g": 0}),
    "recipe_some_pots": (EVERY, {"pots": 0}),
    "recipe_liquor_ratio_above_zero": (EVERY, {"liquor_ratio": 0}),
    "recipe_not_from_itself": (EVERY, {"made_from": F("pk")}),
    "recipe_step_kind_known": (EVERY, {"kind": "zzz"}),
    "recipe_step_minutes_above_zero": (EVERY, {"minutes": 0}),
    "recipe_step_temperature_sensible": (EVERY, {"temperature_c": 300}),
    "ingredient_basis_known": (POWDER, {"basis": "zzz", "unit": "g"}),
    "ingredient_how_known": (POWDER, {"how": "zzz"}),
    "ingredient_one_substance": (POWDER, {"water": True}),
    "ingredient_amount_above_zero": (POWDER, {"amount": 0}),
    "ingredient_strength_above_zero": (POWDER, {"strength_pct": 0}),
    "ingredient_unit_fits_basis": (POWDER, {"unit": "g"}),
    "ingredient_painted_has_strength": (POWDER, {"how": "painted"}),
    "run_method_known": (EVERY, {"method": "zzz"}),
    "run_state_known": (WAITING, {"state": "zzz"}),
    "run_running_has_started": (WAITING, {"state": "running"}),
    "run_finished_has_an_end": (WAITING, {"state": "finished"}),
    "run_recipe_has_colourway": (STARTED, {"colourway": None}),
    "run_cover_shows_a_photo": (STARTED, {"cover": None, "cover_chosen": False}),
    "run_chosen_cover_is_a_picture": (WAITING, {"cover_chosen": True}),
    "run_not_its_own_day_one": (EVERY, {"day_one": F("pk")}),
    "run_spares_of_the_first_day": (WAITING, {"day_one": a_started_run, "spares": 2}),
    "batch_number_above_zero": (EVERY, {"number": 0}),
    "batch_edition_above_zero": (EVERY, {"edition": 0}),
    "batch_hold_known": (EVERY, {"hold": "zzz"}),
    "batch_scales_known": (EVERY, {"scales": "zzz"}),
    "batch_fibre_above_zero": (EVERY, {"fibre_g": 0}),
    "batch_water_above_zero": (EVERY, {"water_ml": 0}),
    "batch_state_known": (EVERY, {"state": "zzz"}),
    "batch_where_known": (EVERY, {"where": "zzz"}),
    "batch_yarn_one_source": ({"source": "lot"}, {"lot": None}),
    "batch_yarn_shelf_yarn_has_weight": ({"source": "lot"}, {"grams": None}),
    "batch_yarn_weight_above_zero": ({"source": "customer"}, {"grams": 0}),
    "batch_yarn_skein_above_zero": (EVERY, {"skein_g": 0}),
    "batch_yarn_only_lots_move": ({"source": "customer"}, {"movement": a_lonely_movement}),
    "bath_kind_known": (EVERY, {"kind": "zzz"}),
    "bath_end_known": (EVERY, {"end": "zzz"}),
    "bath_water_above_zero": (EVERY, {"water_ml": 0}),
    "bath_not_from_itself": (EVERY, {"continues": F("pk")}),
    "bath_kept_in_a_bottle": ({"end": ""}, {"kept_in": lambda: _row("Lot", BOTTLE).pk}),
    "plan_line_step_known": (EVERY, {"step": "zzz"}),
    "plan_line_how_known": (EVERY, {"how": "zzz"}),
    "plan_line_unit_known": (EVERY, {"unit": "oz", "told": None}),
    "plan_line_exact_not_negative": (EVERY, {"exact": -1}),
    "plan_line_told_not_negative": (EVERY, {"told": -1}),
    "plan_line_told_has_unit": (EVERY, {"unit": ""}),
    "plan_line_pour_above_zero": (EVERY, {"pour_ml": 0}),
    "cost_sheet_number_above_zero": (EVERY, {"number": 0}),
    "cost_sheet_not_negative": (EVERY, {"total_minor": -1}),
    "cost_line_kind_known": (EVERY, {"kind": "zzz"}),
    "cost_line_not_negative": (EVERY, {"minor": -1}),
    "cost_share_not_negative": (EVERY, {"minor": -1}),
    "cost_share_some_skeins": (EVERY, {"skeins": 0}),
    "entry_kind_known": ({"kind": "work"}, {"kind": "zzz"}),
    "entry_time_from_known": (EVERY, {"time_from": "zzz"}),
    "entry_not_in_the_future": (EVERY, {"at": F("received_at") + timedelta(minutes=1)}),
    "entry_offset_within_a_day": (EVERY, {"offset_min": 1441}),
    "entry_words_say_something": ({"kind": "words"}, {"words": ""}),
    "entry_weighed_names_a_line": ({"kind": "words", "plan_line__isnull": True}, {"kind": "weighed"}),
    "addition_how_known": (EVERY, {"how": "zzz"}),
    "addition_unit_known": ({"amount__isnull": True}, {"unit": "oz"}),
    "addition_one_substance": ({"lot__isnull": False}, {"other": "water"}),
    "addition_amount_not_negative": ({"other": "water"}, {"amount": -1}),
    "addition_amount_has_unit": ({"other": "water"}, {"unit": ""}),
    "addition_taps_above_zero": (EVERY, {"taps": 0}),
    "addition_measure_says_how_many": ({"measure__isnull": False}, {"fillings": None}),
    "addition_spread_not_negative": ({"measure__isnull": False}, {"spread_g": -1}),
    "addition_estimated_is_an_amount": ({"other": "water"}, {"amount": None, "unit": "", "estimated": True}),
    "sound_not_empty": (EVERY, {"size": 0}),
    "sound_takes_time": (EVERY, {"seconds": 0}),
    "step_done_as_usual_has_a_name": ({"house_step__isnull": False}, {"called": ""}),
    "house_step_kind_known": (EVERY, {"kind": "add"}),
    "house_step_method_known": (EVERY, {"method": "zzz"}),
    "house_step_minutes_above_zero": (EVERY, {"minutes": 0}),
    "house_step_temperature_sensible": (EVERY, {"temperature_c": 300}),
    "place_method_known": (EVERY, {"method": "zzz"}),
    "timer_what_known": (EVERY, {"what": "zzz"}),
    "timer_minutes_above_zero": (EVERY, {"minutes": 0}),
    "timer_ended_outcome_known": (EVERY, {"outcome": "zzz"}),
    "timer_ended_not_itself": (EVERY, {"target": F("entry")}),
    "skein_done_number_above_zero": (EVERY, {"number": 0}),
    "answer_question_known": (EVERY, {"question": "zzz"}),
    "answer_about_an_entry": (EVERY, {"question": "line"}),
    "weighed_above_zero": (EVERY, {"amount": 0}),
    "answer_line_of_a_photo": (EVERY, {"question": "amount", "line": F("about")}),
    "addition_lot_not_negative": (EVERY, {"amount": -1}),
    "reading_clear_known": (EVERY, {"clear": "zzz"}),
    "reading_says_something": (EVERY, {"temperature_c": None, "clear": ""}),
    "reading_temperature_sensible": (EVERY, {"temperature_c": 300}),
    "reading_ph_sensible": (EVERY, {"ph": 15}),
    "move_what_known": (PLACED, {"what": "zzz", "where": ""}),
    "move_says_where": (PLACED, {"where": ""}),
    "move_skeins_are_yarn": (PLACED, {"skeins": 1}),
    "move_volume_is_liquor": (PLACED, {"volume_ml": 1}),
    "move_only_liquor_is_kept": (PLACED, {"kept": lambda: _row("Lot", BOTTLE).pk}),
    "move_volume_above_zero": (PLACED, {"what": "liquor_in", "where": "", "volume_ml": 0}),
    "move_weight_above_zero": (PLACED, {"grams": 0}),
    "step_done_known": (EVERY, {"kind": ""}),
    "step_done_minutes_above_zero": (EVERY, {"minutes": 0}),
    "step_done_temperature_sensible": (EVERY, {"temperature_c": 300}),
    "photo_stage_known": (EVERY, {"stage": "zzz"}),
    "check_what_known": (REMEDY, {"what": "zzz"}),
    "check_result_known": (REMEDY, {"result": "zzz"}),
    "check_says_a_result": (REMEDY, {"what": "cloth"}),
    "check_rinse_says_when": (REMEDY, {"what": "rinse"}),
    "check_grades_from_cards": (REMEDY, {"change_grade": 3}),
    "check_cards_give_a_grade": (REMEDY, {"what": "cards"}),
    "check_change_grade_1_to_5": (REMEDY, {"what": "cards", "change_grade": 6}),
    "check_stain_grade_1_to_5": (REMEDY, {"what": "cards", "stain_grade": 0}),
    "work_above_zero": (EVERY, {"minutes": 0}),
    "strike_not_itself": (EVERY, {"target": F("entry")}),
    "finish_verdict_known": (EVERY, {"verdict": "zzz"}),
    "output_some_skeins": (EVERY, {"skeins": 0}),
    "output_grade_known": (EVERY, {"grade": "zzz"}),
    "output_skein_weight_above_zero": (EVERY, {"skein_g": 0}),
    "output_skein_length_above_zero": (EVERY, {"skein_m": 0}),
    "tag_print_some_copies": (EVERY, {"copies": 0}),
    "tag_print_starts_somewhere": (EVERY, {"start_at": 0}),
    "tag_print_price_has_currency": (EVERY, {"price_minor": 2800, "currency": ""}),
    "tag_print_says_content_and_lot": (EVERY, {"dye_lot": ""}),
    "tag_dye_not_negative": (EVERY, {"share": -1}),
}

# uniqueness -> which row of the sample day is copied, where any will not do
COPIED = {
    "solution_part_dye_once": POWDER,
    "solution_part_assistant_once": ACID,
    "movement_settled_once_a_share": {"kind": "shared"},
    "batch_yarn_position_once": {"source": "customer"},
    "content_source_once": {"source__isnull": False},
    "content_unknown_once": {"source__isnull": True},
    "addition_lot_once_a_share": {"share_out__isnull": False},
    "addition_lot_once_measured": {"share_out__isnull": True},
}


def _row(name, which):
    model = next(model for model in OURS if model.__name__ == name)
    row = QuerySet(model).filter(**which).order_by("pk").first()
    assert row is not None, f"tests.builders.a_whole_day makes no such {name}"
    return row


@pytest.fixture
def day(cast):
    return builders.a_whole_day(cast)


def test_every_constraint_has_a_bad_row():
    assert sorted(CHECKS) == sorted(BAD)
    assert set(COPIED) <= set(UNIQUES)


ALONE = [
    (model, field) for model in OURS for field in model._meta.concrete_fields if field.unique and not field.primary_key
]

# One sample day serves a whole table of attempts, each in a savepoint: making the day anew takes much longer.


def refusals(attempts):
    """{what was tried: what the database said}, with None for what went through."""
    said = {}
    for name, attempt in attempts:
        try:
            with transaction.atomic():
                attempt()
            said[name] = None
        except IntegrityError as error:
            said[name] = str(error)
    return said


def test_the_database_refuses_what_a_check_forbids(day):
    def attempts():
        for name, (which, changes) in BAD.items():
            model = CHECKS[name]
            bad = {column: value() if callable(value) else value for column, value in changes.items()}
            rows = QuerySet(model).filter(pk=_row(model.__name__, which).pk)
            yield name, partial(rows.update, **bad)

    wrong = {name: said for name, said in refusals(attempts()).items() if said is None or name not in said}
    assert wrong == {}


def test_the_database_refuses_a_second(day):
    def attempts():
        for name, model in UNIQUES.items():
            row = _row(model.__name__, COPIED.get(name, EVERY))
            row.pk = None
            if "name" in name.split("_"):
                row.name = row.name.upper()
            yield name, partial(QuerySet(model).bulk_create, [row])

    # SQLite names the columns of a plain unique index, not the index.
    for name, said in refusals(attempts()).items():
        assert (name if connection.vendor == "postgresql" else "UNIQUE constraint failed") in (said or ""), name


def test_the_database_refuses_to_name_one_twice(day):
    def attempts():
        for model, field in ALONE:
            row = QuerySet(model).filter(**{f"{field.name}__isnull": False}).first()
            assert row is not None, f"tests.builders.a_whole_day makes no {model.__name__} with {field.name}"
            if hasattr(row, "position"):
                row.position += 50
            row.pk = _a_free_entry() if model._meta.pk.remote_field else None
            yield field.column, partial(QuerySet(model).bulk_create, [row])

    for column, said in refusals(attempts()).items():
        assert column in (said or ""), column


def _a_free_entry():
    entry = Entry.objects.first()
    fresh = Entry(**{field.attname: getattr(entry, field.attname) for field in Entry._meta.concrete_fields})
    fresh.pk = uuid4()
    fresh.save()
    return fresh.pk


CHOSEN = [(model, field) for model in OURS for field in model._meta.concrete_fields if field.choices]


def test_a_choice_the_program_does_not_know_is_refused(day):
    attempts = [
        (
            (model.__name__, field.name),
            partial(QuerySet(model).filter(pk=_row(model.__name__, EVERY).pk).update, **{field.name: "zz"}),
        )
        for model, field in CHOSEN
    ]
    assert [name for name, said in refusals(attempts).items() if said is None] == []


@pytest.mark.parametrize(("model", "field"), CHOSEN, ids=lambda part: getattr(part, "__name__", None) or part.name)
def test_a_list_of_known_choices_is_whole(model, field):
    """Where a CHECK lists what a column may hold, it lists what the program offers, no more and no less."""
    offered = {value for value, _ in field.choices} | ({""} if field.blank else set())
    for constraint in model._meta.constraints:
        if constraint.name.endswith("_known") and isinstance(constraint, CheckConstraint):
            for column, known in constraint.condition.children:
                if column == f"{field.name}__in":
                    assert set(known) == offered

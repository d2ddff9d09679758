"""Rows of the record are written once, whichever way somebody tries to change them."""

import pytest
from django.db import IntegrityError, models, transaction
from django.db.models import QuerySet

from batches.models import Entry
from recipes.models import Ingredient, Recipe, RecipeBase, RecipeStep
from studio.models import Kept, KeptForever
from tests import builders


def kept_models(of=Kept):
    for model in of.__subclasses__():
        if not model._meta.abstract:
            yield model
        yield from kept_models(model)


KEPT = sorted(kept_models(), key=lambda model: model.__name__)

WAYS = {
    "save": lambda model, row: row.save(),
    "save some columns": lambda model, row: row.save(update_fields=[_column(model)]),
    "save a copy with the same key": lambda model, row: _copy(row).save(),
    "delete": lambda model, row: row.delete(),
    "update many": lambda model, row: model.objects.filter(pk=row.pk).update(**_same(model, row)),
    "update through the base manager": lambda model, row: model._base_manager.update(**_same(model, row)),
    "delete many": lambda model, row: model.objects.filter(pk=row.pk).delete(),
    "bulk update": lambda model, row: model.objects.bulk_update([row], [_column(model)]),
    "insert or change": lambda model, row: model.objects.bulk_create(
        [_copy(row)], update_conflicts=True, update_fields=[_column(model)], unique_fields=[model._meta.pk.name]
    ),
    "insert or change, said in order": lambda model, row: model.objects.bulk_create(
        [_copy(row)], None, False, True, [_column(model)], [model._meta.pk.name]
    ),
    "update or create": lambda model, row: model.objects.update_or_create(pk=row.pk, defaults=_same(model, row)),
}


def _fields(model):
    return [field for field in model._meta.concrete_fields if not field.primary_key]


def _column(model):
    return _fields(model)[0].name


def _same(model, row):
    field = _fields(model)[0]
    return {field.name: getattr(row, field.name)}


def _copy(row):
    return type(row)(**{field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields})


def _as_stored(model):
    return list(QuerySet(model).order_by("pk").values_list())


@pytest.fixture
def day(cast):
    return builders.a_whole_day(cast)


def test_a_kept_row_cannot_be_changed_or_deleted(day):
    for model in KEPT:
        row = model.objects.first()
        assert row is not None, f"tests.builders.a_whole_day makes no {model.__name__}"
        before = _as_stored(model)
        for way, attempt in WAYS.items():
            refusal = IntegrityError if way == "save a copy with the same key" else KeptForever
            with pytest.raises(refusal), transaction.atomic():
                attempt(model, row)
                pytest.fail(f"{model.__name__}: {way} went through")
            assert _as_stored(model) == before, (model, way)


def test_a_kept_row_does_not_go_when_something_it_names_goes():
    for model in KEPT:
        for field in model._meta.concrete_fields:
            if field.remote_field:
                assert field.remote_field.on_delete is models.PROTECT, field


def _named_by():
    for model in KEPT:
        for field in model._meta.concrete_fields:
            row = QuerySet(model).filter(**{f"{field.name}__isnull": False}).first() if field.many_to_one else None
            if row is not None and field.remote_field.related_name != "+":
                yield field, row, getattr(getattr(row, field.name), field.remote_field.get_accessor_name())


def test_a_kept_row_cannot_be_moved_by_the_row_it_names(day):
    for field, row, manager in _named_by():
        for attempt in [
            lambda field=field, manager=manager: manager.update(**{field.name: None}),
            lambda manager=manager: manager.all().delete(),
            lambda manager=manager, row=row: manager.add(row, bulk=True),
            lambda manager=manager, row=row: manager.add(row, bulk=False),
            *([lambda manager=manager: manager.clear(), lambda manager=manager: manager.set([])] if field.null else []),
        ]:
            with pytest.raises(KeptForever), transaction.atomic():
                attempt()
                pytest.fail(f"{field} let go")


def test_the_refusal_says_what_to_do_instead(day):
    with pytest.raises(KeptForever, match="A log entry is part of the record.*Add a new one that corrects it"):
        Entry.objects.first().delete()


# A recipe version is free until a batch has used it.


def _ways_to_change_a_version(version):
    step = version.steps.first()
    line = step.ingredients.first()
    base = version.bases.first()
    fresh = {"step": step, "position": 9, "dye": line.dye, "basis": "owf", "unit": "%", "amount": 1}
    return {
        "save": lambda: version.save(),
        "save by a stale copy": lambda: Recipe(pk=version.pk, colourway=version.colourway, number=1).save(),
        "free it again": lambda: Recipe.objects.filter(pk=version.pk).update(used_at=None),
        "note": lambda: Recipe.objects.filter(pk=version.pk).update(note="x"),
        "delete": lambda: version.delete(),
        "delete many": lambda: Recipe.objects.filter(pk=version.pk).delete(),
        "write": lambda: version.write([]),
        "bases": lambda: version.bases.set([]),
        "another base": lambda: version.bases.add(builders.make_base()),
        "without base": lambda: version.bases.remove(base),
        "no bases": lambda: version.bases.clear(),
        "base rows": lambda: RecipeBase.objects.all().delete(),
        "step": lambda: step.save(),
        "step gone": lambda: step.delete(),
        "steps gone": lambda: version.steps.all().delete(),
        "steps changed": lambda: RecipeStep.objects.update(words="x"),
        "another step": lambda: RecipeStep.objects.create(recipe=version, position=9),
        "steps in bulk": lambda: RecipeStep.objects.bulk_create([RecipeStep(recipe=version, position=9)]),
        "line": lambda: line.save(),
        "line gone": lambda: line.delete(),
        "lines gone": lambda: step.ingredients.all().delete(),
        "lines changed": lambda: Ingredient.objects.update(amount=2),
        "lines in bulk": lambda: Ingredient.objects.bulk_update([line], ["amount"]),
        "another line": lambda: step.ingredients.create(**fresh),
    }


def test_a_used_version_cannot_be_changed(day):
    version = day.recipe
    assert version.used_at
    for way, attempt in _ways_to_change_a_version(version).items():
        with pytest.raises(KeptForever), transaction.atomic():
            attempt()
            pytest.fail(f"{way} went through")


def test_a_version_read_before_it_was_used_cannot_be_written_after(cast):
    version = builders.recipe(cast.maker)
    stale = Recipe.objects.get(pk=version.pk)
    builders.run_with_pots(cast.maker, colourway=version.colourway, recipe=version, start=False)
    stale.note = "A little less red"
    with pytest.raises(KeptForever):
        stale.save()


def test_an_unused_version_can_still_be_written(cast):
    version = builders.recipe(cast.maker)
    version.note = "Try it with less"
    version.save()
    version.write([(RecipeStep(words="Soak"), [])])
    assert [step.words for step in version.steps.all()] == ["Soak"]

"""Fields and bases shared by every table: exact decimals, rows that are kept for ever, and "exactly one of"."""

from decimal import ROUND_HALF_UP, Context, Decimal
from functools import reduce
from operator import or_

from django import forms
from django.db import models
from django.db.models import CheckConstraint, Q

from studio import folding

# A BIGINT holds 19 digits; this context never rounds one away while it is shifted.
_WIDE = Context(prec=40, rounding=ROUND_HALF_UP)


class ExactDecimalField(models.Field):
    """A Decimal outside, a whole number of thousandths (or of 10**-places) in a BIGINT inside.

    SQLite has no exact decimal: sums of floating ones do not come back to zero. What is stored is rounded half up to
    `places`, which for 3 is the milligram and the thousandth of a millilitre, below any tool of a studio.
    """

    description = "An exact decimal number"

    def __init__(self, *args, places=3, **kwargs):
        self.places = places
        super().__init__(*args, **kwargs)

    def deconstruct(self):
        name, path, args, kwargs = super().deconstruct()
        if self.places != 3:
            kwargs["places"] = self.places
        return name, path, args, kwargs

    def get_internal_type(self):
        return "BigIntegerField"

    def to_python(self, value):
        if value is None or isinstance(value, Decimal):
            return value
        return Decimal(str(value))

    def from_db_value(self, value, expression, connection):
        return None if value is None else Decimal(value).scaleb(-self.places, _WIDE)

    def get_prep_value(self, value):
        value = super().get_prep_value(value)
        if value is None:
            return None
        return int(self.to_python(value).scaleb(self.places, _WIDE).quantize(Decimal(1), context=_WIDE))

    def pre_save(self, model_instance, add):
        """Rounds the attribute too, so that a row just made says what its table says."""
        value = super().pre_save(model_instance, add)
        if value is None or hasattr(value, "resolve_expression"):
            return value
        value = self.rounded(value)
        setattr(model_instance, self.attname, value)
        return value

    def rounded(self, value):
        """The number as it will come back from the table."""
        return self.from_db_value(self.get_prep_value(value), None, None)

    def formfield(self, **kwargs):
        return super().formfield(**{"form_class": forms.DecimalField, **kwargs})


class FoldedField(models.TextField):
    """Other columns of the row, folded for finding. Whatever is saved, this follows, also when rows are made in bulk.

    `of`: the names of those columns. A `save` that names its columns must name this one with them.
    """

    def __init__(self, *args, of=(), **kwargs):
        self.of = tuple(of)
        super().__init__(*args, **{"editable": False, "default": "", **kwargs})

    def deconstruct(self):
        name, path, args, kwargs = super().deconstruct()
        return name, path, args, kwargs | {"of": self.of}

    def pre_save(self, model_instance, add):
        folded = self.folded(model_instance)
        setattr(model_instance, self.attname, folded)
        return folded

    def folded(self, row):
        """What should stand in it."""
        return folding.name(" ".join(getattr(row, column) for column in self.of))


class KeptForever(Exception):
    """Somebody tried to change or delete a row of the record."""

    def __init__(self, model):
        name = model._meta.verbose_name
        super().__init__(
            f"A {name} is part of the record: it is never changed or deleted. Add a new one that corrects it."
        )


class KeptQuerySet(models.QuerySet):
    """Reads and inserts only."""

    def update(self, **kwargs):
        raise KeptForever(self.model)

    def bulk_update(self, *args, **kwargs):
        raise KeptForever(self.model)

    def delete(self):
        raise KeptForever(self.model)

    def bulk_create(
        self,
        objs,
        batch_size=None,
        ignore_conflicts=False,
        update_conflicts=False,
        update_fields=None,
        unique_fields=None,
    ):
        if update_conflicts:
            raise KeptForever(self.model)
        return super().bulk_create(objs, batch_size, ignore_conflicts)


class Kept(models.Model):
    """An append-only row: written once, then read."""

    objects = KeptQuerySet.as_manager()

    class Meta:
        abstract = True
        # Or else `_base_manager` would be a plain one, with an `update` that works.
        base_manager_name = "objects"

    def save(self, *args, **kwargs):
        if not self._state.adding:
            raise KeptForever(type(self))
        # With a key made on a phone Django would first try an UPDATE, and so overwrite a row of the record.
        kwargs["force_insert"] = True
        super().save(*args, **kwargs)

    def delete(self, *args, **kwargs):
        raise KeptForever(type(self))


def exactly_one(*names, name):
    """A CHECK that exactly one of these columns is filled in."""

    def only(chosen):
        return Q(**{f"{other}__isnull": other != chosen for other in names})

    return CheckConstraint(condition=reduce(or_, map(only, names)), name=name)


def one_of(column, known, *, name):
    """A CHECK that a column holds one of the values the program knows."""
    return CheckConstraint(condition=Q(**{f"{column}__in": list(known)}), name=name)


def above_zero(column, *, name):
    """A CHECK that a column is filled in and above zero. (`> 0` alone lets NULL through.)"""
    return CheckConstraint(condition=Q(**{f"{column}__gt": 0, f"{column}__isnull": False}), name=name)


def unknown_or_above_zero(column, *, name):
    """A CHECK that a column is empty, meaning not known, or above zero."""
    return CheckConstraint(condition=Q(**{f"{column}__isnull": True}) | Q(**{f"{column}__gt": 0}), name=name)


def unknown_or_not_negative(column, *, name):
    """A CHECK that a column is empty, meaning not known, or at least zero."""
    return CheckConstraint(condition=Q(**{f"{column}__isnull": True}) | Q(**{f"{column}__gte": 0}), name=name)

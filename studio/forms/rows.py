"""Forms of several rows, with a button for more. The button works without JavaScript: it posts ``more``."""

from django import forms
from django.forms.formsets import TOTAL_FORM_COUNT

from studio.forms.base import StudioRenderer

MOST_ROWS = 60


class RowsFormSet(forms.BaseFormSet):
    """Several rows of one form. ``more``: the wording of the button; ``beside``: forms about all rows together."""

    more = "Add another row"
    beside = ()
    default_error_messages = {
        "missing_management_form": "Part of the page was lost on the way: go back, and send it once more.",
        "too_many_forms": "There are more rows here than are taken at once: send %(num)d or fewer.",
        "too_few_forms": "Fill in at least %(num)d of the rows.",
    }

    @property
    def may_grow(self):
        return self.total_form_count() < self.max_num

    def unjudged(self):
        """The same rows with what was typed and no problems said: for a page that only asked for more rows."""
        self._errors = [form.unjudged().errors for form in self.forms]
        self._non_form_errors = self.error_class()
        return self

    def filled(self):
        """The cleaned data of the rows that have something in them. Call after is_valid()."""
        return [form.cleaned_data for form in self.forms if form.has_changed() and form.cleaned_data]


def rows_of(form, *, extra=1, least=0, most=MOST_ROWS, more="", base=RowsFormSet):
    """The class of a set of rows of ``form``."""
    made = forms.formset_factory(
        form,
        formset=base,
        extra=extra,
        min_num=least,
        validate_min=bool(least),
        max_num=most,
        absolute_max=most,
        validate_max=True,
        renderer=StudioRenderer(),
    )
    made.more = more or base.more
    return made


def asked_for_more(data, prefix):
    """Whether the button for more rows of this set was pressed."""
    return data.get("more") == prefix


def with_one_more(data, prefix, most=MOST_ROWS):
    """The posted data with one more empty row, to be shown again ``unjudged()``."""
    data = data.copy()
    name = f"{prefix}-{TOTAL_FORM_COUNT}"
    try:
        total = int(data.get(name, 0))
    except ValueError:
        return data
    data[name] = str(min(total + 1, most))
    return data

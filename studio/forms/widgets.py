"""Boxes to type and choose in. Each works as plain HTML; clearbath.js adds to some of them."""

import re

from django import forms

from studio import units

ROWS_OF_CHOICES = "parts/choices.html"
NUMBER = {"inputmode": "decimal", "autocomplete": "off"}
OF_THE_BROWSER = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2})?")
WHOLE = {"inputmode": "numeric", "autocomplete": "off"}


class Choices(forms.RadioSelect):
    """One of several, a whole row to touch each."""

    template_name = ROWS_OF_CHOICES


class Ticks(forms.CheckboxSelectMultiple):
    """Any of several, a whole row to touch each."""

    template_name = ROWS_OF_CHOICES


class MeasureInput(forms.TextInput):
    """A number and, where there are several, a choice of units: posts ``name`` and ``name_unit``."""

    template_name = "parts/measure.html"

    def __init__(self, units_offered, attrs=None):
        super().__init__({**NUMBER, **(attrs or {})})
        self.units_offered = tuple(units_offered)

    def value_from_datadict(self, data, files, name):
        return data.get(name), data.get(f"{name}_unit")

    def value_omitted_from_data(self, data, files, name):
        return name not in data

    def get_context(self, name, value, attrs):
        typed, unit = value if isinstance(value, tuple) else (value, None)
        if unit not in self.units_offered:
            unit = self.units_offered[0]
        context = super().get_context(name, typed, attrs)
        context["widget"] |= {
            "units": [(key, units.UNITS[key].label) for key in self.units_offered],
            "unit": unit,
            "unit_label": units.UNITS[unit].label,
        }
        return context


class SuffixInput(forms.TextInput):
    """A box with words after it that are not typed, such as "%" or "EUR"."""

    template_name = "parts/suffix.html"

    def __init__(self, suffix, attrs=None):
        super().__init__({**NUMBER, **(attrs or {})})
        self.suffix = suffix

    def get_context(self, name, value, attrs):
        context = super().get_context(name, value, attrs)
        context["widget"]["suffix"] = self.suffix() if callable(self.suffix) else self.suffix
        return context


class StepperInput(forms.TextInput):
    """A count: a box that gets a minus and a plus button where there is JavaScript."""

    template_name = "parts/stepper.html"

    def __init__(self, least=0, most=None, attrs=None):
        limits = {"data-least": least} | ({} if most is None else {"data-most": most})
        super().__init__({**WHOLE, **limits, **(attrs or {})})


class ColourInput(forms.TextInput):
    """A colour written as "#9c3122", with the browser's own chooser beside it where there is JavaScript."""

    template_name = "parts/colour.html"

    def __init__(self, attrs=None):
        super().__init__({"autocomplete": "off", "spellcheck": "false", **(attrs or {})})


class WhenInput(forms.DateTimeInput):
    """The browser's own box for a day and a time; a plain one for text that the browser's own would not show."""

    input_type = "datetime-local"

    def __init__(self, attrs=None):
        super().__init__({"autocomplete": "off", **(attrs or {})}, format="%Y-%m-%dT%H:%M")

    def get_context(self, name, value, attrs):
        context = super().get_context(name, value, attrs)
        shown = context["widget"]["value"]
        if shown and not OF_THE_BROWSER.fullmatch(shown):
            context["widget"]["type"] = "text"
        return context

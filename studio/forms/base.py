"""Every form of the program: how its fields are drawn, and what it says when something is wrong.

What a person typed is kept whatever happens; only characters that no database or page can hold are left out.
Every problem is a sentence that says what to do, the same beside the field and in the summary.
"""

from django import forms
from django.core.validators import MaxLengthValidator
from django.forms.boundfield import BoundField
from django.forms.renderers import TemplatesSetting
from django.forms.utils import ErrorDict

from studio.forms.text import tidy
from studio.forms.widgets import ROWS_OF_CHOICES

LONGEST = 4000
TOO_LONG = "“{label}” has %(show_value)d characters and %(limit_value)d fit: shorten it."

CHOOSE_ONE = "Choose one under “{label}”."
CHOOSE_AGAIN = "What was chosen under “{label}” is no longer there: choose another."
WRITE_LINK = "“{label}” needs a whole web address, such as https://example.org/page."
CHOOSE_FILE = "Choose a file under “{label}”."

# By kind of field, the nearest kind first; then by Django's own code for what is wrong.
SENTENCES = (
    (forms.BooleanField, {"required": "Tick “{label}” to go on."}),
    (
        (forms.MultipleChoiceField, forms.ModelMultipleChoiceField),
        {
            "required": "Choose at least one under “{label}”.",
            "invalid_choice": CHOOSE_AGAIN,
            "invalid_list": CHOOSE_AGAIN,
            "invalid_pk_value": CHOOSE_AGAIN,
        },
    ),
    ((forms.ChoiceField, forms.ModelChoiceField), {"required": CHOOSE_ONE, "invalid_choice": CHOOSE_AGAIN}),
    (
        forms.FileField,
        {
            "required": CHOOSE_FILE,
            "invalid": CHOOSE_FILE,
            "missing": CHOOSE_FILE,
            "empty": "The file under “{label}” is empty: choose another.",
            "max_length": "The file under “{label}” has too long a name: shorten it, and choose it again.",
            "contradiction": "Either choose a file under “{label}” or tick to remove it, not both.",
            "invalid_image": "The file under “{label}” is not a picture that can be read: choose another.",
        },
    ),
    (forms.URLField, {"invalid": WRITE_LINK}),
    (forms.EmailField, {"invalid": "“{label}” needs a whole e-mail address, such as name@example.org."}),
    (
        (forms.DateField, forms.DateTimeField, forms.TimeField),
        {"invalid": "Write “{label}” as year, month and day, such as 2026-10-09."},
    ),
    (forms.UUIDField, {"invalid": "This page has lost its number: open it anew, and send it once more."}),
    (
        (forms.IntegerField, forms.DecimalField, forms.FloatField),
        {
            "invalid": "Write “{label}” as a number in digits, such as 3.",
            "min_value": "“{label}” must be %(limit_value)s or more.",
            "max_value": "“{label}” must be %(limit_value)s or less.",
            "max_digits": "“{label}” has more digits than can be right: check the number.",
            "max_whole_digits": "“{label}” has more digits than can be right: check the number.",
            "max_decimal_places": "“{label}” takes %(max)s digits after the point: round it.",
        },
    ),
    (
        forms.Field,
        {
            "required": "Fill in “{label}”.",
            "invalid": "“{label}” can't be read: write it again.",
            "max_length": TOO_LONG,
            "min_length": "“{label}” needs %(limit_value)d characters or more.",
            "null": "Fill in “{label}”.",
            "blank": "Fill in “{label}”.",
            "unique": "This “{label}” is taken already: write another.",
            "null_characters_not_allowed": "“{label}” holds a character that can't be kept: type it again.",
        },
    ),
)


class StudioBoundField(BoundField):
    """A field on its page."""

    @property
    def target(self):
        """The id that a link in the summary goes to: the box, or the first of several choices."""
        if self.use_fieldset:
            return f"{self.auto_id}_0" if len(self) else self.auto_id
        return self.id_for_label or self.auto_id

    @property
    def optional(self):
        """Whether to say so: only where other fields of the form must be filled in."""
        if self.field.required or self.widget_type in ("checkbox", "hidden"):
            return False
        return any(field.required and not field.widget.is_hidden for field in self.form.fields.values())


class QuietBoundField(StudioBoundField):
    """Of a form where nearly all may be left out: no field says so of itself."""

    optional = False


class StudioRenderer(TemplatesSetting):
    form_template_name = "parts/form.html"
    formset_template_name = "parts/rows.html"
    field_template_name = "parts/field.html"
    bound_field_class = StudioBoundField


class Sentences:
    """Mixed into a form: the studio's drawing, its sentences and its care for text."""

    default_renderer = StudioRenderer
    use_required_attribute = False
    parts = ()  # of a long form: (heading, a line below it, names of fields), in the order of the page

    def __init__(self, *args, **kwargs):
        kwargs.setdefault("label_suffix", "")
        self._dress_once()
        super().__init__(*args, **kwargs)

    @classmethod
    def _dress_once(cls):
        """Each form's own copy of the fields comes from these, so they are dressed for all of them."""
        if "_dressed" not in vars(cls):
            for name, field in cls.base_fields.items():
                dress(field, field.label or name.replace("_", " ").capitalize())
            cls._dressed = True

    def in_parts(self):
        """[(heading, line, fields)] of a long form. What no part names stands in the last; without parts all is one."""
        parts = [
            (heading, line, [self[name] for name in names if name in self.fields])
            for heading, line, names in self.parts
        ]
        named = {name for _, _, names in self.parts for name in names}
        rest = [field for field in self.visible_fields() if field.name not in named]
        if not parts:
            return [("", "", rest)]
        parts[-1][2].extend(rest)
        return parts

    def unjudged(self):
        """The same form with what was typed and no problems said: for a page that only asked for more rows."""
        self._errors = ErrorDict()
        self.cleaned_data = {}
        return self

    def _widget_data_value(self, widget, html_name):
        return tidy(super()._widget_data_value(widget, html_name))


class StudioForm(Sentences, forms.Form):
    """A form of this program."""


class StudioModelForm(Sentences, forms.ModelForm):
    """A form that makes or changes one row. Name its fields; never `exclude`."""


def dress(field, label):
    """Give a field this studio's sentences, limits and drawing."""
    # A "%" would be read as a place to fill in: some of these sentences have such places.
    label = str(label).replace("%", "percent")
    usual = {code: text for code, text in field.error_messages.items() if _is_usual(field, code)}
    for code, sentence in sentences_for(field).items():
        if code in usual or code not in field.error_messages:
            field.error_messages[code] = sentence.replace("{label}", label)
    if isinstance(field, forms.CharField) and not isinstance(field, forms.UUIDField):
        _take_long_text(field)
    if isinstance(field.widget, forms.NumberInput):
        _take_any_number(field.widget)
    if type(field.widget) in (forms.RadioSelect, forms.CheckboxSelectMultiple):
        field.widget.template_name = ROWS_OF_CHOICES


def sentences_for(field):
    """Code -> sentence for this kind of field, the nearest kind winning."""
    found = {}
    for kind, sentences in reversed(SENTENCES):
        if isinstance(field, kind):
            found |= sentences
    return found


def _is_usual(field, code):
    """Whether this message is still the library's own, so that what a form words itself stays."""
    for kind in type(field).__mro__:
        usual = vars(kind).get("default_error_messages", {})
        if code in usual:
            return kind.__module__.startswith("django.") and field.error_messages[code] == usual[code]
    return False


def _take_long_text(field):
    """Too much text is said, not cut off without a word."""
    field.widget.attrs.pop("maxlength", None)
    field.widget.attrs.pop("minlength", None)
    if not any(isinstance(validator, MaxLengthValidator) for validator in field.validators):
        field.validators = [*field.validators, MaxLengthValidator(LONGEST)]


def _take_any_number(widget):
    """A plain text box: a number box changes when the page is scrolled, and says nothing about "1,5"."""
    widget.input_type = "text"
    for name in ("min", "max", "step"):
        widget.attrs.pop(name, None)
    widget.attrs.setdefault("inputmode", "decimal")
    widget.attrs.setdefault("autocomplete", "off")

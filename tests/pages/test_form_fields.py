"""What forms make of what people type: a value, or a sentence that says what to write, and the typed text kept."""

import re
from datetime import UTC, datetime
from decimal import Decimal

import pytest
import time_machine
from django import forms
from django.http import QueryDict
from django.utils import timezone

from studio import writing
from studio.forms import rows
from studio.forms.base import StudioForm
from studio.forms.fields import (
    AmountField,
    ColourField,
    MoneyField,
    NumberField,
    PercentField,
    WhenField,
    WholeField,
    WordsField,
)
from studio.templatetags.parts import problems_of
from studio.units import Amount

FIELDS = {
    "words": lambda: WordsField(label="Words", max_length=200),
    "number": lambda: NumberField(label="Number", most=1000),
    "whole": lambda: WholeField(label="Skeins", stepper=True, least=1, most=500),
    "percent": lambda: PercentField(label="Strength, %"),
    "amount": lambda: AmountField(("mL", "g"), label="Amount", most=100_000, above_zero=True),
    "money": lambda: MoneyField(label="Paid"),
    "colour": lambda: ColourField(label="Colour", required=True),
    "when": lambda: WhenField(label="When", required=True),
    "choice": lambda: forms.ChoiceField(label="Base, 75 %", choices=[("1", "Tessel")]),
    "choices": lambda: forms.ChoiceField(label="Bottle", choices=[("1", "Brick")], widget=forms.RadioSelect),
    "several": lambda: forms.MultipleChoiceField(
        label="Pots", choices=[("1", "Pot 1")], widget=forms.CheckboxSelectMultiple
    ),
    "link": lambda: forms.URLField(label="Safety sheet, 100 %", assume_scheme="https"),
    "plain": lambda: forms.CharField(label="Plain"),
    "integer": lambda: forms.IntegerField(label="Minutes", max_value=9),
    "decimal": lambda: forms.DecimalField(label="Grams, %", max_digits=4, decimal_places=1),
    "uuid": lambda: forms.UUIDField(label="Number"),
    "email": lambda: forms.EmailField(label="E-mail, 100 %"),
    "day": lambda: forms.DateField(label="Day"),
}
TYPED = {
    "empty": "",
    "spaces": "   \u00a0 ",
    "below zero": "-5",
    "absurd": "9" * 40,
    "wrong unit": "12 parsecs",
    "asks": "1,000",
    "several marks": "1.000,5",
    "emoji": "🧶🧶",
    "nul": "\x00",
    "nul inside": "ab\x00cd",
    "control": "\x07\x1b[0m",
    "10 kB": "wool " * 2048,
    "10 kB of digits": "7" * 10240,
    "half a pair": "\ud83e",
    "other digits": "٣",
    "not a number": "NaN",
    "endless": "Infinity",
    "exponent": "1e999999999",
    "markup": "<script>alert(1)</script>",
    "percent signs": "%s %(label)s %d",
}
# Nothing of the library's wording, which says what is wrong but not what to do.
UNHELPFUL = re.compile(r"\binvalid\b|this field|this value|valid (choice|value|number|date)|\{label\}|%\(", re.I)

QUOTED = re.compile("“[^”]*”")


def form_of(name, data, **kwargs):
    kind = type("OneField", (StudioForm,), {"it": FIELDS[name]()})
    return kind(data, **kwargs)


def posted(text):
    """As a browser or a phone sends it; a list where the field reads one."""
    data = QueryDict(mutable=True)
    data["it"] = text
    return data


@pytest.mark.parametrize("typed", TYPED)
@pytest.mark.parametrize("name", FIELDS)
def test_bad_input_gets_a_sentence_and_is_kept(name, typed):
    form = form_of(name, posted(TYPED[typed]))
    html = str(form)
    if form.is_valid():
        str(form.cleaned_data["it"]).encode()  # what is taken can be written down
        assert "\x00" not in str(form.cleaned_data["it"])
        return
    for sentence in form.errors["it"]:
        assert sentence[0].isupper() or sentence[0] in "“0123456789"
        assert sentence.endswith(".")
        assert " " in sentence and not UNHELPFUL.search(QUOTED.sub("", sentence))
        assert len(sentence) < 200
    if "choice" not in name and name != "several" and TYPED[typed].isascii() and TYPED[typed].isalnum():
        assert TYPED[typed] in html


@pytest.mark.parametrize("name", FIELDS)
def test_a_field_that_was_not_sent_says_what_to_do(name):
    form = form_of(name, QueryDict())
    (sentence,) = form.errors["it"]
    assert re.match(r"Fill in “|Choose (one|at least one) under “", sentence)


@pytest.mark.parametrize(
    ("name", "typed", "value"),
    [
        ("words", " two\r\nlines ", "two\nlines"),
        ("words", "cafe\u0301", "café"),
        ("words", "red\x00wool \ud83e", "redwool"),
        ("words", "wool 🧶", "wool 🧶"),
        ("number", "2,5", Decimal("2.5")),
        ("number", "1 1/2", Decimal("1.5")),
        ("whole", "6", 6),
        ("whole", "6,0", 6),
        ("percent", "85 %", Decimal(85)),
        ("percent", "0,5", Decimal("0.5")),
        ("amount", "5,5", Amount(Decimal("5.5"), "mL")),
        ("amount", "5,5 g", Amount(Decimal("5.5"), "g")),
        ("amount", "1 1/2 tbsp", Amount(Decimal("1.5"), "metric_tbsp")),
        ("money", "12.50", 1250),
        ("money", "€12,50", 1250),
        ("colour", "9C3122", "#9c3122"),
        ("colour", "#abc", "#aabbcc"),
    ],
)
def test_what_a_dyer_types_is_read(name, typed, value):
    form = form_of(name, posted(typed))
    assert form.is_valid(), form.errors
    assert form.cleaned_data["it"] == value


def test_the_chosen_unit_counts_unless_another_is_typed():
    data = posted("20")
    data["it_unit"] = "g"
    assert form_of("amount", data).fields["it"].clean(("20", "g")) == Amount(Decimal(20), "g")
    assert form_of("amount", data).fields["it"].clean(("20 mL", "g")) == Amount(Decimal(20), "mL")
    form = form_of("amount", data)
    assert form.is_valid()
    assert form.cleaned_data["it"] == Amount(Decimal(20), "g")


def test_an_amount_keeps_its_text_and_its_unit_when_refused():
    data = posted("1,250")
    data["it_unit"] = "g"
    html = str(form_of("amount", data))
    assert 'value="1,250"' in html
    assert '<option value="g" selected>' in html


def test_a_unit_from_nowhere_is_refused():
    data = posted("20")
    data["it_unit"] = "furlong"
    assert form_of("amount", data).errors["it"] == ["Choose a unit from the list beside the number."]


@pytest.mark.parametrize(
    ("name", "typed", "sentence"),
    [
        ("whole", "0", "0 is too little: write 1 or more."),
        ("whole", "2.5", "2.5 is not a whole number: write one such as 2."),
        ("percent", "120", "120\u00a0% is too much: write 100\u00a0% or less."),
        ("amount", "0", "0\u00a0mL is nothing: write more than 0, or leave it out."),
        ("amount", "200 L", "200\u00a0L is too much: write 100000\u00a0mL or less."),
        ("amount", "1,250", "“1,250” could be 1.25 or 1250: write 1.25 or 1250."),
        ("integer", "10", "“Minutes” must be 9 or less."),
        ("link", "no link", "“Safety sheet, 100 percent” needs a whole web address"),
        ("words", "x" * 201, "“Words” has 201 characters and 200 fit: shorten it."),
    ],
)
def test_a_refusal_says_what_to_write(name, typed, sentence):
    assert form_of(name, posted(typed)).errors["it"][0].startswith(sentence)


def test_too_much_text_is_said_and_not_cut_off():
    html = str(form_of("words", posted("x" * 5000)))
    assert "maxlength" not in html
    assert "x" * 5000 in html


def test_text_without_a_limit_of_its_own_has_one():
    assert form_of("plain", posted("x" * 4000)).is_valid()
    assert "4001 characters and 4000 fit" in form_of("plain", posted("x" * 4001)).errors["it"][0]


def test_a_form_may_word_its_own_refusal():
    class Own(StudioForm):
        it = forms.CharField(error_messages={"required": "Say who dyed it."})

    assert Own({}).errors["it"] == ["Say who dyed it."]


@pytest.mark.parametrize(
    ("typed", "at"),
    [
        ("2026-10-09T14:31", datetime(2026, 10, 9, 12, 31, tzinfo=UTC)),
        ("14.31", datetime(2026, 10, 20, 12, 31, tzinfo=UTC)),
        ("2026-10-09T14:31+05:00", datetime(2026, 10, 9, 9, 31, tzinfo=UTC)),
        # Clocks went back on 26 October 2025 at 03:00 in Stockholm (tz database): of the two 02:30, the first.
        ("2025-10-26T02:30", datetime(2025, 10, 26, 0, 30, tzinfo=UTC)),
    ],
)
@time_machine.travel(datetime(2026, 10, 20, 16, tzinfo=UTC), tick=False)
def test_a_time_is_the_studios_own(typed, at):
    with timezone.override("Europe/Stockholm"):
        assert WhenField().clean(typed).astimezone(UTC) == at


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("half past two", "write it as 14:31"),
        ("25:00", "write it as 14:31"),
        ("0001-01-01T00:00", "year can't be right"),
        ("9999-12-31T23:59", "year can't be right"),
        ("2026-10-20T23:00", "still to come"),
        ("2026-03-29T02:30", "skipped"),  # Stockholm went to summer time at 02:00 (tz database)
    ],
)
@time_machine.travel(datetime(2026, 10, 20, 16, tzinfo=UTC), tick=False)
def test_a_time_that_cannot_be_is_refused(typed, words):
    with timezone.override("Europe/Stockholm"), pytest.raises(forms.ValidationError, match=words):
        WhenField().clean(typed)


def test_a_time_the_browser_would_not_show_is_shown_as_text():
    assert 'type="text" name="it" value="half past two"' in str(form_of("when", posted("half past two")))
    assert 'type="datetime-local" name="it" value="2026-10-09T14:31"' in str(
        form_of("when", posted("2026-10-09T14:31"))
    )


def test_money_is_read_in_the_studios_currency():
    writing._writing.set(writing.Writing(currency="JPY"))
    try:
        assert MoneyField().clean("1200") == 1200
        with pytest.raises(forms.ValidationError, match="JPY|digits"):
            MoneyField().clean("12.50")
    finally:
        writing.deactivate()


def test_what_is_stored_is_shown_as_it_would_be_typed():
    kind = type("Stored", (StudioForm,), {name: FIELDS[name]() for name in ("amount", "money", "number", "colour")})
    stored = {"amount": Amount(Decimal("1.50"), "g"), "money": 1250, "number": Decimal("2.500"), "colour": "#9c3122"}
    html = str(kind(initial=stored))
    for value in ('value="1.5"', 'value="12.50"', 'value="2.5"', 'value="#9c3122"', '<option value="g" selected>'):
        assert value in html


class Fibre(StudioForm):
    fibre = WordsField(label="Fibre")
    share = PercentField(label="Share")


Fibres = rows.rows_of(Fibre, most=3, more="Add another fibre")


def rows_data(total, **fields):
    data = QueryDict(mutable=True)
    data.update({"form-TOTAL_FORMS": total, "form-INITIAL_FORMS": 0} | fields)
    return data


def test_the_enter_key_does_not_press_the_button_for_more():
    buttons = re.findall(r"<button[^>]*>", str(Fibres()))
    assert len(buttons) == 2
    assert "name=" not in buttons[0] and 'name="more"' in buttons[1]


def test_one_more_row_keeps_what_was_typed_and_judges_nothing():
    data = rows_data(1, **{"form-0-fibre": "Wool", "form-0-share": "1,000", "more": "form"})
    assert rows.asked_for_more(data, "form")
    shown = Fibres(rows.with_one_more(data, "form", most=3)).unjudged()
    html = str(shown)
    assert len(shown.forms) == 2
    assert 'value="Wool"' in html and 'value="1,000"' in html
    assert "wrong" not in html and problems_of(shown) == []


def test_a_form_beside_the_rows_is_not_judged_either():
    assert "wrong" in str(Fibre({"share": "1,000"}))
    form = Fibre({"share": "1,000"}).unjudged()
    assert "wrong" not in str(form) and 'value="1,000"' in str(form)


def test_rows_stop_at_their_most():
    assert len(Fibres(rows.with_one_more(rows_data(3), "form", most=3)).forms) == 3
    assert not Fibres(rows_data(3)).may_grow
    assert Fibres(rows_data("1")).may_grow


@pytest.mark.parametrize("total", ["", "x", "-1", "99999999", "🧶"])
def test_a_spoilt_count_of_rows_is_a_sentence(total):
    formset = Fibres(rows.with_one_more(rows_data(total), "form", most=3))
    str(formset)
    assert all(sentence.endswith(".") for sentence in formset.non_form_errors())


def test_only_filled_rows_come_back():
    formset = Fibres(rows_data(2, **{"form-0-fibre": "Wool", "form-0-share": "100"}))
    assert formset.is_valid(), formset.errors
    assert formset.filled() == [{"fibre": "Wool", "share": Decimal(100)}]

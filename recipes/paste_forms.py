"""The box that a spreadsheet's rows are pasted into."""

from django import forms

from studio import sheet
from studio.forms.fields import WordsField
from studio.forms.once import OnceForm

BOTH = "There is a file here and something in the box: empty one of the two, and read again."


class PasteForm(OnceForm):
    """Rows as text, or in a file. `seen`: what was looked at before, so that nothing else is kept."""

    text = WordsField(
        label="The rows, with their headings",
        max_length=sheet.MOST_SIGNS,
        rows=10,
        required=False,
        strip=False,
        widget=forms.Textarea(
            {"rows": 10, "spellcheck": "false", "autocapitalize": "none", "autocomplete": "off", "wrap": "off"}
        ),
    )
    file = forms.FileField(
        label="Or a file", required=False, help_text="A .csv or .tsv file, as a spreadsheet saves it."
    )
    seen = forms.CharField(required=False, widget=forms.HiddenInput)
    remark = ""

    def clean(self):
        said = super().clean()
        file = said.get("file")
        if self.errors or not file:
            return said
        if said["text"].strip():
            self.add_error("file", BOTH)
            return said
        try:
            if file.size > sheet.MOST_BYTES:
                raise ValueError("This file is too large for a list: send it in parts of 1 MB at most.")
            said["text"], self.remark = sheet.text_of(file.read())
        except ValueError as problem:
            self.add_error("file", str(problem))
        return said

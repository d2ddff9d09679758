"""Forms for things that go by a name of their own: bases, dyes, pots, tools."""

from django.core.exceptions import ValidationError

from studio.forms.once import OnceForm


class NamedForm(OnceForm):
    """Subclasses give `model`, `initial_of(row)` and `facts()`, the columns to save."""

    model = None
    taken_sentence = "There is one of this name already: write another, or open that one."

    def __init__(self, *args, row=None, **kwargs):
        self.row = row
        if row is not None:
            kwargs["initial"] = self.initial_of(row) | kwargs.get("initial", {})
        super().__init__(*args, **kwargs)
        if row is None:
            self.fields.pop("retired", None)
        else:
            del self.fields["once"]  # a change may be sent again after another change

    def clean_name(self):
        name = " ".join(self.cleaned_data["name"].split())
        if self.is_taken(name):
            raise ValidationError(self.taken_sentence)
        return name

    def is_taken(self, name):
        """Whether another has this name. Costs a query."""
        others = self.model.objects.filter(name__iexact=name)
        if self.row is not None:
            others = others.exclude(pk=self.row.pk)
        return others.exists()

    def keep(self):
        """The row, made or changed."""
        row = self.row or self.model()
        for column, value in self.facts().items():
            setattr(row, column, value)
        row.save()
        return row

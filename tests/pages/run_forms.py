"""What the tests of pages share: a page's form as a browser would send it, and what people really type."""

from lxml import html

BAD = {
    "negative": "-5",
    "absurd": "99999999999999999999",
    "wrong unit": "3 bananas",
    "ambiguous": "1,000",
    "emoji": "🧶",
    "long": "x" * 10_000,
    "nul": "a\x00b",
    "not a number": "NaN",
}


def fields_of(answer, with_box):
    """The fields of the page's form that has a box of this name, as they stand."""
    for form in html.fromstring(answer.content.decode()).forms:
        if with_box in form.fields:
            return {key: without_first_line(value) for key, value in form.fields.items() if value is not None}
    raise AssertionError(f"The page has no form with {with_box}.")


def boxes(answer):
    """{name: what stands in it} of every box of the page; of two forms with the same box, that of the first."""
    found = {}
    for form in html.fromstring(answer.content.decode()).forms:
        found = {key: without_first_line(value or "") for key, value in form.fields.items()} | found
    return found


def without_first_line(value):
    """As a browser reads a textarea: a line's end right after its tag is not part of it."""
    return value.removeprefix("\n") if isinstance(value, str) else list(value)


def sentences(answer):
    """What the page's summary of problems says."""
    return [
        " ".join(found.text_content().split())
        for found in html.fromstring(answer.content.decode()).xpath('//div[@class="errors"]//li')
    ]


def words(answer):
    """All that a person reads on the page, in one line."""
    return " ".join(html.fromstring(answer.content.decode()).xpath("//main")[0].text_content().split())

"""A style sheet that was packed says the same to a browser as the one that people read."""

from pathlib import Path

import pytest

from studio.packing import packed

pytestmark = pytest.mark.browser

HERE = Path(__file__).resolve().parents[2]
SHEETS = sorted([*HERE.glob("studio/static/studio/*.css"), *HERE.glob("batches/static/batches/*.css")])
RULES = """async (text) => {
  const sheet = new CSSStyleSheet();
  await sheet.replace(text);
  return Array.from(sheet.cssRules, (rule) => rule.cssText.replace(/\\s+/g, " ")).join("\\n");
}"""


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_nothing_is_lost_by_packing(open_browser, sheet):
    page = open_browser()
    said = sheet.read_text()
    rules = page.evaluate(RULES, said)
    assert len(rules) > 200 and page.evaluate(RULES, packed(said)) == rules
    assert "/*" not in packed(said) and len(packed(said)) < len(said)

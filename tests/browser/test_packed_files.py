"""A style sheet or a script that was packed says the same to a browser as the one that people read."""

import re
from pathlib import Path

import pytest

from studio.packing import packed, packed_script

pytestmark = pytest.mark.browser

HERE = Path(__file__).resolve().parents[2]
SHEETS = sorted([*HERE.glob("studio/static/studio/*.css"), *HERE.glob("batches/static/batches/*.css")])
SCRIPTS = sorted([*HERE.glob("studio/static/studio/*.js"), *HERE.glob("batches/static/batches/*.js")])
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


WORDS = re.compile(r'"[^"\n]*"|`[^`]*`')


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda script: script.name)
def test_a_packed_script_can_be_read_and_says_nothing_else(open_browser, script):
    """What it does is seen by every test of the demo studio, whose scripts are packed."""
    said = script.read_text()
    short = packed_script(said)
    open_browser().evaluate("(text) => { new Function(text); }", short)
    assert set(WORDS.findall(short)) <= set(WORDS.findall(said))
    assert "/* " not in short and len(short) < len(said)

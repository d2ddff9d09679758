"""The direction of the house: studio <- recipes <- batches, and modules that need no Django.

Every import is read, lazy ones too, with the strings that name a model and the foreign keys they make.
"""

import ast
import re
from pathlib import Path

import pytest
from django.apps import apps
from django.template import TemplateSyntaxError, engines

ROOT = Path(__file__).resolve().parents[2]
APPS = ("studio", "recipes", "batches")
MAY_NOT_NAME = {"studio": {"recipes", "batches"}, "recipes": {"batches"}, "batches": set()}
PURE = [
    "studio/units.py",
    "studio/money.py",
    "studio/fibres.py",
    "studio/fibre_names.py",
    "studio/care.py",
    "studio/colourbar.py",
    "studio/upload.py",
    "studio/darkroom.py",
    "recipes/dyeing.py",
    "recipes/acid.py",
    "recipes/gradients.py",
    "recipes/precision.py",
    "batches/costing.py",
    "batches/sharing.py",
    "batches/colour.py",
]
# A file, or a folder that no other part of the program imports.
ONLY_IN = {
    "pint": "studio/units.py",
    "weasyprint": "studio/printing.py",
    "pikepdf": "studio/printing.py",
    "numpy": "batches/demo/drawing/",
}
LABEL = re.compile(r"(studio|recipes|batches)\.[A-Z]\w*")
# The settings and the table of addresses put the house together, so they name every room.
JOINS = {"studio/settings.py", "studio/urls.py", "studio/doors.py"}


def sources():
    for app in APPS:
        for path in sorted((ROOT / app).rglob("*.py")):
            if "migrations" not in path.parts:
                yield path.relative_to(ROOT).as_posix()


def imported(path):
    """The modules a file imports anywhere in it, with relative ones spelt out."""
    package = path.split("/")[:-1]
    for node in ast.walk(ast.parse((ROOT / path).read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) + 1 - node.level] if node.level else []
            yield ".".join([*base, *([node.module] if node.module else [])])
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", getattr(node.func, "id", "")) in (
            "import_module",
            "import_string",
            "__import__",
        ):
            yield from (part.value for part in node.args if isinstance(part, ast.Constant) and part.value)


def models_named(path):
    for node in ast.walk(ast.parse((ROOT / path).read_text())):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            match = LABEL.fullmatch(node.value)
            if match:
                yield match.group(1)


def room(module):
    return module.split(".")[0]


@pytest.mark.parametrize("path", [path for path in sources() if path not in JOINS])
def test_imports_point_one_way(path):
    forbidden = MAY_NOT_NAME[path.split("/")[0]]
    assert not {module for module in imported(path) if room(module) in forbidden}
    assert not set(models_named(path)) & forbidden


def test_only_what_draws_imports_what_templates_use():
    """A rule of the house, or its words, can be had without the tags of a template."""
    draws = re.compile(r"(studio|recipes|batches)/(templatetags|forms)/")
    wants = {
        path for path in sources() for module in imported(path) if ".templatetags" in module and room(module) in APPS
    }
    assert {path for path in wants if not draws.match(path)} == set()


def test_foreign_keys_point_back():
    for app in APPS:
        for model in apps.get_app_config(app).get_models(include_auto_created=True):
            for field in model._meta.get_fields():
                if getattr(field, "remote_field", None) and not field.auto_created and field.related_model:
                    assert field.related_model._meta.app_label not in MAY_NOT_NAME[app], field


@pytest.mark.parametrize("path", [path for path in PURE if (ROOT / path).exists()])
def test_a_pure_module_needs_no_django(path):
    """Nor anything of ours that does."""
    for module in imported(path):
        assert room(module) not in ("django", "simple_history"), module
        if room(module) in APPS:
            inside = module.replace(".", "/") + ".py"
            assert inside in PURE or module in APPS, module


@pytest.mark.parametrize(("library", "home"), ONLY_IN.items())
def test_a_library_has_one_home(library, home):
    assert not {path for path in sources() if library in map(room, imported(path)) and not path.startswith(home)}


@pytest.mark.parametrize("path", [path for path in sources() if not path.startswith("batches/demo/drawing/")])
def test_nothing_that_runs_needs_what_draws_the_demo_photographs(path):
    """Only the finished files are used, so a studio does not have to install numpy."""
    assert not {module for module in imported(path) if module.startswith("batches.demo.drawing")}


def test_the_reader_sees_lazy_imports(tmp_path, monkeypatch):
    (tmp_path / "studio").mkdir()
    (tmp_path / "studio/x.py").write_text(
        "def f():\n    from batches import tags\n    from . import money\n    import_module('recipes.acid')\n"
        "    key = 'batches.Run'\n"
    )
    monkeypatch.setitem(globals(), "ROOT", tmp_path)
    assert list(imported("studio/x.py")) == ["batches", "studio", "recipes.acid"]
    assert list(models_named("studio/x.py")) == ["batches"]


LOAD = re.compile(r"{% load ([a-z ]+) %}")


@pytest.mark.parametrize("path", sorted((ROOT / "templates").rglob("*.html")), ids=lambda path: path.name)
def test_a_template_loads_what_it_uses_and_no_more(path):
    """Without one of the libraries it loads, a template that needs it can't be read."""
    page = path.read_text()
    engines["django"].from_string(page)  # and all that it uses
    for load in LOAD.finditer(page):
        libraries = load[1].split()
        for library in libraries:
            others = " ".join(each for each in libraries if each != library)
            less = page.replace(load[0], f"{{% load {others} %}}" if others else "")
            with pytest.raises(TemplateSyntaxError):
                engines["django"].from_string(less)

"""The two documents say what is there: settings, commands, files, addresses, names. Nothing here needs a database."""

import ast
import builtins
import re
from functools import cache
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import get_commands
from django.urls import Resolver404, get_resolver, resolve

import batches.models
import recipes.models
import studio.models

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("studio", "recipes", "batches")
README, DEVELOPERS = "README.md", "DEVELOPERS.md"
BOTH = pytest.mark.parametrize("name", [README, DEVELOPERS])
MODELS = vars(batches.models) | vars(recipes.models) | vars(studio.models)

# Hosts and folders that a document may show: this computer, names kept for examples, and where systems keep things.
HOSTS = {"localhost", "127.0.0.1", "dyes.example.org", "studio.home.arpa"}
FOLDERS = ("/srv/", "/bin/bash", "/etc/ssl", "/etc/nginx")


@cache
def text(name):
    return (ROOT / name).read_text(encoding="utf-8")


def quoted(name):
    """What stands between backticks in running text."""
    return re.findall(r"`([^`\n]+)`", re.sub(r"```.*?```", "", text(name), flags=re.DOTALL))


def table(name, heading):
    """The rows of the first table below a heading, without its head, as lists of cells."""
    below = text(name).split(f"## {heading}\n", 1)[1].split("\n## ")[0]
    rows = re.search(r"(?:^\|.*\n)+", below, re.MULTILINE)[0].splitlines()
    return [[cell.strip() for cell in row.strip("|").split("|")] for row in rows[2:]]


def setting_rows():
    return {name.strip("`"): default.strip("`") for name, default, _ in table(README, "Settings")}


def literal_defaults():
    """{variable: its default} as the settings hand them to the readers, where they are plain values."""
    found = {}
    for call in ast.walk(ast.parse(text("studio/settings.py"))):
        if isinstance(call, ast.Call) and ast.unparse(call.func).startswith("env."):
            given = call.args[1:2] or [word.value for word in call.keywords if word.arg == "default"]
            if given and isinstance(given[0], ast.Constant):
                found["CLEARBATH_" + call.args[0].value] = given[0].value
            elif call.func.attr == "flag":
                found["CLEARBATH_" + call.args[0].value] = False
    return found


def our_commands():
    return {path.stem for room in ROOMS for path in ROOT.glob(f"{room}/management/commands/[!_]*.py")}


# Settings


def test_the_readme_lists_every_setting_and_no_other():
    assert set(setting_rows()) == settings.ENVIRONMENT.known | {"DATABASE_URL"}


@pytest.mark.parametrize(("name", "value"), literal_defaults().items())
def test_the_readme_says_the_default(name, value):
    written = {True: "yes", False: "no"}.get(value, str(value)) if isinstance(value, bool) else str(value)
    assert setting_rows()[name] == written


@BOTH
def test_a_setting_that_is_named_exists(name):
    named = set(re.findall(r"\bCLEARBATH_[A-Z0-9_]+", text(name)))
    assert named <= settings.ENVIRONMENT.known


# Commands


def test_the_developers_page_lists_our_commands():
    listed = {command for row in table(DEVELOPERS, "Commands") for command in re.findall(r"`manage\.py (\w+)`", row[0])}
    assert listed == our_commands()


@BOTH
def test_a_command_that_is_named_exists(name):
    named = set(re.findall(r"\bmanage\.py ([a-z_]+)", text(name)))
    assert named <= our_commands() | set(get_commands())


def test_the_developers_page_lists_what_tests_run_can_do():
    offered = set(re.findall(r'"\$\{1:-\}" = (\w+)', text("tests/run")))
    named = re.findall(r"bash tests/run ([a-z]\S*)", text(DEVELOPERS))
    assert offered
    assert {word for word in named if not (ROOT / word.strip("`")).exists()} == {f"{word}`" for word in offered}


def test_the_readme_lists_the_options_of_the_start():
    cases = re.findall(r"^ +([-a-z |]*--[-a-z |]+)\)", text("studio/run"), re.MULTILINE)
    offered = {option for case in cases for option in re.findall(r"--[a-z]+", case)}
    rows = table(README, "A running studio in five minutes")
    assert {row[0].strip("`").split()[0] for row in rows} == offered
    assert set(re.findall(r"bash studio/run (--[a-z]+)", text(README))) <= offered


# Files, addresses, names


@BOTH
def test_a_file_that_is_named_exists(name):
    looks_like_one = re.compile(r"\.?[\w-]+(/[\w.*-]+)*/?")
    tops = {path.name for path in ROOT.iterdir()}
    named = {
        word
        for word in quoted(name)
        if looks_like_one.fullmatch(word)
        and (word.split("/")[0] in tops and "/" in word or word.endswith((".py", ".md", ".css", ".html")))
        and word != "manage.py"
    }
    assert named
    assert [word for word in sorted(named) if not (ROOT / word).exists()] == []


def test_every_module_has_its_place_on_the_map():
    """The map of the rooms: each module of an app's top level and of its models is named."""
    modules = [path for room in ROOMS for part in (room, f"{room}/models") for path in ROOT.glob(f"{part}/[!_]*.py")]
    usual = {"apps.py", "urls.py", "doors.py", "wsgi.py"}  # each app's, and said once
    there = {path.relative_to(ROOT).as_posix() for path in modules if path.name not in usual}
    assert sorted(there - set(quoted(DEVELOPERS))) == []


def test_what_is_called_pure_imports_no_django():
    """So says the map of a row's modules; *no Django* likewise."""
    rows = re.findall(r"^\| ((?:`[\w/]+\.py`(?:, )?)+) \*(?:pure|no Django)\* \|", text(DEVELOPERS), re.MULTILINE)
    modules = [module for row in rows for module in re.findall(r"`(.+?)`", row)]
    assert "recipes/dyeing.py" in modules
    for module in modules:
        imported = re.findall(r"^\s*(?:from|import) ([\w.]+)", text(module), re.MULTILINE)
        assert not {name for name in imported if name.split(".")[0] == "django" or "models" in name}, module


@BOTH
def test_an_address_that_is_named_exists(name):
    for address in (word for word in quoted(name) if word.startswith("/")):
        if address == "/dyes" or address.startswith(FOLDERS):
            continue
        try:
            resolve(address)
        except Resolver404:
            pytest.fail(f"{name} names {address}, and there is no such address.")


def test_a_page_that_is_named_exists():
    named = [word.split(":") for word in quoted(DEVELOPERS) if re.fullmatch(rf"({'|'.join(ROOMS)}):[a-z-]+", word)]
    assert named
    for app, page in named:
        _, resolver = get_resolver().namespace_dict[app]
        assert page in resolver.reverse_dict, f"{app}:{page}"


def test_a_verb_that_is_named_exists():
    named = [word.split(".") for word in quoted(DEVELOPERS) if re.fullmatch(r"[A-Z][a-z]\w+\.[A-Za-z_]+", word)]
    assert named
    for model, verb in named:
        assert hasattr(MODELS[model], verb), f"{model}.{verb}"


@cache
def identifiers():
    """Every name that our own Python gives or uses, tests' fixtures too."""
    files = [path for room in ROOMS for path in (ROOT / room).rglob("*.py")] + [ROOT / "tests/conftest.py"]
    return {name for path in files for name in re.findall(r"[A-Za-z_]\w*", path.read_text(encoding="utf-8"))}


def test_a_name_that_is_mentioned_is_in_the_code():
    glossary = {word for row in table(DEVELOPERS, "Words and units") for word in re.findall(r"`([a-z]\w*)`", row[0])}
    mentioned = {word for word in quoted(DEVELOPERS) if re.fullmatch(r"[A-Z_]*[A-Z][A-Za-z_]+|[a-z]+_[a-z_]+", word)}
    assert glossary
    assert mentioned
    assert sorted((glossary | mentioned) - identifiers() - set(dir(builtins))) == []


def test_links_inside_the_readme_lead_somewhere():
    headings = re.findall(r"^#+ (.+)$", text(README), re.MULTILINE)
    anchors = {re.sub(r"[^\w -]", "", heading.lower()).replace(" ", "-") for heading in headings}
    assert set(re.findall(r"\]\(#([^)]+)\)", text(README))) <= anchors


# What each must say, and what neither says


@pytest.mark.parametrize(
    "sentence",
    [
        # BSD 3-clause, SPDX identifier BSD-3-Clause
        "Copyright (c) 2026, The Clearbath founders",
        "Redistribution and use in source and binary forms, with or without modification, are permitted provided that",
        "1. Redistributions of source code must retain the above copyright notice, this list of conditions and the",
        "2. Redistributions in binary form must reproduce the above copyright notice, this list of conditions and the",
        "3. Neither the name of the copyright holder nor the names of its contributors may be used to endorse",
        'THIS SOFTWARE IS PROVIDED BY THE COPYRIGHT HOLDERS AND CONTRIBUTORS "AS IS" AND ANY EXPRESS OR IMPLIED',
        "IN NO EVENT SHALL THE COPYRIGHT HOLDER OR CONTRIBUTORS BE LIABLE FOR ANY DIRECT, INDIRECT, INCIDENTAL,",
        "ARISING IN ANY WAY OUT OF THE USE OF THIS SOFTWARE, EVEN IF ADVISED OF THE POSSIBILITY OF SUCH DAMAGE.",
        "SIL Open Font License",
    ],
)
def test_the_readme_holds_the_licence(sentence):
    assert sentence in " ".join(text(README).replace("\n>", "\n").split())


@pytest.mark.parametrize(
    "word",
    ["respirator", "gloves", "Acid goes into water", "scald", "sealed jar", "microwave", "data sheet", "local rules"],
)
def test_the_readme_holds_the_cautions(word):
    assert word in text(README).split("## Safety at work\n")[1].split("\n## ")[0]


@BOTH
def test_a_document_shows_no_other_computer(name):
    hosts = set(re.findall(r"https?://([\w.-]+)", text(name)))
    assert hosts <= HOSTS
    folders = re.findall(r"(?:^|[\s(`=\"'])(/[a-z]\S*)", text(name), re.MULTILINE)
    pages = {"/dyes", "/board/", "/healthz", "/readyz", "/root.crt"}
    assert [path for path in folders if path.strip("`);,.") not in pages and not path.startswith(FOLDERS)] == []


@BOTH
@pytest.mark.parametrize("word", ["session", "ticket", "todo", "tbd", "@@", "lorem"])
def test_a_document_is_finished_and_speaks_of_the_program_alone(name, word):
    assert not re.search(rf"(?<![a-z]){word}s?(?![a-z])", text(name).lower())

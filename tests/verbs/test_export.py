"""Everything comes out, exact, and nothing of it runs in a spreadsheet."""

import csv
import io
import zipfile

import pytest

from batches import export
from studio.models import Studio
from tests import builders


@pytest.fixture
def taken_out(cast):
    studio = Studio.get()
    batch = builders.one_pot(cast.owner)
    builders.addition(cast.owner, batch, builders.bottle(cast.owner), "12.345")
    builders.words(cast.owner, batch, said='=HYPERLINK("http://x.example";"dye")')
    picture = builders.picture(cast.owner)
    with export.write(studio, builders.DAY) as file, zipfile.ZipFile(file) as archive:
        yield {name: archive.read(name) for name in archive.namelist()}, picture


def table(files, name):
    return list(csv.DictReader(io.StringIO(files[name].decode())))


def test_every_table_of_ours_is_there(taken_out):
    files, _ = taken_out
    wanted = {f"{model._meta.app_label}-{model._meta.model_name}.csv" for model in export.tables()}
    assert wanted <= files.keys()
    assert "about.txt" in files


def test_amounts_are_exact(taken_out):
    files, _ = taken_out
    assert table(files, "batches-addition.csv")[0]["amount"] == "12.345"


def test_words_never_run_as_a_formula(taken_out):
    files, _ = taken_out
    said = [row["words"] for row in table(files, "batches-entry.csv") if "HYPERLINK" in row["words"]]
    assert said == ['\'=HYPERLINK("http://x.example";"dye")']


def test_pictures_come_along(taken_out):
    files, picture = taken_out
    assert files[f"pictures/{picture.pk}.jpg"].startswith(b"\xff\xd8")


def test_no_password_leaves(taken_out):
    files, _ = taken_out
    assert all(
        "password" not in content.decode("utf-8", "ignore").splitlines()[0]
        for name, content in files.items()
        if name.endswith(".csv")
    )


@pytest.mark.parametrize(("role", "status"), [("owner", 200), ("maker", 403), ("helper", 403), ("viewer", 403)])
def test_only_the_owner_takes_it_out(cast, client_of, studio, role, status):
    answer = client_of(getattr(cast, role)).post("/studio/export/")
    assert answer.status_code == status

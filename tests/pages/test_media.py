"""Keeping pictures and documents, and who is given them."""

import io
from datetime import UTC, datetime
from uuid import uuid4

import pytest
from django.conf import settings
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from studio.album import NotADocument, keep_document, keep_picture
from studio.darkroom import NotAPhoto
from studio.models import Document, Picture
from tests.builders import NOON, clock

PDF = b"%PDF-1.7\n1 0 obj\n<<>>\nendobj\ntrailer\n<<>>\nstartxref\n9\n%%EOF\n"


@pytest.fixture(autouse=True)
def storage(tmp_path, settings):
    settings.MEDIA_ROOT = tmp_path


def photo(colour="#9c3122", size=(800, 1000), taken=None):
    image = Image.new("RGB", size, colour)
    exif = Image.Exif()
    if taken:
        exif.get_ifd(0x8769)[0x9003] = taken
    out = io.BytesIO()
    image.save(out, "JPEG", exif=exif)
    return SimpleUploadedFile("hank.jpg", out.getvalue(), "image/jpeg")


def pdf(content=PDF):
    return SimpleUploadedFile("sheet.pdf", content, "application/pdf")


# Keeping


def test_a_picture_is_kept_in_its_three_sizes(cast, storage):
    picture = keep_picture(photo(), cast.helper, clock())
    assert (picture.width, picture.height, picture.received_at) == (800, 1000, NOON)
    for size in Picture.SIZES:
        with default_storage.open(picture.path(size)) as file:
            assert Image.open(file).format == "JPEG"


def test_the_camera_s_time_is_read_in_the_studio_s_zone(cast):
    picture = keep_picture(photo(taken="2026:03:14 09:30:00"), cast.helper)
    assert picture.taken_at == datetime(2026, 3, 14, 9, 30, tzinfo=UTC)


def test_the_same_id_again_is_the_picture_that_was_kept(cast):
    number = uuid4()
    first = keep_picture(photo(), cast.helper, id=number)
    again = keep_picture(photo("#2c5f8a"), cast.helper, id=number)
    assert again == first
    assert again.sha256 == first.sha256
    assert Picture.objects.count() == 1


def test_a_broken_off_upload_is_written_over(cast):
    number = uuid4()
    name = Picture(id=number).path("large")
    default_storage.save(name, io.BytesIO(b"half a pict"))
    keep_picture(photo(), cast.helper, id=number)
    with default_storage.open(name) as file:
        assert Image.open(file).size == (800, 1000)


def test_of_two_uploads_at_the_same_moment_one_row_is_kept(cast, monkeypatch):
    number = uuid4()
    kept = keep_picture(photo(), cast.helper, id=number)
    with monkeypatch.context() as patch:
        found = iter([Picture.objects.none(), Picture.objects.filter(pk=number)])
        patch.setattr(Picture.objects.__class__, "filter", lambda self, **asked: next(found), raising=False)
        assert keep_picture(photo(), cast.helper, id=number) == kept


def test_what_is_not_a_photo_leaves_nothing_behind(cast, tmp_path):
    with pytest.raises(NotAPhoto):
        keep_picture(SimpleUploadedFile("x.jpg", b"<script>"), cast.helper)
    assert not Picture.objects.exists()
    assert not list(tmp_path.rglob("*.jpg"))


def test_a_document_is_kept_as_it_came(cast):
    document = keep_document(pdf(), "Rust, safety data sheet", cast.maker, clock())
    with default_storage.open(document.path) as file:
        assert file.read() == PDF
    assert (document.size, document.received_at) == (len(PDF), NOON)
    assert keep_document(pdf(PDF + b"\n"), "Other", cast.maker, id=document.pk) == document


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "The file is empty"),
        (b"<html>%PDF-1.7 %%EOF", "This file is not a PDF"),
        (b"MZ" + PDF, "This file is not a PDF"),
        (PDF.replace(b"%%EOF", b""), "cut off before its end"),
        (PDF + b"<script>" * 1000, "cut off before its end"),
    ],
)
def test_what_is_not_a_whole_pdf_is_refused(cast, content, sentence):
    with pytest.raises(NotADocument, match=sentence):
        keep_document(pdf(content), "Sheet", cast.maker)
    assert not Document.objects.exists()


def test_a_document_past_the_limit_is_refused(cast, settings):
    settings.UPLOAD_MB = 1
    with pytest.raises(NotADocument, match="larger than 1 MB"):
        keep_document(pdf(PDF + b" " * 1_000_000 + b"%%EOF"), "Sheet", cast.maker)


# Serving


@pytest.fixture
def picture(cast):
    return keep_picture(photo(), cast.helper)


@pytest.fixture
def document(cast):
    return keep_document(pdf(), "Rust: <safety> sheet", cast.maker)


def address(picture, size="thumb"):
    return f"/pictures/{picture.pk}/{size}.jpg"


@pytest.mark.parametrize("role", ["owner", "maker", "helper", "viewer"])
@pytest.mark.parametrize("size", Picture.SIZES)
def test_everybody_signed_in_is_given_the_picture(cast, client_of, picture, role, size):
    answer = client_of(getattr(cast, role)).get(address(picture, size))
    assert answer.headers["Content-Type"] == "image/jpeg"
    assert Image.open(io.BytesIO(answer.getvalue())).format == "JPEG"


@pytest.mark.parametrize("method", ["get", "head"])
def test_nobody_else_is_given_anything(client, picture, document, method):
    for there in (address(picture), f"/documents/{document.pk}/"):
        answer = getattr(client, method)(there)
        assert answer.status_code == 302
        assert answer.url.startswith("/sign-in/")


def test_the_files_cannot_be_reached_past_the_view(cast, client_of, picture):
    for there in (f"/media/{picture.path('thumb')}", f"/{picture.path('thumb')}", f"/static/{picture.path('thumb')}"):
        assert client_of(cast.owner).get(there).status_code == 404


def test_a_file_can_run_nothing_and_is_kept_by_its_browser_only(cast, client_of, picture, document):
    for there in (address(picture), f"/documents/{document.pk}/"):
        headers = client_of(cast.viewer).get(there).headers
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
        assert headers["Cache-Control"] == "private, max-age=31536000, immutable"


def test_a_picture_the_browser_has_is_not_sent_again(cast, client_of, picture):
    client = client_of(cast.viewer)
    tag = client.get(address(picture)).headers["ETag"]
    answer = client.get(address(picture), headers={"If-None-Match": tag})
    assert (answer.status_code, answer.content) == (304, b"")


def test_a_document_is_downloaded_under_its_title(cast, client_of, document):
    answer = client_of(cast.viewer).get(f"/documents/{document.pk}/")
    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"] == 'attachment; filename="rust-safety-sheet.pdf"'
    assert answer.getvalue() == PDF


@pytest.mark.parametrize("size", ["original", "large.jpg", "THUMB", "thumb-"])
def test_another_size_is_not_found(cast, client_of, picture, size):
    assert client_of(cast.owner).get(address(picture, size)).status_code == 404


def test_a_picture_whose_file_is_gone_is_not_found(cast, client_of, picture):
    default_storage.delete(picture.path("thumb"))
    assert client_of(cast.owner).get(address(picture)).status_code == 404


def test_the_health_pages_tell_nothing_but_yes(client, db, monkeypatch):
    assert client.get("/healthz").content == b"ok\n"
    assert client.get("/readyz").content == b"ready\n"
    monkeypatch.setattr("studio.views.health.why_not_ready", lambda: f"the disk under {settings.DATA} is full")
    answer = client.get("/readyz")
    assert (answer.status_code, answer.content) == (503, b"not ready\n")

"""Photos in, clean JPEGs out. Every fixture is drawn here."""

import io
import re
import struct
import threading
import zlib
from datetime import datetime

import pillow_heif
import pytest
from coloraide import Color
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageCms, ImageFile, PngImagePlugin

from studio import darkroom
from studio.darkroom import NotAPhoto, develop

PLACE = b"Quernstow weir"
BRICK = (200, 96, 60)


def picture(size=(800, 1000), colour=BRICK, mode="RGB"):
    """A plain patch with a white top left corner, to see which way up it is."""
    image = Image.new("RGB", size, colour)
    image.paste("white", (0, 0, size[0] // 4, size[1] // 4))
    return image.convert(mode)


def saved(image, format, **options):
    out = io.BytesIO()
    image.save(out, format, **options)
    return out.getvalue()


def opened(jpeg):
    return Image.open(io.BytesIO(jpeg))


def exif_of_a_phone(orientation=6, taken="2026:05:04 09:15:30"):
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "Testcam"
    exif.get_ifd(0x8769).update({0x9003: taken, 0x9286: b"ASCII\0\0\0" + PLACE})
    exif.get_ifd(0x8825).update({1: "N", 2: (52.0, 12.0, 34.5), 3: "E", 4: (4.0, 53.0, 12.0)})
    return exif


def display_p3_profile():
    """A version 2 matrix profile laid out after ICC.1:2001-04, with the primaries of Display P3."""

    def s15(value):
        return struct.pack(">i", round(value * 65536))

    def xyz(values):
        return b"XYZ \0\0\0\0" + b"".join(s15(value) for value in values)

    def linear(value):
        return value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4

    steps = (round(65535 * linear(i / 1023)) for i in range(1024))
    curve = b"curv\0\0\0\0" + struct.pack(">I1024H", 1024, *steps)
    tags = {
        b"desc": b"desc\0\0\0\0" + struct.pack(">I", 8) + b"Wide P3\0" + bytes(78),
        b"cprt": b"text\0\0\0\0none\0",
        b"wtpt": xyz((0.9642, 1.0, 0.8249)),
    }
    for name, primary in zip((b"rXYZ", b"gXYZ", b"bXYZ"), ((1, 0, 0), (0, 1, 0), (0, 0, 1)), strict=True):
        tags[name] = xyz(Color("display-p3", primary).convert("xyz-d50").coords())
    for name in (b"rTRC", b"gTRC", b"bTRC"):
        tags[name] = curve
    table, body, start = b"", b"", 128 + 4 + 12 * len(tags)
    for name, data in tags.items():
        table += name + struct.pack(">II", start + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    size = start + len(body)
    header = struct.pack(">I4sI", size, b"", 0x02400000) + b"mntrRGB XYZ " + bytes(12) + b"acsp"
    header += bytes(28) + s15(0.9642) + s15(1) + s15(0.8249)
    return header.ljust(128, b"\0") + struct.pack(">I", len(tags)) + table + body


def every_upload():
    xmp = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><place>' + PLACE + b"</place></x:xmpmeta>"
    notes = PngImagePlugin.PngInfo()
    notes.add_text("Comment", PLACE.decode())
    phone, p3, sideways = exif_of_a_phone(), display_p3_profile(), picture((1000, 800))
    return {
        "jpeg": saved(sideways, "JPEG", exif=phone, icc_profile=p3, comment=PLACE, xmp=xmp, quality=95),
        "png": saved(picture(), "PNG", exif=exif_of_a_phone(1), icc_profile=p3, pnginfo=notes),
        "webp": saved(picture(), "WEBP", exif=exif_of_a_phone(1), icc_profile=p3, xmp=xmp, quality=95),
        "heic": saved(sideways, "HEIF", exif=phone.tobytes(), icc_profile=p3, xmp=xmp, quality=95),
        "png with a page behind it": saved(picture(), "PNG") + b"<html><script>alert(1)</script>" + PLACE,
    }


def jpeg_markers(jpeg):
    """Names of the segments before the picture data, in order (ITU-T T.81, annex B)."""
    markers, at = [], 2
    while jpeg[at + 1] != 0xDA:
        markers.append(jpeg[at + 1])
        at += 2 + struct.unpack(">H", jpeg[at + 2 : at + 4])[0]
    return markers


@pytest.mark.parametrize("kind", every_upload())
def test_nothing_but_pixels_survives(kind):
    upload = every_upload()[kind]
    assert PLACE in upload or kind == "png"  # or the test would prove nothing; a PNG packs its text elsewhere
    for jpeg in develop(upload).sizes.values():
        # T.81: APP0 is the bare JFIF header; APP1 to APP15 carry Exif, XMP and profiles, 0xFE a comment.
        assert [marker for marker in jpeg_markers(jpeg) if 0xE1 <= marker <= 0xEF or marker == 0xFE] == []
        for trace in (b"Exif", b"ICC_PROFILE", b"xmpmeta", b"Testcam", b"<html", b"2026:05:04", PLACE):
            assert trace not in jpeg
        assert not opened(jpeg).getexif()
        assert {key[:4] for key in opened(jpeg).info} <= {"jfif", "prog"}


@pytest.mark.parametrize("kind", every_upload())
def test_photos_come_out_upright_in_three_sizes(kind):
    photo = develop(every_upload()[kind])
    assert (photo.width, photo.height) == (800, 1000)
    assert opened(photo.sizes["large"]).size == (800, 1000)
    assert opened(photo.sizes["record"]).size == (600, 750)
    assert opened(photo.sizes["thumb"]).size == (300, 375)


# EXIF 2.32, tag 0x0112: where the stored picture's row 0 and column 0 are when it is looked at upright.
@pytest.mark.parametrize(
    ("orientation", "corner"),
    [(1, "top left"), (2, "top right"), (3, "bottom right"), (4, "bottom left"),
     (5, "top left"), (6, "top right"), (7, "bottom right"), (8, "bottom left")],
)  # fmt: skip
def test_orientation_puts_the_first_pixel_where_exif_says(orientation, corner):
    photo = develop(saved(picture((800, 600)), "JPEG", exif=exif_of_a_phone(orientation)))
    image = opened(photo.sizes["large"])
    spots = {
        f"{y} {x}": image.getpixel((20 if x == "left" else image.width - 20, 20 if y == "top" else image.height - 20))
        for y in ("top", "bottom")
        for x in ("left", "right")
    }
    assert [name for name, colour in spots.items() if min(colour) > 240] == [corner]
    assert image.size == ((600, 800) if orientation > 4 else (800, 600))


@pytest.mark.parametrize("kind", ["jpeg", "png", "webp", "heic"])
def test_display_p3_becomes_srgb(kind):
    # Source: coloraide's conversion, after CSS Color Module Level 4, sections 10.4 and 10.9.
    p3 = Color("display-p3", [value / 255 for value in BRICK])
    wanted = [round(value * 255) for value in p3.convert("srgb").coords()]
    assert wanted[0] > BRICK[0] + 10  # unconverted numbers would be far off
    got = opened(develop(every_upload()[kind]).sizes["large"]).getpixel((600, 800))
    assert got == pytest.approx(wanted, abs=3)


def test_cmyk_with_a_profile_that_is_not_its_own_still_opens():
    photo = develop(saved(picture(mode="CMYK"), "JPEG", icc_profile=display_p3_profile(), quality=95))
    assert opened(photo.sizes["large"]).mode == "RGB"
    assert opened(photo.sizes["large"]).getpixel((600, 800)) == pytest.approx(BRICK, abs=12)


def test_transparent_parts_become_white():
    image = picture(mode="RGBA")
    image.paste((0, 0, 0, 0), (0, 500, 800, 1000))
    large = opened(develop(saved(image, "PNG")).sizes["large"])
    assert large.getpixel((400, 900)) == pytest.approx((255, 255, 255), abs=1)
    assert large.getpixel((600, 300)) == pytest.approx(BRICK, abs=3)


def sixteen_bit_grey(value):
    return saved(Image.new("I;16", (400, 500), value), "PNG")


# sRGB 8 and 16 bit codes are proportional, 255 : 65535 = 1 : 257 (PNG specification, third edition, 13.12).
def test_sixteen_bits_become_eight():
    large = opened(develop(sixteen_bit_grey(128 * 257)).sizes["large"])
    assert large.getpixel((9, 9)) == pytest.approx((128, 128, 128), abs=1)


def test_palettes_greys_and_bilevel_open():
    for mode in ("P", "L", "LA", "1"):
        photo = develop(saved(picture(mode=mode), "PNG"))
        assert opened(photo.sizes["thumb"]).mode == "RGB"


def test_an_animated_file_gives_its_first_frame():
    frames = [Image.new("RGB", (400, 500), colour) for colour in (BRICK, "blue", "green")]
    for format in ("WEBP", "PNG"):
        moving = saved(frames[0], format, save_all=True, append_images=frames[1:], duration=100)
        got = opened(develop(moving).sizes["large"]).getpixel((200, 200))
        assert got == pytest.approx(BRICK, abs=8)


def test_a_phone_jpeg_with_a_second_picture_inside_opens():
    both = saved(picture(), "MPO", save_all=True, append_images=[picture((80, 100), "blue")])
    assert develop(both).width == 800


def test_small_pictures_are_not_blown_up():
    photo = develop(saved(picture((40, 50)), "PNG"))
    assert {opened(jpeg).size for jpeg in photo.sizes.values()} == {(40, 50)}


def test_the_large_size_is_at_most_2000_px():
    photo = develop(saved(picture((4000, 3000)), "JPEG"))
    assert (photo.width, photo.height) == (2000, 1500)


def test_list_pictures_stay_light_even_of_noise():
    # A skein is all fine structure; half noise, half grey is heavier than any seen.
    grain = Image.effect_noise((1600, 2000), 60).convert("RGB")
    upload = saved(Image.blend(grain, picture((1600, 2000)), 0.5), "JPEG", quality=92)
    sizes = develop(upload).sizes
    assert len(sizes["record"]) <= 58_000
    assert len(sizes["thumb"]) <= 14_000


def test_the_camera_clock_is_read_without_an_offset():
    assert develop(every_upload()["jpeg"]).taken_at == datetime(2026, 5, 4, 9, 15, 30)
    assert develop(every_upload()["heic"]).taken_at == datetime(2026, 5, 4, 9, 15, 30)


@pytest.mark.parametrize("taken", ["0000:00:00 00:00:00", "yesterday", "", "2026:13:45 99:00:00"])
def test_a_clock_that_was_never_set_is_not_known(taken):
    assert develop(saved(picture(), "JPEG", exif=exif_of_a_phone(1, taken))).taken_at is None


def test_the_same_file_has_the_same_digest_and_a_file_object_will_do():
    upload = every_upload()["jpeg"]
    assert develop(upload).sha256 == develop(io.BytesIO(upload)).sha256
    assert re.fullmatch("[0-9a-f]{64}", develop(upload).sha256)


def bomb():
    """12,000 x 12,000 black px in some 17 kB: a PNG deflates zeros a thousandfold."""

    def chunk(name, data):
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    rows = zlib.compress(bytes(12000 * (1 + 12000 // 8)), 9)
    head = struct.pack(">IIBBBBB", 12000, 12000, 1, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def half(kind):
    whole = every_upload()[kind]
    return whole[: len(whole) // 2]


REFUSED = {
    "empty": (lambda: b"", "empty"),
    "words named .jpg": (lambda: b"Rinse twice, then hang.\n" * 40, "not a photo"),
    "a page": (lambda: b"<html><img src=x onerror=alert(1)>", "not a photo"),
    "a drawing": (lambda: b'<svg xmlns="http://www.w3.org/2000/svg"/>', "not a photo"),
    "gif": (lambda: saved(picture(), "GIF"), "not a photo"),
    "tiff": (lambda: saved(picture(), "TIFF"), "not a photo"),
    "only the first bytes of a JPEG": (lambda: b"\xff\xd8\xff\xe0", "cut off"),
    "half a JPEG": (lambda: half("jpeg"), "cut off"),
    "half a PNG": (lambda: half("png"), "cut off"),
    "half a WebP": (lambda: half("webp"), "cut off"),
    "half a HEIC": (lambda: half("heic"), "cut off"),
    "bomb": (bomb, "megapixels"),
}


@pytest.mark.parametrize("kind", REFUSED)
def test_what_is_not_a_photo_is_refused_in_a_sentence(kind):
    make, words = REFUSED[kind]
    with pytest.raises(NotAPhoto, match=words) as refusal:
        develop(make())
    assert re.fullmatch(r"[A-Z].*\.", str(refusal.value))


@pytest.mark.parametrize("kind", ["jpeg", "png", "webp", "heic"])
def test_half_a_photo_is_refused_even_where_another_library_told_pillow_to_fill_it(kind, monkeypatch):
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)
    with pytest.raises(NotAPhoto, match="cut off"):
        develop(half(kind))


def test_the_bomb_is_small_and_below_the_cap_it_would_open():
    assert len(bomb()) < 20_000
    with pytest.raises(NotAPhoto, match="more than 1 megapixels"):
        develop(saved(picture((1200, 1000)), "PNG"), max_pixels=1_000_000)


def in_passes(many):
    """A progressive JPEG whose last pass over the picture is there this many times more."""
    whole = saved(picture((64, 64)), "JPEG", progressive=True)
    last = whole.rindex(b"\xff\xda")
    return whole[:-2] + whole[last:-2] * many + whole[-2:]


def test_a_jpeg_that_draws_itself_thousands_of_times_is_refused():
    with pytest.raises(NotAPhoto, match="passes"):
        develop(in_passes(3000))


def test_what_only_looks_like_many_passes_is_a_photo():
    """Inside what a phone writes before its picture, and in the film that some glue behind it."""
    noise = b"\xff\xda\x00\x02" * 5000
    plain = in_passes(5)
    before = b"\xff\xe5" + (2 + len(noise)).to_bytes(2) + noise
    assert develop(plain[:2] + before + plain[2:] + noise).width == 64


def test_too_many_bytes_are_refused_without_reading_them_all():
    class Endless(io.RawIOBase):
        asked = 0

        def seek(self, *place):
            return 0

        def read(self, size=-1):
            assert 0 < size <= 2_000_001
            return b"\xff\xd8\xff" + bytes(size - 3)

    with pytest.raises(NotAPhoto, match="larger than 2 MB"):
        develop(Endless(), max_bytes=2_000_000)


def test_a_broken_profile_or_exif_does_not_cost_the_photo():
    broken = saved(picture(), "JPEG", icc_profile=b"\0" * 300, exif=b"Exif\0\0II*\0\xff\xff\xff\xff")
    assert develop(broken).width == 800


def test_photos_of_several_phones_at_once_come_out_whole():
    upload, done = every_upload()["jpeg"], []
    threads = [threading.Thread(target=lambda: done.append(develop(upload).sizes["thumb"])) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(done) == 4
    assert len(set(done)) == 1


def test_the_hand_made_profile_is_a_profile():
    profile = ImageCms.ImageCmsProfile(io.BytesIO(display_p3_profile()))
    assert profile.profile.xcolor_space.strip() == "RGB"
    assert pillow_heif.is_supported(every_upload()["heic"])


# Crops


@pytest.mark.parametrize(
    ("size", "asked", "frame"),
    [
        ((1000, 1250), (50, 50, 100), (0, 0, 1000, 1250)),
        ((2000, 1000), (50, 50, 100), (600, 0, 800, 1000)),
        ((1000, 2000), (50, 50, 100), (0, 375, 1000, 1250)),
        ((2000, 1000), (100, 0, 50), (1600, 0, 400, 500)),  # as far as it goes, and not past the edge
        ((2000, 1000), (0, 100, 50), (0, 500, 400, 500)),
        ((2000, 1000), (25, 50, 25), (400, 375, 200, 250)),
        ((3, 3), (50, 50, 25), (1, 1, 1, 1)),
    ],
)
def test_the_frame_of_a_crop_is_4_to_5_and_lies_inside(size, asked, frame):
    found = darkroom.frame_of(*size, *asked)
    assert (found.left, found.top, found.width, found.height) == frame


@given(st.integers(1, 4000), st.integers(1, 4000), st.decimals(0, 100), st.decimals(0, 100), st.decimals(25, 100))
def test_no_frame_leaves_its_picture(width, height, across, down, size):
    frame = darkroom.frame_of(width, height, across, down, size)
    assert frame.width >= 1 and frame.height >= 1
    assert 0 <= frame.left <= width - frame.width and 0 <= frame.top <= height - frame.height


def test_a_crop_shows_that_part_and_nothing_else():
    halves = Image.new("RGB", (800, 1000), "#ffffff")
    halves.paste("#203040", (400, 0, 800, 1000))
    held = io.BytesIO()
    halves.save(held, "JPEG", quality=95)
    sizes, (width, height) = darkroom.crop(held.getvalue(), 80, 50, 40)
    assert (width, height) == (320, 400)
    for raw in sizes.values():
        shown = Image.open(io.BytesIO(raw)).convert("RGB")
        assert all(
            abs(a - b) < 6
            for pixel in shown.get_flattened_data()
            for a, b in zip(pixel, (0x20, 0x30, 0x40), strict=True)
        )

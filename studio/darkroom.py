"""An uploaded photo -> three JPEGs that show the yarn's colour and tell nothing else; and crops of what was kept.

Whatever comes in is decoded and painted on a fresh canvas, so location, camera, comments, profiles and
anything glued to the end of the file stay behind. Needs Pillow and pillow-heif, and nothing of Django.
"""

import hashlib
import io
import re
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import pillow_heif
from PIL import Image, ImageCms, ImageFile

from .upload import read_at_most

pillow_heif.register_heif_opener(thumbnails=False)

MAX_BYTES = 25_000_000
MAX_PIXELS = 50_000_000

LARGE_SIDE_PX = 2000

CROP_WIDE, CROP_HIGH = 4, 5  # the shape of a print
LEAST_CROP_PCT = 25  # of a large size of 2000 px this is still 400 by 500 px


@dataclass(frozen=True)
class Size:
    """One of the three sizes: a box in px to fit in, and the bytes to stay under where quality allows it."""

    width: int
    height: int
    quality: int
    lowest_quality: int
    bytes: int


SIZES = {
    "large": Size(LARGE_SIDE_PX, LARGE_SIDE_PX, quality=84, lowest_quality=72, bytes=1_200_000),
    "record": Size(600, 1200, quality=84, lowest_quality=48, bytes=58_000),
    "thumb": Size(300, 600, quality=82, lowest_quality=40, bytes=14_000),
}


class NotAPhoto(ValueError):
    """A file that can't be kept as a photo; the text is a sentence for the person who chose it."""


@dataclass(frozen=True)
class Developed:
    """A photo ready to keep.

    sizes: "large", "record" and "thumb" -> JPEG bytes in sRGB.
    width, height: of the large size, upright, in px; the other sizes keep its proportions.
    taken_at: the camera's own clock, without an offset, or None.
    sha256: hex digest of the file as it came, by which the same photo sent twice is known.
    """

    sizes: Mapping[str, bytes]
    width: int
    height: int
    taken_at: datetime | None
    sha256: str


END_OF_IMAGE, START_OF_SCAN = 0xD9, 0xDA
MOST_SCANS = 100  # usual are 1, or some 10

# A decoded 50-megapixel PNG is 200 MB: a small box survives one at a time.
_one_at_a_time = threading.Lock()


def develop(file, max_bytes=MAX_BYTES, max_pixels=MAX_PIXELS):
    """Turn an uploaded file, or its bytes, into a Developed photo.

    max_bytes is of the file, max_pixels of the picture in it. An animated file gives its first frame.
    Raises NotAPhoto with a sentence that says what to do.
    """
    raw = _read(file, max_bytes)
    format = _format_by_magic(raw)
    if format == "JPEG":
        _refuse_scans(raw)
    with _one_at_a_time:
        image, taken_at = _decode(raw, format, max_pixels)
        prints = _print_sizes(image)
    width, height = prints["large"].size
    return Developed(
        sizes={name: _jpeg(canvas, SIZES[name]) for name, canvas in prints.items()},
        width=width,
        height=height,
        taken_at=taken_at,
        sha256=hashlib.sha256(raw).hexdigest(),
    )


@dataclass(frozen=True)
class Frame:
    """Where a crop lies in its picture: the left upper corner and the size, in whole px."""

    left: int
    top: int
    width: int
    height: int


def frame_of(width, height, across_pct=50, down_pct=50, size_pct=100):
    """The 4:5 frame of a crop in a picture of this width and height in px, moved so far that it lies inside.

    across_pct, down_pct: where its middle is to lie, in percent of the picture's width and height. size_pct: its size
    in percent of the largest such frame that fits.
    """
    widest = min(width, height * CROP_WIDE / CROP_HIGH)
    wide = max(1, round(widest * float(size_pct) / 100))
    high = max(1, min(height, round(wide * CROP_HIGH / CROP_WIDE)))
    return Frame(
        left=_within(float(across_pct) / 100 * width - wide / 2, width - wide),
        top=_within(float(down_pct) / 100 * height - high / 2, height - high),
        width=wide,
        height=high,
    )


def _within(place, last):
    return min(max(round(place), 0), last)


def crop(large, across_pct, down_pct, size_pct):
    """A 4:5 crop of a kept picture's large size, given as its bytes: (size name -> JPEG bytes, (width, height) in px).

    The frame is as `frame_of` says. Sizes are those of `SIZES`; none is larger than the frame.
    """
    with _one_at_a_time, Image.open(io.BytesIO(large), formats=["JPEG"]) as image:
        image.load()
        frame = frame_of(*image.size, across_pct, down_pct, size_pct)
        box = (frame.left, frame.top, frame.left + frame.width, frame.top + frame.height)
        prints = _print_sizes(image.convert("RGB").crop(box))
    return {name: _jpeg(canvas, SIZES[name]) for name, canvas in prints.items()}, prints["large"].size


def _read(file, max_bytes):
    raw = read_at_most(file, max_bytes)
    if not raw:
        raise NotAPhoto("The photo is empty: nothing arrived. Choose it again.")
    if len(raw) > max_bytes:
        limit = max_bytes // 1_000_000
        raise NotAPhoto(f"This photo is larger than {limit} MB. Shrink it and send it again.")
    return raw


HEIF_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}


def _format_by_magic(raw):
    if raw.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if raw.startswith(b"\x89PNG\r\n\x1a\n"):
        return "PNG"
    if raw[:4] == b"RIFF" and raw[8:12] == b"WEBP":
        return "WEBP"
    if raw[4:8] == b"ftyp" and raw[8:12] in HEIF_BRANDS:
        return "HEIF"
    raise NotAPhoto("This file is not a photo. Choose a JPEG, PNG, WebP or HEIC picture.")


MARKER = re.compile(rb"\xff+([^\x00\xff\xd0-\xd7])")


def _refuse_scans(raw):
    """A JPEG may draw itself in many passes over the whole picture, and a few bytes are enough for each: some thousands
    of them would take hours. ISO/IEC 10918-1, B.1.1: 0xff, which is never data without a 0x00 behind it.
    """
    at, scans = 2, 0
    while found := MARKER.search(raw, at):
        name = found[1][0]
        if name == END_OF_IMAGE:
            return
        scans += name == START_OF_SCAN
        if scans > MOST_SCANS:
            raise NotAPhoto("This photo is drawn in far too many passes. Take it anew, or send it as PNG.")
        at = found.end() + int.from_bytes(raw[found.end() : found.end() + 2])  # behind a marker stands its length


def _decode(raw, format, max_pixels):
    """The picture upright, in sRGB, on white, no side over LARGE_SIDE_PX; and when it was taken."""
    # The PDF engine, once loaded, tells Pillow to fill missing halves with grey, for the whole process.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        with Image.open(io.BytesIO(raw), formats=[format]) as image:
            _refuse_bomb(image.size, max_pixels)
            exif = _exif(image)
            upright = _UPRIGHT.get(exif.get(EXIF_ORIENTATION))
            profile = image.info.get("icc_profile")
            plain = _plain_mode(image)
            # First of all smaller: a JPEG is then decoded at part of its size, in a fifth of the memory.
            plain.thumbnail((LARGE_SIDE_PX, LARGE_SIDE_PX), Image.Resampling.LANCZOS)
            plain.load()
            canvas = _on_white(plain, profile)
            return (canvas.transpose(upright) if upright is not None else canvas), _taken_at(exif)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise _bomb(max_pixels) from None
    except NotAPhoto:
        raise
    except Exception as error:  # decoders fed damaged bytes raise whatever they like
        raise NotAPhoto(
            "This photo is cut off in the middle or damaged, so it can't be shown. "
            "Send it again, or open and save it on your phone first."
        ) from error


def _refuse_bomb(size, max_pixels):
    width, height = size
    if width * height > max_pixels:
        raise _bomb(max_pixels)


def _bomb(max_pixels):
    limit = max_pixels // 1_000_000
    return NotAPhoto(f"This picture has more than {limit} megapixels, too many to open safely. Send a smaller one.")


def _plain_mode(image):
    """Modes that resize badly (palettes, 16 bits) made 8-bit L, RGB or RGBA; CMYK stays."""
    if image.mode in ("L", "LA", "RGB", "RGBA", "CMYK"):
        return image
    if image.mode.startswith("I"):
        image.load()
        return image.convert("I").point(lambda value: value / 257).convert("L")
    if image.mode == "1":
        return image.convert("L")
    return image.convert("RGBA" if image.has_transparency_data else "RGB")


def _on_white(image, profile):
    """A fresh RGB canvas in sRGB: nothing but pixels comes along."""
    alpha = None
    if image.mode in ("LA", "RGBA"):
        alpha = image.getchannel("A")
        image = image.convert(image.mode[:-1])
    elif image.has_transparency_data:
        # A PNG may name one transparent colour beside plain RGB or grey.
        alpha = image.convert("RGBA").getchannel("A")
    canvas = Image.new("RGB", image.size, "white")
    canvas.paste(_srgb(image, profile), mask=alpha)
    return canvas


_SRGB = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))


def _srgb(image, profile):
    if not profile:
        return image.convert("RGB")
    try:
        return ImageCms.profileToProfile(
            image,
            ImageCms.ImageCmsProfile(io.BytesIO(profile)),
            _SRGB,
            # Colours that sRGB has must stay what they are: the picture is there to be compared.
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
            outputMode="RGB",
            flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
        )
    except (ImageCms.PyCMSError, OSError):
        # A broken profile, or one of another colour space than the picture, tells nothing about the colours.
        return image.convert("RGB")


def _print_sizes(image):
    prints = {}
    for name, size in SIZES.items():
        # Each size is made of the one before: a smaller source, and no harm seen at half the width.
        image = image.copy()
        image.thumbnail((size.width, size.height), Image.Resampling.LANCZOS)
        prints[name] = image
    return prints


def _jpeg(canvas, size):
    for quality in range(size.quality, size.lowest_quality - 1, -6):
        out = io.BytesIO()
        canvas.save(out, "JPEG", quality=quality, optimize=True, progressive=True)
        if out.tell() <= size.bytes:
            break
    return out.getvalue()


EXIF_ORIENTATION = 0x0112
EXIF_IFD = 0x8769
EXIF_TAKEN = (0x9003, 0x9004)  # DateTimeOriginal, DateTimeDigitized; plain DateTime is the last edit

_UPRIGHT = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


def _exif(image):
    try:
        return image.getexif()
    except Exception:  # damaged EXIF is no reason to refuse a good picture
        return Image.Exif()


def _taken_at(exif):
    try:
        details = exif.get_ifd(EXIF_IFD)
    except Exception:  # as above
        return None
    for tag in EXIF_TAKEN:
        try:
            return datetime.strptime(str(details[tag]).strip("\0 "), "%Y:%m:%d %H:%M:%S")
        except (KeyError, ValueError):
            continue
    return None

"""An uploaded spoken note -> a small file that holds the voice and tells nothing else.

Whatever comes in is decoded to plain samples and written anew: mono AAC in an m4a, which every browser plays. Place,
device, titles, pictures and anything glued on stay behind. Needs PyAV, and nothing of Django.
"""

import contextlib
import ctypes
import hashlib
import io
import logging
import tempfile
import threading
import time
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

import av
import av._core

from .upload import read_at_most

MAX_BYTES = 25_000_000
MOST_SECONDS = 180
GRACE_SECONDS = 5  # a phone that stops at three minutes stops a little later
LEAST_SECONDS = Decimal("0.2")

RATE_HZ = 24_000  # carries a voice well; 3 minutes at BITS_PER_S are 0.7 MB
BITS_PER_S = 32_000

# What a file may make us do before it is given up: a file is small, and what it claims to hold need not be.
MOST_STREAMS = 8
MOST_CHANNELS = 8
LEAST_RATE_HZ, MOST_RATE_HZ = 4_000, 192_000
MOST_PACKETS = 120_000  # 3 minutes of the shortest there are, 2.5 ms, and some to spare
MOST_WORK_SECONDS = 45
MOST_BAD_PACKETS = 200
MOST_AT_ONCE_BYTES = 8_000_000  # 3 minutes need a table of less than one

# A thousand bytes can claim a table of samples that fills gigabytes, before a packet is read. Asked for more than this
# at once, the library gives the file up. Python has no name for it: the library that is loaded already is asked itself.
ctypes.CDLL(av._core.__file__).av_max_alloc(ctypes.c_size_t(MOST_AT_ONCE_BYTES))

# A file that names others is to reach none of them, and to have no more tables than we would look at.
ALONE = {"protocol_whitelist": "none", "max_streams": str(MOST_STREAMS)}

CODECS = ("aac", "opus", "vorbis", "mp3", "mp3float", "alac", "flac", "amrnb", "amrwb", "pcm_s16le", "pcm_s24le")
CODECS += ("pcm_s32le", "pcm_f32le", "pcm_u8", "amr_nb", "amr_wb", "libopus", "libopencore_amrnb", "libopencore_amrwb")

# What a damaged file makes the decoders say is for the person who sent it, not for the log.
logging.getLogger("libav").setLevel(logging.CRITICAL)


class NotASound(ValueError):
    """A file that can't be kept as a spoken note; the text is a sentence for the person who sent it."""


@dataclass(frozen=True)
class Spoken:
    """A spoken note ready to keep. sha256: hex digest of the file as it came, by which the same one is known."""

    m4a: bytes
    seconds: Decimal
    sha256: str


# Decoding takes a processor for a while: a small box does one at a time.
_one_at_a_time = threading.Lock()


def press(file, max_bytes=MAX_BYTES, most_seconds=MOST_SECONDS):
    """Turn an uploaded file, or its bytes, into a `Spoken` note.

    max_bytes is of the file, most_seconds of what is heard in it. A file that is cut off gives what can be heard of
    it: what was said at the pot is not said twice. Raises NotASound with a sentence that says what to do.
    """
    raw = _read(file, max_bytes)
    format = _format_by_magic(raw)
    with _one_at_a_time, tempfile.TemporaryDirectory(prefix="sound-") as folder:
        path = Path(folder) / "note.m4a"
        try:
            seconds = _make_anew(raw, format, path, most_seconds)
        except NotASound:
            raise
        except Exception as error:  # decoders fed damaged bytes raise whatever they like
            raise _damaged() from error
        return Spoken(path.read_bytes(), seconds, hashlib.sha256(raw).hexdigest())


def _read(file, max_bytes):
    raw = read_at_most(file, max_bytes)
    if not raw:
        raise NotASound("The recording is empty: nothing arrived. Choose it again, or record it once more.")
    if len(raw) > max_bytes:
        raise NotASound(f"This recording is larger than {max_bytes // 1_000_000} MB. Record it in shorter parts.")
    return raw


def _format_by_magic(raw):
    """The one container that its first bytes name. It is read as that and as nothing else."""
    if raw.startswith(b"\x1a\x45\xdf\xa3"):
        return "matroska"
    if raw.startswith(b"OggS"):
        return "ogg"
    if raw[:4] == b"RIFF" and raw[8:12] == b"WAVE":
        return "wav"
    if raw[4:8] == b"ftyp":
        return "mov"
    if raw.startswith(b"#!AMR"):
        return "amr"
    if raw[:1] == b"\xff" and raw[1:2] and raw[1] & 0xF6 == 0xF0:
        return "aac"  # ADTS: twelve bits of sync, and layer 0
    if raw.startswith(b"ID3") or raw[:1] == b"\xff" and raw[1:2] and raw[1] & 0xE0 == 0xE0:
        return "mp3"
    raise NotASound("This file is not a recording we can read. Choose an M4A, WebM, Ogg, MP3 or WAV file.")


def _make_anew(raw, format, path, most_seconds):
    """Decode and write again, sample by sample. Returns the seconds that are heard."""
    # Opening decodes a little of each stream to learn what it is: a hostile picture is to meet no decoder there.
    only = {"codec_whitelist": ",".join(CODECS)} | ALONE
    with av.open(io.BytesIO(raw), "r", format=format, options=only, metadata_errors="ignore") as came:
        stream = _the_voice(came)
        # "+bitexact" keeps the writer from signing the file with its own name and version.
        options = {"movflags": "+faststart", "fflags": "+bitexact"}
        with av.open(str(path), "w", format="ipod", options=options) as made:
            voice = made.add_stream("aac", rate=RATE_HZ, layout="mono", options={"flags": "+bitexact"})
            voice.bit_rate = BITS_PER_S
            samples = 0
            for frame in _heard(came, stream, most_seconds):
                frame.pts = samples
                samples += frame.samples
                made.mux(voice.encode(frame))
            seconds = round(Decimal(samples) / RATE_HZ, 3)
            if seconds < LEAST_SECONDS:
                raise NotASound("Nothing can be heard in this recording. Record it once more.")
            made.mux(voice.encode(None))
    return seconds


def _the_voice(came):
    """The one stream of sound. A film is refused; a picture on the cover of a sound file is not looked at."""
    if len(came.streams) > MOST_STREAMS:
        raise _damaged()
    if any(not _is_cover(stream) for stream in came.streams.video):
        raise NotASound("This is a film, and a spoken note is sound alone. Send it as a photo or say it again.")
    if not came.streams.audio:
        raise NotASound("There is no sound in this file. Record it once more.")
    stream = came.streams.audio[0]
    context = stream.codec_context
    if context is None or context.name not in CODECS:
        raise NotASound("This recording is written in a way we do not read. Send it as M4A, WebM, Ogg, MP3 or WAV.")
    context.thread_count = 1
    return stream


def _is_cover(stream):
    return bool(stream.disposition & av.stream.Disposition.attached_pic)


def _heard(came, stream, most_seconds):
    """Frames of RATE_HZ mono, for as long as something can be heard and no limit is reached."""
    resampler = av.AudioResampler(format="fltp", layout="mono", rate=RATE_HZ)
    most = (most_seconds + GRACE_SECONDS) * RATE_HZ
    samples, until = 0, time.monotonic() + MOST_WORK_SECONDS
    for frame in _decoded(came, stream, until):
        if not LEAST_RATE_HZ <= frame.sample_rate <= MOST_RATE_HZ or len(frame.layout.channels) > MOST_CHANNELS:
            raise _damaged()
        frame.pts = None  # times in a file may jump; what is heard is what counts
        for part in resampler.resample(frame):
            samples += part.samples
            if samples > most:
                raise NotASound(f"This note is longer than {most_seconds // 60} minutes: say it in shorter parts.")
            yield part
    with contextlib.suppress(av.FFmpegError, ValueError):
        yield from resampler.resample(None)


def _decoded(came, stream, until):
    """Decoded frames. A part that can't be read is left out; the end of the file is where nothing more can be."""
    bad = 0
    packets = came.demux(stream)
    for _ in range(MOST_PACKETS):
        if time.monotonic() > until:
            raise NotASound("This recording takes too long to read. Send it as M4A, WebM, Ogg, MP3 or WAV.")
        try:
            packet = next(packets)
        except (StopIteration, av.FFmpegError):
            return
        try:
            yield from packet.decode()
        except av.FFmpegError:
            bad += 1
            if bad > MOST_BAD_PACKETS:
                raise _damaged() from None
    raise _damaged()


def _damaged():
    return NotASound("This recording is damaged and can't be played. Send it again, or record it once more.")

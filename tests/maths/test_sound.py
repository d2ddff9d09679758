"""Spoken notes in, small clean m4a files out. Every fixture is made here."""

import io
import math
import struct
import subprocess
import sys
import threading
from decimal import Decimal
from fractions import Fraction

import av
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from studio import sound
from studio.sound import NotASound, press

PLACE = "+52.2096+004.8867/"  # ISO 6709, as phones write it

KINDS = {
    "webm": ("webm", "libopus", 48000, {}),
    "ogg": ("ogg", "libopus", 48000, {}),
    "m4a": ("mp4", "aac", 44100, {}),
    "mp3": ("mp3", "libmp3lame", 44100, {}),
    "wav": ("wav", "pcm_s16le", 16000, {}),
    "aac": ("adts", "aac", 44100, {}),
    "3gp": ("3gp", "aac", 16000, {}),
    "mov": ("mov", "aac", 44100, {}),
    "fragmented": ("mp4", "aac", 48000, {"movflags": "frag_keyframe+empty_moov+default_base_moof"}),
}


def recorded(kind="m4a", seconds=1.0, hz=440, layout="mono", metadata=None, rate=None):
    """A tone, in the kind of file that a phone makes."""
    format, codec, usual, options = KINDS[kind]
    rate = rate or usual
    out = io.BytesIO()
    with av.open(out, "w", format=format, options=options) as container:
        container.metadata.update(metadata or {})
        stream = container.add_stream(codec, rate=rate, layout=layout)
        wanted = stream.codec_context.format.name if stream.codec_context.format else "s16"
        channels = len(av.AudioLayout(layout).channels)
        shaper = av.AudioResampler(format=wanted, layout=layout, rate=rate)
        done, step = 0, 960
        while done < seconds * rate:
            tone = (round(8000 * math.sin(2 * math.pi * hz * (done + n) / rate)) for n in range(step))
            frame = av.AudioFrame("s16", layout, step)
            frame.planes[0].update(b"".join(struct.pack("<h", level) * channels for level in tone))
            frame.sample_rate, frame.pts, frame.time_base = rate, done, Fraction(1, rate)
            for shaped in shaper.resample(frame):
                container.mux(stream.encode(shaped))
            done += step
        container.mux(stream.encode(None))
    return out.getvalue()


def heard(m4a):
    """(samples as floats, rate, channels, codec) of a kept note."""
    samples = []
    with av.open(io.BytesIO(m4a)) as container:
        stream = container.streams.audio[0]
        for frame in container.decode(stream):
            samples.extend(struct.unpack(f"<{frame.samples}f", bytes(frame.planes[0])[: 4 * frame.samples]))
        return samples, stream.rate, stream.channels, stream.codec_context.name


def pitch(samples, rate):
    """Hz, by counting the crossings of zero in the middle half."""
    middle = samples[len(samples) // 4 : -len(samples) // 4]
    ups = sum(a < 0 <= b for a, b in zip(middle, middle[1:], strict=False))
    return ups * rate / len(middle)


@pytest.mark.parametrize("kind", KINDS)
def test_what_a_phone_records_comes_out_small_mono_and_the_same_to_the_ear(kind):
    spoken = press(recorded(kind))
    samples, rate, channels, codec = heard(spoken.m4a)
    assert (rate, channels, codec) == (sound.RATE_HZ, 1, "aac")
    assert Decimal("0.9") < spoken.seconds < Decimal("1.2")
    assert pitch(samples, rate) == pytest.approx(440, abs=6)
    assert spoken.m4a[4:8] == b"ftyp" and len(spoken.m4a) < 12_000


def test_two_channels_become_one():
    assert heard(press(recorded("m4a", layout="stereo")).m4a)[2] == 1


@pytest.mark.parametrize("kind", ["m4a", "mov", "3gp", "mp3", "ogg", "webm", "wav"])
def test_no_place_name_or_device_comes_along(kind):
    metadata = {"location": PLACE, "title": "By the weir", "artist": "Testphone", "comment": "at home"}
    came = recorded(kind, metadata=metadata)
    assert b"By the weir" in came.replace(b"\0", b"")
    if kind == "mov":  # the atom that a phone's film carries
        assert b"\xa9xyz" in came and PLACE.encode() in came
    elif kind == "3gp":
        assert b"loci" in came
    elif kind != "m4a":
        assert PLACE.encode() in came or kind in ("wav", "mp3")
    kept = press(came).m4a
    for said in (PLACE, "By the weir", "Testphone", "at home", "Lavf", "Lavc"):
        assert said.encode() not in kept
    with av.open(io.BytesIO(kept)) as container:
        told = container.metadata | container.streams.audio[0].metadata
    assert set(told) <= {"major_brand", "minor_version", "compatible_brands", "language", "handler_name", "vendor_id"}
    assert b"xyz" not in kept and b"loci" not in kept


def test_what_is_glued_to_the_end_stays_behind():
    assert b"<script>" not in press(recorded("ogg") + b"<script>alert(1)</script>").m4a


def test_it_can_be_played_before_it_is_all_there():
    kept = press(recorded()).m4a
    assert kept.index(b"moov") < kept.index(b"mdat")


def test_the_same_file_gives_the_same_note():
    came = recorded("webm")
    assert press(came) == press(io.BytesIO(came))


# What is refused


@pytest.mark.parametrize(
    ("raw", "sentence"),
    [
        (b"", "empty"),
        (b"GIF89a, no sound at all", "not a recording"),
        (b"#EXTM3U\nhttp://127.0.0.1/a.ts", "not a recording"),
        (b"ffconcat version 1.0\nfile /etc/passwd", "not a recording"),
        (b"\x1a\x45\xdf\xa3 and then nonsense" * 20, "damaged"),
        (b"RIFF\x10\0\0\0WAVEnonsense", "damaged"),
        (b"OggS" + bytes(400), "damaged"),
        (b"\0\0\0\x18ftypM4A " + bytes(64), "damaged"),
    ],
)
def test_what_is_no_recording_is_refused_with_a_sentence(raw, sentence):
    with pytest.raises(NotASound, match=sentence):
        press(raw)


def test_a_file_larger_than_allowed_is_refused():
    with pytest.raises(NotASound, match="larger than 1 MB"):
        press(bytes(1_000_001), max_bytes=1_000_000)


def test_a_note_longer_than_allowed_is_refused_and_one_a_little_longer_is_not():
    assert press(recorded("ogg", seconds=7), most_seconds=3).seconds > 6  # within the seconds of grace
    with pytest.raises(NotASound, match="longer than 1 minutes|longer than 0 minutes"):
        press(recorded("ogg", seconds=10), most_seconds=3)


def test_a_moment_is_too_short_to_hear():
    with pytest.raises(NotASound, match="Nothing can be heard"):
        press(recorded("wav", seconds=0.06))


def film():
    out = io.BytesIO()
    with av.open(out, "w", format="mp4") as container:
        stream = container.add_stream("mpeg4", rate=10)
        stream.width, stream.height, stream.pix_fmt = 64, 64, "yuv420p"
        for _ in range(5):
            container.mux(stream.encode(av.VideoFrame(64, 64, "yuv420p")))
        container.mux(stream.encode(None))
    return out.getvalue()


def test_a_film_is_refused():
    with pytest.raises(NotASound, match="film"):
        press(film())


def test_no_picture_of_it_is_decoded_on_the_way(monkeypatch):
    raw, opened, real = film(), [], av.open
    with real(io.BytesIO(raw), format="mov") as plain:
        assert plain.streams.video[0].codec_context.pix_fmt == "yuv420p"  # known from decoding it alone

    def opening(*args, **kwargs):
        came = real(*args, **kwargs)
        opened.extend(stream.codec_context.pix_fmt for stream in came.streams.video)
        return came

    monkeypatch.setattr(sound.av, "open", opening)
    with pytest.raises(NotASound, match="film"):
        press(raw)
    assert opened == [None]


# Little in, much out


def test_what_is_long_or_claims_to_be_is_given_up_early():
    """What is too long stops being read at the limit; what only claims to be long costs what it has."""
    long = recorded("ogg", seconds=40)
    with pytest.raises(NotASound, match="longer than"):
        press(long, most_seconds=10)
    claimed = bytearray(recorded("wav", seconds=1))
    begins = claimed.index(b"data") + 4
    claimed[4:8] = claimed[begins : begins + 4] = b"\xff\xff\xff\x7f"
    assert press(bytes(claimed)).seconds < 2


@pytest.mark.parametrize(("offset", "value"), [(24, 2_000_000_000), (24, 1), (22, 60_000)])
def test_rates_and_channels_out_of_this_world_are_refused(offset, value):
    raw = bytearray(recorded("wav"))
    raw[offset : offset + (4 if offset == 24 else 2)] = struct.pack("<I" if offset == 24 else "<H", value)
    with pytest.raises(NotASound):
        press(bytes(raw))


def test_too_many_packets_are_given_up(monkeypatch):
    monkeypatch.setattr(sound, "MOST_PACKETS", 20)
    with pytest.raises(NotASound, match="damaged"):
        press(recorded("ogg", seconds=2))


def test_a_file_that_takes_for_ever_is_given_up(monkeypatch):
    monkeypatch.setattr(sound, "MOST_WORK_SECONDS", -1)
    with pytest.raises(NotASound, match="too long to read"):
        press(recorded("ogg"))


def test_what_was_cut_off_gives_what_can_be_heard():
    whole = recorded("webm", seconds=4)
    spoken = press(whole[: len(whole) // 2])
    assert Decimal(1) < spoken.seconds < Decimal(3)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(["webm", "ogg", "m4a", "mp3", "wav"]), st.data())
def test_damage_anywhere_gives_a_note_or_a_sentence(kind, data):
    raw = bytearray(DAMAGED[kind])
    for _ in range(data.draw(st.integers(1, 30))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    try:
        press(bytes(raw[: data.draw(st.integers(1, len(raw)))]))
    except NotASound as problem:
        assert str(problem).endswith((".", "once more."))


DAMAGED = {kind: recorded(kind, seconds=0.4) for kind in ("webm", "ogg", "m4a", "mp3", "wav")}


def test_one_at_a_time(monkeypatch):
    """A small box decodes one note, and then the next."""
    at_once, most = [], []
    slow = sound._make_anew

    def watched(*args):
        at_once.append(1)
        most.append(len(at_once))
        try:
            return slow(*args)
        finally:
            at_once.pop()

    monkeypatch.setattr(sound, "_make_anew", watched)
    threads = [threading.Thread(target=press, args=(DAMAGED["ogg"],)) for _ in range(4)]
    [thread.start() for thread in threads]
    [thread.join() for thread in threads]
    assert most == [1, 1, 1, 1]


def box(name, *parts):
    inside = b"".join(parts)
    return struct.pack(">I4s", 8 + len(inside), name) + inside


def claiming(samples, tracks=1, elsewhere=None):
    """A film's container with sound alone, less than a thousand bytes for each track, written by hand after ISO/IEC
    14496-12: its tables claim samples that are nowhere in it. `elsewhere`: a file of this computer that is said to hold
    them, as an alias names it (from memory).
    """
    zeros, one = bytes(4), struct.pack(">I", 1)
    head = box(b"mvhd", zeros * 3, struct.pack(">II", 24000, samples), bytes(80))
    sound = box(b"sowt", bytes(6), struct.pack(">H", 1), zeros * 2, struct.pack(">HHHHI", 1, 16, 0, 0, 24000 << 16))
    table = box(
        b"stbl",
        box(b"stsd", zeros, one, sound),
        box(b"stts", zeros, one, struct.pack(">II", samples, 1024)),
        box(b"stsc", zeros, one, struct.pack(">III", 1, samples, 1)),
        box(b"stsz", zeros, struct.pack(">II", 4, samples)),
        box(b"stco", zeros, one, struct.pack(">I", 40)),
    )
    source = box(b"url ", one)
    if elsewhere:
        path = elsewhere.encode() + bytes(len(elsewhere) % 2)
        source = box(b"alis", zeros, bytes(150), struct.pack(">HH", 2, len(path)), path, b"\xff\xff\0\0")
    media = box(
        b"mdia",
        box(b"mdhd", zeros * 3, struct.pack(">III", 24000, samples, 0)),
        box(b"hdlr", zeros * 2, b"soun", bytes(14)),
        box(b"minf", box(b"smhd", zeros * 2), box(b"dinf", box(b"dref", zeros, one, source)), table),
    )
    track = box(b"trak", box(b"tkhd", struct.pack(">IIII", 7, 0, 0, 1), bytes(68)), media)
    return box(b"ftyp", b"M4A \0\0\0\0M4A ") + box(b"mdat", bytes(400)) + box(b"moov", head, track * tracks)


TELL_MEMORY = """
import resource, sys
from studio import sound
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
try:
    sound.press(sys.stdin.buffer.read())
except sound.NotASound as problem:
    print(problem)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
"""


@pytest.mark.parametrize(("samples", "tracks"), [(30_000_000, 1), (300_000, 100)])
def test_a_small_file_takes_no_memory_by_claiming_much(samples, tracks):
    raw = claiming(samples, tracks)
    told = subprocess.run([sys.executable, "-c", TELL_MEMORY], input=raw, capture_output=True, check=True)
    sentence, more_kb = told.stdout.decode().splitlines()
    assert sentence.endswith("once more.")
    assert int(more_kb) < 250_000, f"{len(raw)} bytes took {more_kb} KB"


def test_a_file_that_names_another_does_not_open_it(tmp_path):
    other = tmp_path / "other.raw"
    other.write_bytes(b"\x20\x10" * 48_000)
    with pytest.raises(NotASound):
        press(claiming(48_000, elsewhere=str(other)))


def test_silence_that_packs_small_is_not_all_unpacked():
    """An hour of silence is 0.4 MB of flac-like packing; reading stops with the limit, long before its end."""
    out = io.BytesIO()
    with av.open(out, "w", format="ogg") as container:
        stream = container.add_stream("flac", rate=8000, layout="mono")
        stream.codec_context.options = {"frame_size": "65535"}
        frame = av.AudioFrame("s16", "mono", 4608)
        frame.planes[0].update(bytes(2 * 4608))
        frame.sample_rate, frame.time_base = 8000, Fraction(1, 8000)
        for n in range(3600 * 8000 // 4608):
            frame.pts = n * 4608
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    packed = out.getvalue()
    assert len(packed) < 500_000
    with pytest.raises(NotASound, match="longer than 3 minutes"):
        press(packed)

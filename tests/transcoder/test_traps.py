"""Places where a program or library departs from its standard, and that pressings do not.

Each test makes the naive call first and shows its fault, then presses or dresses the same material
and shows the standard's figure. ``TRAPS`` says which test holds each trap of encoders and tags;
where a program does otherwise by now, the test says so beside the assertion. Of the others, 1
(de-emphasis) is held by ``test_cutting.py``, 8 to 13 (meters and gain) by the tests of loudness; 18
to 21 are about judges of file systems, romanisation and case, which pressings do not meet.

Sources: FLAC RFC 9639; Opus RFC 7845; ID3v2.4.0 native frames section 4.2; LAME 3.100's padding
(measured with it); BS.775-4 table 2. Second decoders: mpg123, opusdec, oggdec, flac, libsndfile.
"""

import re
import struct
import subprocess
from pathlib import Path
from typing import Any

import mutagen
import numpy as np
import pytest
import soundfile
from mutagen.easyid3 import EasyID3
from mutagen.flac import FLAC
from mutagen.id3 import ID3
from transcoder_kit import (
    Samples,
    decode,
    facts,
    ffmpeg_encode,
    level_db,
    master,
    music,
    need,
    recipe_for,
    tone_db,
    track_of,
)

from syncd.library.tags import read_file
from syncd.model import Codec, LibraryPath
from syncd.profile import TagWriting
from syncd.transcoder.dress import dress
from syncd.transcoder.ffmpeg_port import Ffmpeg
from syncd.transcoder.press import press
from syncd.transcoder.store import Store

HERE = Path(__file__).resolve().parent.parent

TRAPS = {
    2: ("MP3 padding is capped", "test_an_mp3_ends_with_the_last_sample_that_went_in"),
    3: ("downmix by sample format", "test_a_downmix_has_one_level_whatever_the_sample_format"),
    4: ("words truncated", "test_shorter_words_have_no_offset"),
    5: ("the default resampler aliases", "test_a_tone_above_the_new_nyquist_does_not_fold_back"),
    6: (
        "FLAC levels outside the subset",
        "test_a_flac_pressing_is_in_the_subset_by_flacs_analysis",
    ),
    7: ("tags joined and moved", "test_tags_are_neither_joined_nor_moved_to_the_wrong_frame"),
    14: ("MP3 length misread", "test_the_length_of_an_mp3_is_that_of_its_music"),
    15: ("gain in RVA2", "test_gain_in_id3_stands_where_players_look_for_it"),
    16: ("opusenc shifts gain", "test_an_opus_pressing_has_no_gain_in_its_header"),
    17: ("ffmpeg keeps gain in Opus", "test_an_opus_pressing_inherits_no_gain_tags"),
    22: ("Vorbis rounds up", "test_a_short_vorbis_pressing_is_as_long_as_its_source"),
}
"""Number in the list of departures: what it is, and the test in this file that holds it."""


def test_every_trap_of_encoders_and_tags_has_its_test() -> None:
    assert set(TRAPS) == {2, 3, 4, 5, 6, 7, 14, 15, 16, 17, 22}
    for _, name in TRAPS.values():
        assert callable(globals()[name]), name


def pressed(source: Path, store: Store, tool: Ffmpeg, **encode: Any) -> Path:
    audio = read_file(LibraryPath(str(source))).audio
    return press(track_of(source, audio), recipe_for(audio, **encode), store, tool).path


def wav(path: Path, data: Samples, rate: int = 44100, subtype: str = "PCM_16") -> Path:
    soundfile.write(path, data, rate, subtype=subtype)
    return path


# LAME 3.100 pads 1727 for r = 1 and 1682 for r = 46; the muxer here writes 1681 at most.
@pytest.mark.parametrize(("over", "too_many"), [(1, 46), (12, 35), (46, 1), (47, 0)])
def test_an_mp3_ends_with_the_last_sample_that_went_in(
    over: int, too_many: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    count = 20 * 1152 + over
    source = wav(tmp_path / "m.wav", music(count))
    naive, _ = decode(ffmpeg_encode(source, tmp_path / "n.mp3", "-q:a", "2"))
    assert len(naive) - count == too_many
    ours, _ = decode(pressed(source, store, tool, codec="mp3", quality=2))
    assert len(ours) == count


def test_a_downmix_has_one_level_whatever_the_sample_format(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    # One sine in the left front channel of 5.1: coefficient 1 by BS.775, to the left at its level.
    tone = np.zeros((44100, 6))
    tone[:, 0] = 0.25 * np.sin(2 * np.pi * 1000 * np.arange(44100) / 44100)
    short = wav(tmp_path / "short.wav", tone)
    longer = wav(tmp_path / "long.wav", tone, subtype="FLOAT")
    before = tone_db(tone[:, 0], 44100, 1000)

    def level(path: Path) -> float:
        data, _ = soundfile.read(path)
        return tone_db(data[:, 0], 44100, 1000) - before

    naive = [
        level(ffmpeg_encode(longer, tmp_path / "n16.wav", "-ac", "2", "-c:a", "pcm_s16le")),
        level(ffmpeg_encode(longer, tmp_path / "nf.wav", "-ac", "2", "-c:a", "pcm_f32le")),
    ]
    assert naive == pytest.approx([-7.66, 0.0], abs=0.05)  # 0.4142, and unscaled
    ours = [level(pressed(source, store, tool, codec="flac")) for source in (short, longer)]
    assert ours[0] == pytest.approx(ours[1], abs=0.01)


def test_shorter_words_have_no_offset(tmp_path: Path, store: Store, tool: Ffmpeg) -> None:
    rng = np.random.default_rng(4)
    data = 0.1 * rng.standard_normal((88_200, 2)).clip(-4, 4)
    source = wav(tmp_path / "m.wav", data, subtype="PCM_24")
    exact, _ = soundfile.read(source)

    def offset(path: Path) -> float:
        found, _ = soundfile.read(path)
        return float(np.mean(found - exact)) * 32768

    naive = ffmpeg_encode(source, tmp_path / "n.wav", "-c:a", "pcm_s16le")
    assert offset(naive) == pytest.approx(-0.498, abs=0.02)  # LSB: truncated downward
    assert abs(offset(pressed(source, store, tool, codec="flac"))) < 0.01


def test_a_tone_above_the_new_nyquist_does_not_fold_back(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    t = np.arange(96_000) / 48000
    tones = 0.4 * np.sin(2 * np.pi * 22_100 * t) + 0.4 * np.sin(2 * np.pi * 20_000 * t)
    source = wav(tmp_path / "m.wav", np.stack([tones, tones], axis=1), 48000, "PCM_24")
    reference = 20 * np.log10(0.4)

    def heard(path: Path) -> tuple[float, float]:
        data, rate = soundfile.read(path)
        assert rate == 44100
        middle = data[4000:-4000, 0]
        alias = tone_db(middle, rate, 44100 - 22_100) - reference
        return alias, tone_db(middle, rate, 20_000) - reference

    alias, kept = heard(
        ffmpeg_encode(source, tmp_path / "n.wav", "-ar", "44100", "-c:a", "pcm_s24le")
    )
    assert alias == pytest.approx(-11, abs=1)
    assert kept == pytest.approx(-1.28, abs=0.1)
    alias, kept = heard(
        pressed(source, store, tool, codec="flac", max_sample_rate_hz=44100, max_bits_per_sample=24)
    )
    assert alias < -90  # its own figure and the taper of the window at the very edge of the band
    assert kept == pytest.approx(0, abs=0.1)


def analysed(path: Path, folder: Path) -> tuple[int, int, int]:
    """Longest block, highest predictor order and Rice partition order, by ``flac -a``."""
    report = folder / f"{path.stem}.ana"
    command = [need("flac", "flac"), "-s", "-a", "-f", "--lax", "-o", str(report), str(path)]
    subprocess.run(command, check=True)
    text = report.read_text()
    blocks = [int(found) for found in re.findall(r"blocksize=(\d+)", text)]
    orders = [int(found) for found in re.findall(r"type=LPC\torder=(\d+)", text)]
    rice = [int(found) for found in re.findall(r"partition_order=(\d+)", text)]
    assert blocks
    return max(blocks), max(orders, default=0), max(rice, default=0)


@pytest.mark.parametrize(("rate", "longest", "order"), [(44100, 4608, 12), (352800, 16384, 32)])
def test_a_flac_pressing_is_in_the_subset_by_flacs_analysis(
    rate: int, longest: int, order: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = wav(tmp_path / "m.wav", music(rate // 2, rate), rate, "PCM_24")
    naive = ffmpeg_encode(source, tmp_path / "n.flac", "-compression_level", "12")
    block, predictor, _ = analysed(naive, tmp_path)
    assert predictor > 12 if rate == 44100 else block == 32768
    ours = pressed(
        source, store, tool, codec="flac", compression_level=8, max_bits_per_sample=24,
        max_sample_rate_hz=384000,
    )  # fmt: skip
    block, predictor, partitions = analysed(ours, tmp_path)
    assert block <= longest
    assert predictor <= order
    assert partitions <= 8


@pytest.mark.parametrize("block", [1152, 4096])
def test_a_flac_pressing_has_the_blocks_that_were_asked_for(
    block: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = wav(tmp_path / "m.wav", music(30_000))
    ours = pressed(source, store, tool, codec="flac", block_samples=block)
    assert analysed(ours, tmp_path)[0] == block
    listed = subprocess.run(
        [need("metaflac", "flac"), "--list", str(ours)], check=True, capture_output=True, text=True
    ).stdout
    assert f"minimum blocksize: {block} samples" in listed
    assert f"maximum blocksize: {block} samples" in listed
    assert "SEEKTABLE" not in listed


@pytest.mark.parametrize(
    ("rate", "most", "usual"), [(44100, 48000, 4608), (96000, 48000, 4608), (96000, 96000, 8192)]
)
def test_a_flac_pressing_does_not_inherit_the_blocks_of_its_master(
    rate: int, most: int, usual: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    plain = wav(tmp_path / "m.wav", music(30_000, rate), rate, "PCM_24")
    source = ffmpeg_encode(plain, tmp_path / "m.flac", "-frame_size", "1024")
    naive = ffmpeg_encode(source, tmp_path / "n.flac", "-sample_fmt", "s16")
    assert analysed(naive, tmp_path)[0] == 1024
    ours = pressed(source, store, tool, codec="flac", max_sample_rate_hz=most)
    assert analysed(ours, tmp_path)[0] == usual


def test_tags_are_neither_joined_nor_moved_to_the_wrong_frame(tmp_path: Path) -> None:
    source = tmp_path / "m.flac"
    soundfile.write(source, music(20_000), 44100, format="FLAC")
    tags = (
        ("ARTIST", "Ilse Vorhanden"),
        ("ARTIST", "Second Name"),
        ("PERFORMER", "Jo Fiddle (violin)"),
        ("CONDUCTOR", "Mira Taktell"),
    )
    tagged: Any = FLAC(source)
    for name in dict(tags):
        tagged[name] = [value for other, value in tags if other == name]
    tagged.save()
    naive = ffmpeg_encode(source, tmp_path / "n.flac")
    assert FLAC(naive)["ARTIST"] == ["Ilse Vorhanden;Second Name"]
    moved: Any = ID3(ffmpeg_encode(source, tmp_path / "n.mp3"))
    assert moved["TPE3"].text == ["Jo Fiddle (violin)"]  # the frame of the conductor
    assert "TXXX:CONDUCTOR" in moved

    def dressed(path: Path, kind: str) -> Path:
        target = tmp_path / f"ours.{kind}"
        with dress(path, kind, tags, None, TagWriting(), tmp_path) as made:
            target.write_bytes(b"".join(made.chunks()))
        return target

    assert FLAC(dressed(naive, "flac"))["ARTIST"] == ["Ilse Vorhanden", "Second Name"]
    frames: Any = ID3(dressed(tmp_path / "n.mp3", "mp3"))
    assert frames["TPE3"].text == ["Mira Taktell"]
    assert frames["TPE1"].text == ["Ilse Vorhanden", "Second Name"]
    assert frames["TMCL"].people == [["violin", "Jo Fiddle"]]
    assert "TXXX:CONDUCTOR" not in frames


def test_the_length_of_an_mp3_is_that_of_its_music(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    count = 57_600
    ours = pressed(wav(tmp_path / "m.wav", music(count)), store, tool, codec="mp3", quality=2)
    naive: Any = mutagen.File(ours)
    # Delay and padding, and what is mirrored there, counted as music.
    assert round(naive.info.length * 44100) == 52 * 1152
    assert read_file(LibraryPath(str(ours))).audio.samples == count
    assert len(decode(ours)[0]) == count


def test_gain_in_id3_stands_where_players_look_for_it(tmp_path: Path) -> None:
    source = ffmpeg_encode(wav(tmp_path / "m.wav", music(20_000)), tmp_path / "m.mp3")
    naive: Any = EasyID3()
    naive["replaygain_track_gain"] = "-7.63 dB"
    naive["replaygain_track_peak"] = "0.988000"
    naive.save(source)
    frames: Any = ID3(source)
    assert frames.getall("RVA2") and not frames.getall("TXXX:REPLAYGAIN_TRACK_GAIN")
    tags = (("REPLAYGAIN_TRACK_GAIN", "-7.63 dB"), ("REPLAYGAIN_TRACK_PEAK", "0.988000"))
    for version in ("2.3", "2.4"):
        writing = TagWriting(id3_version=version)
        with dress(source, "mp3", tags, None, writing, tmp_path) as made:
            (tmp_path / "ours.mp3").write_bytes(b"".join(made.chunks()))
        frames = ID3(tmp_path / "ours.mp3")
        assert frames["TXXX:REPLAYGAIN_TRACK_GAIN"].text == ["-7.63 dB"]
        assert frames["TXXX:REPLAYGAIN_TRACK_PEAK"].text == ["0.988000"]
        assert not frames.getall("RVA2")


GAIN = {
    "REPLAYGAIN_TRACK_GAIN": "-3.00 dB",
    "REPLAYGAIN_ALBUM_GAIN": "-3.00 dB",
    "REPLAYGAIN_REFERENCE_LOUDNESS": "-18.00 LUFS",
}


@pytest.fixture
def gained(tmp_path: Path) -> Path:
    path = tmp_path / "gained.flac"
    soundfile.write(path, music(48_000, 48_000), 48_000, format="FLAC")
    tagged: Any = FLAC(path)
    tagged.update(GAIN)
    tagged.save()
    return path


def header_gain(path: Path) -> int:
    raw = path.read_bytes()
    at = raw.index(b"OpusHead")
    return int.from_bytes(raw[at + 16 : at + 18], "little", signed=True)


def test_an_opus_pressing_has_no_gain_in_its_header(
    gained: Path, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    naive = tmp_path / "n.opus"
    subprocess.run([need("opusenc", "opus-tools"), "--quiet", str(gained), str(naive)], check=True)
    assert header_gain(naive) / 256 > 90  # the reference level is taken for a gain
    ours = pressed(gained, store, tool, codec="opus", bitrate_kbps=128)
    assert header_gain(ours) == 0
    assert level_db(decode(ours)[0]) == pytest.approx(level_db(soundfile.read(gained)[0]), abs=0.3)


def test_an_opus_pressing_inherits_no_gain_tags(
    gained: Path, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    naive: Any = mutagen.File(ffmpeg_encode(gained, tmp_path / "n.opus"))
    assert "REPLAYGAIN_TRACK_GAIN" in naive.tags  # RFC 7845 section 5.2.1: should not be there
    ours = pressed(gained, store, tool, codec="opus", bitrate_kbps=128)
    with dress(ours, "ogg", (("TITLE", "Song"),), None, TagWriting(), tmp_path) as made:
        (tmp_path / "o.opus").write_bytes(b"".join(made.chunks()))
    for path in (ours, tmp_path / "o.opus"):
        told = subprocess.run(
            [need("opusinfo", "opus-tools"), str(path)], check=True, capture_output=True, text=True
        ).stdout
        assert "REPLAYGAIN" not in told.upper() and "R128" not in told.upper()


def test_a_short_vorbis_pressing_is_as_long_as_its_source(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = wav(tmp_path / "m.wav", music(1000))
    ours = pressed(source, store, tool, codec="vorbis", bitrate_kbps=160)
    naive = ffmpeg_encode(ours, tmp_path / "n.wav")
    # Once it gave whole blocks, 1024 samples; now the last 128 are lost where all audio is in one
    # page (measured with ffmpeg 5.1 and 9.0; both give what was encoded from a second or so on).
    assert soundfile.info(naive).frames == 1000 - 128
    assert len(decode(ours)[0]) == 1000  # by the position in the last page
    assert read_file(LibraryPath(str(ours))).audio.samples == 1000


@pytest.mark.parametrize("kbps", [64, 128])
def test_opus_of_constant_rate_has_frames_of_one_size(
    kbps: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = master(tmp_path / "m.flac", music(96_000, 48_000), 48_000)
    audio = facts("flac", Codec.FLAC, 96_000, 48_000)
    sizes = {}
    for mode in ("constant", "variable"):
        recipe = recipe_for(audio, codec="opus", bitrate_kbps=kbps, bitrate=mode)
        sizes[mode] = packet_sizes(press(source.track, recipe, store, tool).path.read_bytes())
    assert len(set(sizes["constant"])) == 1
    # Frames of 20 ms (the encoder's default).
    assert sizes["constant"][0] == pytest.approx(kbps * 1000 / 8 / 50, abs=2)
    assert len(set(sizes["variable"])) > 5


def packet_sizes(raw: bytes) -> list[int]:
    """Bytes of each audio packet of an Ogg file (RFC 3533 section 6), behind two header pages."""
    sizes, at, page, rest = [], 0, 0, 0
    while at < len(raw):
        assert raw[at : at + 4] == b"OggS"
        lacing = raw[at + 27 : at + 27 + raw[at + 26]]
        for value in lacing:
            rest += value
            if value < 255:
                if page >= 2:
                    sizes.append(rest)
                rest = 0
        at += 27 + len(lacing) + sum(lacing)
        page += 1
    return sizes


def test_vorbis_of_constant_rate_says_so_in_its_header(
    tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    source = wav(tmp_path / "m.wav", music(60_000))
    ours = pressed(source, store, tool, codec="vorbis", bitrate_kbps=128, bitrate="constant")
    raw = ours.read_bytes()
    at = raw.index(b"\x01vorbis")
    # Vorbis I specification 4.2.2: largest, nominal and smallest rate, bit/s.
    rates = [int.from_bytes(raw[at + place : at + place + 4], "little") for place in (16, 20, 24)]
    assert rates == [128_000] * 3
    assert read_file(LibraryPath(str(ours))).audio.variable is False


@pytest.mark.parametrize(("word", "valid"), [(32, 24), (32, 20), (24, 16)])
def test_samples_in_words_that_are_wider_come_out_as_they_are(
    word: int, valid: int, tmp_path: Path, store: Store, tool: Ffmpeg
) -> None:
    # A departure that the list above does not have. WAVEFORMATEXTENSIBLE: the size of the words,
    # then how many of their bits are valid, from the top (RIFF/WAVE as published).
    width = word // 8
    wave = np.round(music(20_000) * (1 << (valid - 1))).astype("<i4") << (32 - valid)
    data = wave.astype("<i4").tobytes()
    kept = b"".join(data[at + 4 - width : at + 4] for at in range(0, len(data), 4))
    guid = b"\x01\0\0\0\0\0\x10\0\x80\0\0\xaa\0\x38\x9b\x71"
    frame = 2 * width
    form = struct.pack("<HHIIHHHHI", 0xFFFE, 2, 44100, 44100 * frame, frame, word, 22, valid, 3)
    body = b"WAVEfmt " + struct.pack("<I", 40) + form + guid
    body += b"data" + struct.pack("<I", len(kept)) + kept
    source = tmp_path / "wide.wav"
    source.write_bytes(b"RIFF" + struct.pack("<I", len(body)) + body)
    truth, _ = soundfile.read(source)
    assert level_db(truth) == pytest.approx(level_db(music(20_000)), abs=0.01)
    naive, _ = soundfile.read(ffmpeg_encode(source, tmp_path / "n.wav", "-c:a", "pcm_s32le"))
    assert len(naive) != len(truth) or level_db(naive - truth) > -30  # noise, and loud
    ours, _ = soundfile.read(pressed(source, store, tool, codec="flac", max_bits_per_sample=24))
    assert np.array_equal(ours, truth)

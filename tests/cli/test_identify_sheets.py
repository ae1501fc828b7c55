"""``syncd identify`` shows the tracks of a file with a cue sheet, without an index."""

import shutil

import numpy as np
import soundfile
from cli_kit import Program

SHEET = """\
nonsense
REM COMPOSER "Ludwig van Beethoven"
FILE "Sonata.wav" WAVE
TRACK 01 AUDIO
TITLE "Piano Sonata No. 14 in C-sharp minor, Op. 27 No. 2: I. Adagio sostenuto"
INDEX 01 00:00:00
TRACK 02 AUDIO
TITLE "Piano Sonata No. 14 in C-sharp minor, Op. 27 No. 2: II. Allegretto"
INDEX 01 00:00:20
"""


def test_identify_shows_each_span_under_its_address(bare: Program) -> None:
    bare.music.mkdir()
    file = bare.music / "Sonata.flac"
    soundfile.write(file, np.zeros((44100, 2)), 44100)
    (bare.music / "Sonata.cue").write_text(SHEET, "utf-8")
    ran = bare("identify", "--json", bare.music)
    assert ran.status == 0
    assert [line["path"] for line in ran.lines] == [f"{file}#01", f"{file}#02"]
    # Op. 27 No. 2 has three movements; these are the first two (Kinsky-Halm)
    assert [line["movement"]["number"] for line in ran.lines] == [1, 2]
    assert {line["work"]["catalogue"][0] for line in ran.lines} == {"Op. 27 No. 2"}
    assert "Sonata.cue" in ran.err
    assert "line 1 is not understood" in ran.err

    shutil.copyfile(file, bare.music / "Other.flac")
    alone = bare("identify", "--json", bare.music / "Other.flac")
    assert [line["path"] for line in alone.lines] == [f"{bare.music}/Other.flac"]

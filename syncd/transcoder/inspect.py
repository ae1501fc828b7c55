"""Inspection: no pressing goes to a card before it has been decoded once and compared.

Three things are looked at: it decodes to its end without an error, it has as many samples as went
in, and it is as loud as what went in. For FLAC the MD5 of the decoded samples must be the one in
its header besides. Samples are measured as they pass (``measuring.py``), so memory does not
grow with length; what went in was measured by the run that encoded it.
"""

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from syncd.errors import ItemProblem
from syncd.model import AudioFacts, Codec
from syncd.planner.recipe import Recipe
from syncd.transcoder.ffmpeg_port import Ffmpeg, Run, source
from syncd.transcoder.measuring import level_of

if TYPE_CHECKING:
    from syncd.transcoder.meters import Level

LEVEL_TOLERANCE_DB = 0.5
SILENT_DBFS = -75.0
"""Below this mean level a lossy codec may rightly give silence; only that it is quiet is asked."""

_LOW_BAND_HZ = 4000
_DAMAGE = re.compile(
    # Not of a picture's decoder: ffmpeg looks into an attached one while it opens a file.
    r"^(?!\[[^]]*\b(?:mjpeg|png|gif|bmp|webp|tiff) @).*?"
    r"(?:error while decoding|error submitting packet|decode_frame\(\) failed"
    r"|invalid (sync|subframe)|invalid data found|crc (mismatch|error)|invalid residual"
    r"|invalid frame header|overread|partial file|block crc|corrupt|truncat)",
    re.IGNORECASE,
)


def time_limit_s(duration_s: float) -> float:
    """How long a run over *duration_s* of audio may take: generous, since machines are slow."""
    return 300.0 + max(duration_s, 0.0) * 2


def damage_reported(run: Run) -> str | None:
    """The first line in which ffmpeg speaks of damaged data, or None."""
    for line in run.lines:
        if damage_in(line):
            return re.sub(r"^(\[[^\]]*\]\s*)+", "", line.strip())
    return None


def damage_in(line: str) -> bool:
    """Whether ffmpeg speaks of damaged data in *line*.

    Not where it lists files and tags: a song may be called "Corrupt".
    """
    if line.startswith(("Input #", "Output #", " ")):
        return False
    return bool(_DAMAGE.search(line)) and "_header_" not in line


def check_source(item: str, audio: AudioFacts, recipe: Recipe, seen: "Level", run: Run) -> "Level":
    """Judge what came out of the master itself. Raises ItemProblem when it is damaged or short."""
    if not seen.samples:
        raise ItemProblem(
            item, f"{item} holds no audio that can be decoded. Rip or fetch it again."
        )
    if audio.lossless and (words := damage_reported(run)) is not None:
        raise ItemProblem(
            item, f"{item} is damaged: decoding says '{words}'. Rip or fetch it again."
        )
    if (words := wrong_length(audio, recipe, seen)) is not None:
        raise ItemProblem(item, f"{item} is damaged: {words}. Rip or fetch it again.")
    return seen


def wrong_length(audio: AudioFacts, recipe: Recipe, seen: "Level", missing: int = 0) -> str | None:
    """What is wrong if the master gave more or fewer samples than its header promises.

    *missing* is how many of the samples *seen* are not its own, but what follows it.
    """
    if not audio.samples:
        return None
    rate = recipe.sample_rate_hz
    expected = -(-audio.samples * rate // audio.sample_rate_hz)
    allowed = (1 if recipe.resample else 0) if audio.lossless else rate // 10
    own = seen.samples - missing
    if abs(own - expected) <= allowed:
        return None
    return (
        f"its header promises {expected / rate:.2f} s of audio, but {own / rate:.2f} s can be "
        "decoded"
    )


def inspect(item: str, file: Path, recipe: Recipe, before: "Level", tool: Ffmpeg) -> "Level":
    """Decode the pressing *file* and compare it with what went in, *before*.

    Returns what was measured. Raises ItemProblem about *item* when anything differs more than the
    codec explains.
    """
    limit_s = time_limit_s(before.samples / recipe.sample_rate_hz)
    pressed = source(str(file), recipe.container)["a:0"]
    if recipe.codec is Codec.FLAC:
        _check_md5(item, file, recipe, pressed, tool, limit_s)
        return before  # the header's MD5 is that of the very samples measured before
    seen, run = level_of(
        pressed, recipe.sample_rate_hz, recipe.channels, tool, item=item, limit_s=limit_s
    )
    after = seen.level
    if not after.samples:
        raise _failed(item, "it decodes to nothing")
    words = damage_reported(run)
    if words is not None:
        raise _failed(item, f"decoding it says '{words}'")
    _check_length(item, recipe, before, after)
    return after


def check_level(
    item: str, before: "Level", after: "Level", low_before: float, low_after: float
) -> None:
    """Raise ItemProblem unless the levels agree, in whole or below the band that codecs cut."""
    if level_agrees(before.mean_dbfs, after.mean_dbfs) or level_agrees(low_before, low_after):
        return
    raise _failed(
        item,
        f"its level is {after.mean_dbfs - before.mean_dbfs:+.1f} dB against the source's",
    )


def level_agrees(before_dbfs: float, after_dbfs: float) -> bool:
    """Whether two mean levels are the same within the tolerance, or both next to silence."""
    if before_dbfs < SILENT_DBFS:
        return after_dbfs < SILENT_DBFS + 5
    return abs(after_dbfs - before_dbfs) <= LEVEL_TOLERANCE_DB


def low_band(stream: Any) -> Any:
    """*stream* below the frequencies that lossy codecs leave out."""
    return stream.filter("lowpass", f=_LOW_BAND_HZ).filter("lowpass", f=_LOW_BAND_HZ)


def _check_length(item: str, recipe: Recipe, before: "Level", after: "Level") -> None:
    # Vorbis and AAC decoders here round a file of a few blocks up to whole blocks.
    allowed = 1024 if recipe.codec in (Codec.VORBIS, Codec.AAC) else 0
    if abs(after.samples - before.samples) > allowed:
        raise _failed(
            item, f"it has {after.samples} samples where {before.samples} went into the encoder"
        )


def _check_md5(
    item: str, file: Path, recipe: Recipe, pressed: Any, tool: Ffmpeg, limit_s: float
) -> None:
    coder = "pcm_s16le" if recipe.bits == 16 else "pcm_s24le"
    wanted = pressed.output("-", f="md5", **{"c:a": coder})
    run = tool.run(wanted, item=item, limit_s=limit_s, want_stdout=True)
    with file.open("rb") as stream:
        head = stream.read(42)
    if head[:4] != b"fLaC" or run.stdout.strip().decode("ascii", "replace").lower() != (
        f"md5={head[26:42].hex()}"
    ):
        raise _failed(item, "its samples are not those whose checksum is in its header")


def _failed(item: str, what: str) -> ItemProblem:
    return ItemProblem(
        item,
        f"The pressing made from {item} failed its inspection: {what}. It was thrown away; "
        "update again, and if it fails again, report it with this sentence.",
    )

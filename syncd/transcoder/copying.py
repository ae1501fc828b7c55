"""Remuxing: a track's audio goes into another container, and both are decoded and compared.

Coded frames are copied as they are; plain samples only change the order of their bytes. No level is
measured and no length judged: the samples of both files must be equal, one by one, from the first
that is coded to the last, those that a container's edit list would hide included.
"""

from pathlib import Path
from typing import Any

from syncd.errors import ItemProblem
from syncd.model import AudioFacts, Codec, Track
from syncd.planner.recipe import Recipe
from syncd.transcoder import inspect, spans
from syncd.transcoder.encoders import copying
from syncd.transcoder.ffmpeg_port import Ffmpeg, Run, file_address, source
from syncd.transcoder.graph import wide_words

_NO_MD5 = bytes(16)
_MD5_WORDS = {8: "pcm_s8", 16: "pcm_s16le", 24: "pcm_s24le", 32: "pcm_s32le"}
"""Form of samples over which FLAC's MD5 is taken (RFC 9639 section 8.2), by word length."""


def remux(
    track: Track, recipe: Recipe, part: Path, item: str, tool: Ffmpeg, *, forgiven: bool = False
) -> None:
    """Write *track*'s audio to *part* in the container of *recipe*, and prove that it is the same.

    Raises ItemProblem about *item* when a sample differs, or the master is damaged and this is
    not *forgiven*.
    """
    limit_s = inspect.time_limit_s(track.audio.duration_s)
    wide = wide_words(track.audio)
    master = source(track.path, track.audio.container, **wide)["a:0"]
    tool.run(master.output(file_address(part), **copying(recipe)), item=item, limit_s=limit_s)
    coder = _coder(recipe)
    before = _decoded(track.path, track.audio.container, coder, item, tool, limit_s, **wide)
    words = inspect.damage_reported(before)
    if words is not None and not forgiven:
        raise _damaged(item, f"decoding says '{words}'")
    after = _decoded(str(part), recipe.container, coder, item, tool, limit_s)
    if not before.stdout.startswith(b"MD5=") or before.stdout != after.stdout:
        raise ItemProblem(
            item,
            f"The pressing made from {item} failed its inspection: in its new container it "
            "decodes to other samples. It was thrown away; update again, and if it fails again, "
            "report it with this sentence.",
        )
    if recipe.codec is Codec.FLAC and recipe.bits in _MD5_WORDS:
        native = part if recipe.container == "flac" else Path(track.path)
        digest = bytes.fromhex(after.stdout.strip().decode("ascii").removeprefix("MD5="))
        with native.open("rb") as file:
            streaminfo = spans.flac_span(file).head
        if streaminfo[18:34] not in (_NO_MD5, digest) and not forgiven:
            raise _damaged(item, "its samples are not those whose checksum is in its header")
        if native == part:
            _complete(part, streaminfo, digest, track.audio)


def _coder(recipe: Recipe) -> str:
    if recipe.codec is Codec.AAC:
        return "pcm_f32le"
    if recipe.codec is Codec.FLAC:
        return _MD5_WORDS.get(recipe.bits or 0, "pcm_s32le")
    return "pcm_s32le"


def _decoded(
    path: str, container: str, coder: str, item: str, tool: Ffmpeg, limit_s: float, **wide: object
) -> Run:
    """A run whose answer is the MD5 of all samples coded in the file at *path*."""
    options: dict[str, Any] = {"flags2": "+skip_manual", **wide}
    if container == "mp4":
        options["ignore_editlist"] = 1
    output = source(path, container, **options)["a:0"].output("-", f="md5", **{"c:a": coder})
    return tool.run(output, item=item, limit_s=limit_s, want_stdout=True)


def _complete(part: Path, streaminfo: bytes, digest: bytes, audio: AudioFacts) -> None:
    """Give *part* the checksum and length that its STREAMINFO lacks, as streams from Ogg may.

    A player shows no length, and cannot seek, without the latter.
    """
    packed = int.from_bytes(streaminfo[10:18], "big")
    if packed & 0xF_FFFF_FFFF == 0:
        packed |= audio.samples or 0
    with part.open("rb+") as file:
        file.seek(8 + 10)
        file.write(packed.to_bytes(8, "big") + digest)


def _damaged(item: str, what: str) -> ItemProblem:
    return ItemProblem(item, f"{item} is damaged: {what}. Rip or fetch it again.")

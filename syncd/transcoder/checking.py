"""Checking a master file: is its audio whole, and if not, where does the damage begin?

Three witnesses: the container's structure (``library.framewalk``), what the decoder says and how
much it delivers, and for FLAC the MD5 of all samples. What is encoded is decoded anyway, so the
pressing run brings the witnesses along (``press.py``); what is carried over untouched is decoded
here once. A lossy file may have harmless oddities: what a decoder says of its first moments and
its last ones is not held against it.
"""

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ffmpeg

from syncd.errors import ItemProblem
from syncd.library.asknown import Holds, anything, sure
from syncd.library.damage import Damage
from syncd.library.framewalk import structural_damage
from syncd.model import AudioFacts, Codec, Track
from syncd.planner.recipe import Recipe
from syncd.transcoder.checks import Checks
from syncd.transcoder.ffmpeg_port import Ffmpeg, Run, file_address
from syncd.transcoder.graph import whole
from syncd.transcoder.inspect import damage_in, damage_reported, time_limit_s, wrong_length
from syncd.transcoder.spans import NotThisKind, flac_span
from syncd.utf8 import printable

if TYPE_CHECKING:
    from syncd.transcoder.meters import Level

_NO_MD5 = bytes(16)
_MD5_WORDS = {8: "pcm_s8", 16: "pcm_s16le", 24: "pcm_s24le", 32: "pcm_s32le"}
"""Form of samples over which FLAC's MD5 is taken (RFC 9639 section 8.2), by word length.

Others are taken over words whose bits ffmpeg has shifted: not compared."""

_EDGE_S = 0.15
"""At either end of a lossy file, what a decoder says within so many seconds is no damage."""

_FRAME = re.compile(r"\[Parsed_ashowinfo.* pts:(-?\d+) .*rate:(\d+) nb_samples:(\d+)")
_TIME = re.compile(r"time=(\d+):(\d\d):(\d\d\.\d+)")
_CHECKSUM = "its samples are not those whose checksum is in its header"


class DamagedSource(ItemProblem):
    """A master file that is damaged; ``damage`` says what and where."""

    def __init__(self, item: str, damage: Damage) -> None:
        super().__init__(item, damage.sentence(item))
        self.damage = damage


def checked(track: Track, tool: Ffmpeg, checks: Checks, holds: Holds = anything) -> Damage | None:
    """The damage of *track*'s audio, None if it is sound: known from before, or found and kept.

    Raises ItemProblem when the file is gone, another by what *holds* says, or cannot be decoded at
    all.
    """
    if not checks.known(track.audio_hash):
        found = find_damage(track, tool)
        sure(track, holds)
        checks.keep(track.audio_hash, found)
    return checks.damage(track.audio_hash)


def find_damage(track: Track, tool: Ffmpeg) -> Damage | None:
    """Decode the file of *track* to its end; what is damaged in it, or in the track's span of it.

    Raises ItemProblem when the file is gone or nothing of it can be decoded.
    """
    item = printable(track.address)
    if not Path(track.path).is_file():
        raise ItemProblem(track.path, f"{item} is no longer there. Scan the library again.")
    lost = by_structure(track)
    if lost is not None:
        return lost
    limit_s = time_limit_s(_end_s(track) or track.audio.duration_s)
    master = whole(track)
    wanted = flac_md5(track)
    if wanted is None:
        run = tool.run(master.output("-", f="null"), item=item, limit_s=limit_s)
    else:
        output = master.output("-", f="md5", **{"c:a": wanted[1]})
        run = tool.run(output, item=item, limit_s=limit_s, want_stdout=True)
    words = damage_reported(run)
    if words is not None:
        found = located(track, words, tool, limit_s)
        if found is not None:
            return found
    if wanted is not None and (found := md5_damage(wanted, run.stdout)) is not None:
        return found
    return None if track.span is not None else _too_short(track.audio, run)


def checksum_file(part: Path) -> Path:
    """Where a run that makes *part* leaves the checksum of its master's samples."""
    return part.with_name(f"{part.name}.md5")


class Witness:
    """What the run that presses *track* tells, on the way, of the master's soundness.

    What is known already is not asked for again. *part* is the pressing being made: a checksum may
    be left beside it, at :func:`checksum_file`; not where the caller *sees* the master's *words*
    pass and can take their digest itself, which it shall if ``wants_digest``.
    """

    def __init__(
        self, track: Track, part: Path, checks: Checks, *, sees_words: bool = False
    ) -> None:
        self._track = track
        self._checks = checks
        self._new = not checks.known(track.audio_hash)
        self._wanted = flac_md5(track) if self._new else None
        self._told = checksum_file(part)
        self.wants_digest = sees_words and self._wanted is not None

    def joined(self, outputs: Any) -> Any:
        """*outputs* with one more, where a checksum is to be compared."""
        if self._wanted is None or self.wants_digest:
            return outputs
        md5 = whole(self._track).output(
            file_address(self._told), f="md5", map_metadata=-1, **{"c:a": self._wanted[1]}
        )
        return ffmpeg.merge_outputs(outputs, md5)

    def testimony(
        self,
        recipe: Recipe,
        seen: "Level",
        run: Run,
        tool: Ffmpeg,
        limit_s: float,
        missing: int = 0,
        *,
        digest: bytes | None = None,
        shared: bool = False,
    ) -> Damage | None:
        """The damage of the master from which *seen* came in *run*; remembered.

        *digest* is that of the master's words, where it was wanted; *missing* as
        ``inspect.wrong_length`` has it. In a *shared* run other files were decoded, too. Raises
        ItemProblem when nothing came, or what is damaged is one of the others.
        """
        track, item = self._track, printable(self._track.address)
        if not seen.samples:
            raise ItemProblem(
                item, f"{item} holds no audio that can be decoded. Rip or fetch it again."
            )
        if self._new:
            found = self._found(recipe, seen, run, tool, limit_s, missing, digest)
        else:
            found = self._checks.damage(track.audio_hash)
        if shared and found is None and (words := damage_reported(run)) is not None:
            raise ItemProblem(item, f"What {item} runs on from or into is damaged: '{words}'.")
        if self._new:
            self._checks.keep(track.audio_hash, found)
        return found

    def _found(
        self,
        recipe: Recipe,
        seen: "Level",
        run: Run,
        tool: Ffmpeg,
        limit_s: float,
        missing: int,
        digest: bytes | None,
    ) -> Damage | None:
        track = self._track
        found = by_structure(track)
        if found is None and (words := damage_reported(run)) is not None:
            found = located(track, words, tool, limit_s)
        if found is None and (words := wrong_length(track.audio, recipe, seen, missing)):
            start = 0 if track.span is None else track.span.start
            decoded_s = (seen.samples - missing) / recipe.sample_rate_hz
            found = Damage(words, start / track.audio.sample_rate_hz + decoded_s)
        if found is None and self._wanted is not None:
            if not self.wants_digest:
                found = md5_damage(self._wanted, self._told.read_bytes())
            elif digest != self._wanted[0]:
                found = Damage(_CHECKSUM)
        return found


def by_structure(track: Track) -> Damage | None:
    """What is missing in the file of *track* by its structure, if it is in the track's span."""
    try:
        found = structural_damage(track.path, track.audio)
    except OSError as error:
        raise ItemProblem(
            track.path, f"{printable(track.path)} cannot be read: {error.strerror}."
        ) from error
    return found if found is not None and _concerns(track, found.at_s) else None


def flac_md5(track: Track) -> tuple[bytes, str] | None:
    """The MD5 that the samples of a whole FLAC file must have, and the form that it is taken of."""
    coder = _MD5_WORDS.get(track.audio.bits_per_sample or 0)
    if track.audio.container != "flac" or track.span is not None or coder is None:
        return None
    try:
        with Path(track.path).open("rb") as file:
            digest = flac_span(file).head[18:34]
    except (OSError, NotThisKind):
        return None  # the decoder tells it better
    return None if digest in (_NO_MD5, b"") else (digest, coder)


def md5_damage(wanted: tuple[bytes, str], told: bytes) -> Damage | None:
    """Damage if *told*, ffmpeg's answer of the form ``MD5=...``, is not the *wanted* one."""
    same = told.strip().decode("ascii", "replace").lower() == f"md5={wanted[0].hex()}"
    return None if same else Damage(_CHECKSUM)


def located(track: Track, words: str, tool: Ffmpeg, limit_s: float) -> Damage | None:
    """The damage that a decoder told in *words*, with its place; decodes the file once more.

    None if it is a harmless oddity of a lossy file, or not in the track's span.
    """
    place = _Place()
    stream = whole(track).filter("ashowinfo")
    tool.run(
        stream.output("-", f="null"),
        item=printable(track.address),
        limit_s=limit_s,
        heard=place.hear,
    )
    for at_s in place.told or place.ahead:
        edges = not track.audio.lossless and not (_EDGE_S < at_s < place.end_s - _EDGE_S)
        if not edges and _concerns(track, at_s):
            return Damage(f"decoding says '{words}'", at_s)
    return None


@dataclass(slots=True)
class _Place:
    """Where a decoder stumbles: by a gap in the frames that it delivers, else by the last one.

    Errors are told by another thread than the frames: by itself a place is exact to some frames.
    What the demuxer says (``ahead``) comes before the frames of several packets that it had given
    out already, so it counts only if the decoder says nothing.
    """

    told: list[float] = field(default_factory=list)
    ahead: list[float] = field(default_factory=list)
    end_s: float = 0.0
    _open: list[int] = field(default_factory=list)

    def hear(self, line: str) -> None:
        """Take one line of what ffmpeg says."""
        frame = _FRAME.match(line)
        if frame is None:
            if damage_in(line) and line.startswith("[in#"):
                self.ahead.append(self.end_s)
            elif damage_in(line) and not self._open:
                # Until a gap among the next frames tells better.
                self.told.append(self.end_s)
                self._open.append(0)
            return
        pts, rate, count = (int(number) for number in frame.groups())
        start = pts / rate
        if self._open:
            self._open[0] += 1
            if start > self.end_s + 1.5 / rate:
                self.told[-1] = self.end_s
                self._open.clear()
            elif self._open[0] > _FRAMES_AFTER:
                self._open.clear()
        self.end_s = start + count / rate


_FRAMES_AFTER = 32
"""A gap within so many frames after an error was told is the gap that it made."""


def _concerns(track: Track, at_s: float | None) -> bool:
    """Whether damage at *at_s* of the file is in the track, which may be a span of it."""
    if track.span is None or at_s is None:
        return True
    end_s = _end_s(track)
    start_s = track.span.start / track.audio.sample_rate_hz
    return start_s - _EDGE_S <= at_s and (end_s is None or at_s <= end_s)


def _end_s(track: Track) -> float | None:
    span = track.span
    if span is None or span.length is None:
        return None
    return (span.start + span.length) / track.audio.sample_rate_hz


def _too_short(audio: AudioFacts, run: Run) -> Damage | None:
    """Damage if less was decoded than the header promises; the clock of a run ends with a frame."""
    if not audio.samples:
        return None
    times = [match for line in run.lines if (match := _TIME.search(line))]
    if not times:
        return None
    hours, minutes, seconds = times[-1].groups()
    decoded_s = int(hours) * 3600 + int(minutes) * 60 + float(seconds)
    rate = 48000 if audio.codec is Codec.OPUS else audio.sample_rate_hz
    promised_s = audio.samples / rate
    if decoded_s >= promised_s - 0.25:
        return None
    return Damage(
        f"its header promises {promised_s:.2f} s of audio, but {decoded_s:.2f} s can be decoded",
        decoded_s,
    )

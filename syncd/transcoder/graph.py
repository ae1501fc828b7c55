"""What is done to samples between decoder and encoder, as a chain of ffmpeg filters.

cut to a span -> de-emphasis -> downmix by a stated matrix -> soxr -> gain -> word length, with
dither where it falls. Only what the recipe asks for is in the chain, and every step works in
floating point: what ffmpeg does to integers by itself (mixing in 16 bit, truncating) departs from
the standards.
"""

from typing import Any

from syncd.library.channels import states_places
from syncd.library.tags import read_file
from syncd.model import AudioFacts, Codec, Track
from syncd.planner.carrying import held_bits
from syncd.planner.recipe import Recipe
from syncd.transcoder import downmix
from syncd.transcoder.ffmpeg_port import source

_DEEMPHASIS = {
    32000: (4933, 0.4582, -8.849),
    44100: (5283, 0.4845, -9.477),
    48000: (5307, 0.4835, -9.573),
    88200: (5607, 0.4989, -10.121),
    96000: (5636, 0.4992, -10.168),
    176400: (5755, 0.4999, -10.366),
    192000: (5764, 0.5, -10.38),
}
"""Frequency, slope and gain of the shelf that follows 50/15 us de-emphasis (IEC 60908), by rate.

Fitted to 10 log10((1 + (w 15 us)^2) / (1 + (w 50 us)^2)): up to 20 kHz (15 kHz at 32 kHz) the
largest error is 0.072 dB at 32 kHz, 0.062 at 44.1, 0.031 at 48, below 0.003 at the others. ffmpeg's
own aemphasis is off by up to 4.3 dB.
"""

_SEEKABLE = frozenset({"flac", "wav", "aiff", "wavpack", "mp4"})
"""Containers that can be sought to the sample, if losslessly coded."""

_BEFORE_S = 1.0  # from where a seek ends to the cut: the cut is made by place, not by the seek
_FRAME = 4608  # what encoders choose at 44.1 kHz, and the longest of the subset up to 48 kHz
_LEAD_IN = 4096  # samples heard by the de-emphasis before the cut: sixty times its memory


_ONE_BIT_SAMPLE = 8
"""One-bit samples that a decoder makes one sample of: its rate is an eighth of the file's."""

_ROUNDING = 2.0**-24
"""Half a step of 24 bit. The encoder cuts 32-bit words down to 24, which with this is rounding."""


def whole(track: Track) -> Any:
    """The audio of the whole file of *track*, as it is decoded."""
    return source(track.path, track.audio.container, **_reading(track))["a:0"]


def opened(track: Track, recipe: Recipe) -> Any:
    """The audio of *track*, a whole file or its span, before anything else is done to it.

    A span of a lossless file is sought; in a lossy one, what a decoder gives depends on all that
    went before, so it is decoded from its start. The cut is exact to the sample in both.
    """
    span, audio = track.span, track.audio
    if span is None:
        stream = whole(track)
        return deemphasised(stream, audio.sample_rate_hz) if recipe.deemphasis else stream
    rate = audio.sample_rate_hz
    start_s = span.start / rate - _BEFORE_S
    end = None if span.length is None else span.start + span.length
    # Place in the file: by the decoder's clock after a seek, by counting from the start otherwise.
    if start_s > 0 and _keeps_places(track):
        seek = {"ss": f"{start_s:.6f}", "copyts": None}
        master = source(track.path, audio.container, **seek, **_reading(track))
        names = ("start_pts", "end_pts")
    else:
        master = source(track.path, audio.container, **_reading(track))
        names = ("start_sample", "end_sample")
    stream = master["a:0"]
    if audio.codec is Codec.AAC:
        # It may decode at another rate than its container says, at which the span is counted.
        stream = stream.filter("aformat", sample_fmts="fltp")
        stream = stream.filter("aresample", rate, resampler="soxr", precision=28, osf="fltp")
    unit = _ONE_BIT_SAMPLE if audio.codec is Codec.DSD else 1
    cut: dict[str, int] = {names[0]: span.start // unit}
    if end is not None:
        cut[names[1]] = end // unit
    if not recipe.deemphasis:
        return evened(stream.filter("atrim", **cut))
    # The filter hears what is before the cut, so that there is no step where two spans meet.
    lead = min(_LEAD_IN, span.start)
    cut[names[0]] -= lead
    stream = deemphasised(stream.filter("atrim", **cut).filter("asetpts", "N"), rate)
    return evened(stream.filter("atrim", start_sample=lead))


def _keeps_places(track: Track) -> bool:
    """Whether decoded samples of *track*'s file keep their exact places after a seek.

    In an MP4 file whose clock does not count samples they would be rounded to its ticks: then its
    header does not tell the exact length either. Raises ItemProblem when that cannot be read.
    """
    audio = track.audio
    if not audio.lossless or audio.container not in _SEEKABLE:
        return False
    return audio.container != "mp4" or read_file(track.path).audio.samples is not None


def evened(stream: Any) -> Any:
    """*stream* from time 0 on, in frames of equal length.

    The FLAC encoder takes the length of its first frame for its block size, and after a cut that is
    what was left of one: with 48 samples the file is a third larger and slow to make.
    """
    return stream.filter("asetpts", "N").filter("asetnsamples", n=_FRAME, p=0)


def wide_words(audio: AudioFacts) -> dict[str, object]:
    """The input option for plain samples in words longer than need be.

    ffmpeg goes by the valid bits that a WAV header gives, so it takes 24 of them in words of 32 for
    floating point, and 16 in words of 24 for words of 16: both come out as noise.
    """
    held = held_bits(audio)
    if (
        audio.container != "wav"
        or audio.profile
        or held <= -(-(audio.bits_per_sample or 0) // 8) * 8
    ):
        return {}
    return {"c:a": f"pcm_s{held}le"}


def _reading(track: Track) -> dict[str, object]:
    """The input options for *track*'s file."""
    return {**wide_words(track.audio), **_places(track)}


def _places(track: Track) -> dict[str, object]:
    """The input option that names the channels' places where ffmpeg would guess or be puzzled.

    One channel is mono and two are stereo, whatever a mask calls them: there is nothing to mix.
    """
    audio = track.audio
    if audio.lossless and audio.channels <= 2:
        return {"channel_layout": "mono" if audio.channels == 1 else "stereo"}
    unnamed = {3: "3.0", 4: "quad"}.get(audio.channels)
    if unnamed is not None and (
        audio.container in ("aiff", "dff")
        or (audio.container == "wav" and not states_places(track.path))
    ):
        return {"channel_layout": unnamed}
    return {}


def deemphasised(stream: Any, rate_hz: int) -> Any:
    """*stream* at *rate_hz* with 50/15 us pre-emphasis undone."""
    frequency, slope, gain = _DEEMPHASIS[rate_hz]
    shelf = stream.filter("aformat", sample_fmts="dblp")
    return shelf.filter("highshelf", f=frequency, t="s", w=slope, g=gain, r="f64")


def is_16_bit(audio: AudioFacts, recipe: Recipe) -> bool:
    """Whether the samples that reach the encoder are 16-bit words without loss."""
    return recipe.bits == 16 if recipe.lossless else is_the_masters_16_bit(audio, recipe)


def is_the_masters_16_bit(audio: AudioFacts, recipe: Recipe) -> bool:
    """Whether the samples that reach the encoder are a 16-bit master's own words."""
    untouched = not (recipe.resample or recipe.downmix or recipe.deemphasis)
    untouched = untouched and recipe.gain_db is None and not recipe.dither
    untouched = untouched and (not recipe.lossless or recipe.bits == 16)
    return untouched and audio.lossless and audio.bits_per_sample == 16 and not audio.profile


def may_exceed(audio: AudioFacts, recipe: Recipe) -> bool:
    """Whether samples beyond full scale may reach the word length, which would clip them.

    Floating point and lossy decoders hold them; filters make them of what lay within.
    """
    filtered = recipe.resample or recipe.downmix or recipe.deemphasis or recipe.gain_db is not None
    floats = not audio.lossless or audio.profile == "float" or audio.codec is Codec.DSD
    return bool(filtered or floats)


def processed(master: Any, audio: AudioFacts, recipe: Recipe) -> Any:
    """*master* after what the recipe asks for, in the sample format that its encoder gets."""
    return worded(unworded(master, audio, recipe), audio, recipe)


def unworded(master: Any, audio: AudioFacts, recipe: Recipe) -> Any:
    """*master* after what the recipe asks for but its word length: nothing is clipped yet."""
    stream = master
    working = "dblp" if recipe.lossless else "fltp"
    if recipe.downmix:
        # In floating point: with 16-bit samples ffmpeg mixes in 16-bit arithmetic.
        stream = stream.filter("aformat", sample_fmts=working)
        stream = stream.filter("pan", args=downmix.pan(recipe.downmix))
    if recipe.resample or audio.codec is Codec.AAC:
        # AAC may decode at another rate than its container says; at the same rate it passes.
        stream = stream.filter("aformat", sample_fmts=working)
        stream = stream.filter(
            "aresample", recipe.sample_rate_hz, resampler="soxr", precision=28, osf=working
        )
    if recipe.gain_db is not None:
        # After resampling, whose ripple is part of the level that was measured.
        stream = stream.filter("aformat", sample_fmts=working)
        factor = f"{10 ** (recipe.gain_db / 20):.9f}"
        stream = stream.filter("volume", volume=factor, precision="double")
    return stream


def worded(stream: Any, audio: AudioFacts, recipe: Recipe) -> Any:
    """What :func:`unworded` gave, in the sample format that the encoder gets, dithered if asked.

    Integers clip what exceeds full scale.
    """
    if not recipe.lossless:
        if is_16_bit(audio, recipe):
            return stream
        return stream.filter("aformat", sample_fmts="fltp")
    word: dict[str, object] = {"osf": "s16" if recipe.bits == 16 else "s32"}
    if recipe.dither:
        word["dither_method"] = "triangular"
        if recipe.bits == 24:
            word["output_sample_bits"] = 24
            stream = stream.filter("aresample", **word)
            return stream.filter("dcshift", shift=f"{_ROUNDING:.12f}")
        return stream.filter("aresample", **word)
    return stream.filter("aformat", sample_fmts=word["osf"])

"""Plain words for codecs, rates and kinds of audio, as reasons and refusals use them."""

from syncd.model import AudioFacts, Codec


def codec_name(codec: Codec) -> str:
    """What *codec* is called among people."""
    names = {
        Codec.VORBIS: "Vorbis",
        Codec.OPUS: "Opus",
        Codec.WAVPACK: "WavPack",
        Codec.WMA_LOSSLESS: "WMA Lossless",
        Codec.MP2: "MPEG layer II",
    }
    return names.get(codec, codec.value.upper())


def container_name(container: str) -> str:
    """What a file of the kind is called among people."""
    names = {"flac": "FLAC files", "ogg": "Ogg", "mp4": "MP4", "aac": "ADTS", "mp3": "MP3 files"}
    return names.get(container, container.upper())


def khz(rate_hz: int) -> str:
    """``44.1 kHz``."""
    return f"{rate_hz / 1000:g} kHz"


def described(audio: AudioFacts) -> str:
    """``FLAC 44.1 kHz 16 bit``; no word length for lossy codecs."""
    parts = [codec_name(audio.codec), khz(audio.sample_rate_hz)]
    if audio.bits_per_sample is not None and audio.lossless:
        parts.append(f"{audio.bits_per_sample} bit")
    return " ".join(parts)

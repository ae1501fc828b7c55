"""Audio facts from the headers of each container: codec, rate, channels, exact sample count.

Reads headers only, a module for each family of containers. ``samples`` is given where the container
says it to the sample and None where it does not; what a decoder really delivers is for the
transcoder's inspection. A file whose header promises more audio than the file holds is refused as
truncated.
"""

from collections.abc import Callable
from typing import BinaryIO

from syncd.library.facts.asf import asf_facts
from syncd.library.facts.dsd import dff_facts, dsf_facts
from syncd.library.facts.flac import flac_facts
from syncd.library.facts.iff import aiff_facts, wav_facts
from syncd.library.facts.mp4 import mp4_facts
from syncd.library.facts.mpeg import adts_facts, mp3_facts
from syncd.library.facts.ogg import ogg_facts
from syncd.library.facts.packed import ape_facts, tta_facts
from syncd.library.facts.wavpack import wavpack_facts
from syncd.model import AudioFacts

Reader = Callable[[BinaryIO, int, str], AudioFacts]

READERS: dict[str, Reader] = {
    "flac": flac_facts,
    "mp3": mp3_facts,
    "aac": adts_facts,
    "ogg": ogg_facts,
    "mp4": mp4_facts,
    "wav": wav_facts,
    "aiff": aiff_facts,
    "wavpack": wavpack_facts,
    "tta": tta_facts,
    "ape": ape_facts,
    "asf": asf_facts,
    "dsf": dsf_facts,
    "dff": dff_facts,
}

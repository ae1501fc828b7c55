"""Player profiles: what a player can play and how its card must look.

A profile is a TOML file. Four come with syncd (``sample_profiles/``), named after what the player
is; a listener writes further ones. Reading and checking is here, deciding is the planner's.
"""

import re
import string
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Annotated, Literal, Self

import msgspec
import xxhash
from pydantic import Field, field_validator, model_validator

from syncd.errors import SetupProblem
from syncd.model import Codec
from syncd.toml_config import Table, read_table

PROFILE_FORMAT = 1

WORK_FIELDS = frozenset(
    {"composer", "work", "catalogue", "recording", "number", "movement", "year", "album", "disc"}
)
POPULAR_FIELDS = frozenset({"artist", "album", "disc", "number", "title", "year"})

CodecName = Literal["flac", "alac", "wavpack", "pcm", "mp3", "mp2", "aac", "vorbis", "opus"]
Charset = Literal["unicode", "ascii"]
CONSTANT_RATE = ("mp3", "vorbis", "opus")
"""Codecs with a form in which every second takes the same room (AAC has none here)."""
ObjectType = Literal["LC", "HE", "HEv2", "Main", "SSR", "LTP", "xHE"]


class Plays(Table):
    """One kind of file that the player decodes. Limits that are left out do not exist.

    ``containers`` are file kinds ("flac", "mp3", "mp4", "ogg", "wav", "aiff", "wavpack"); empty
    means the usual one of the codec. Rates in Hz, bit rates in kbit/s. ``sample_rates_hz`` and
    ``bits_per_sample`` list what is decoded where a maximum does not say it; ``object_types`` are
    those of AAC ("LC", "HE", "HEv2", "Main"). For FLAC: ``max_block_samples`` (Vorbis too) and
    ``max_frame_bytes`` are what the decoder has memory for, ``fixed_blocks`` refuses a block size
    that varies, ``subset`` what is outside the streamable subset (RFC 9639 section 7) as far as
    its header tells.
    """

    codec: CodecName
    containers: tuple[str, ...] = ()
    max_sample_rate_hz: Annotated[int, Field(ge=8000, le=768000)] | None = None
    max_bits_per_sample: Annotated[int, Field(ge=8, le=32)] | None = None
    max_channels: Annotated[int, Field(ge=1, le=8)] | None = None
    max_bitrate_kbps: Annotated[int, Field(ge=8, le=20000)] | None = None
    sample_rates_hz: tuple[Annotated[int, Field(ge=8000, le=768000)], ...] = ()
    bits_per_sample: tuple[Annotated[int, Field(ge=8, le=32)], ...] = ()
    bitrate: Literal["any", "constant"] = "any"
    object_types: tuple[ObjectType, ...] = ()
    max_block_samples: Annotated[int, Field(ge=16, le=65535)] | None = None
    max_frame_bytes: Annotated[int, Field(ge=1024, le=1 << 24)] | None = None
    fixed_blocks: bool = False
    subset: bool = False

    @field_validator(
        "containers", "sample_rates_hz", "bits_per_sample", "object_types", mode="before"
    )
    @classmethod
    def _lists(cls, value: object) -> object:
        return tuple(value) if isinstance(value, list) else value

    @field_validator("containers")
    @classmethod
    def _known_containers(cls, value: tuple[str, ...]) -> tuple[str, ...]:
        allowed = ("flac", "mp3", "mp4", "ogg", "wav", "aiff", "wavpack", "aac")
        for name in value:
            if name not in allowed:
                raise ValueError(f"'{name}' is not a container; allowed are {', '.join(allowed)}")
        return value

    @property
    def particular(self) -> bool:
        """Whether it limits what only some headers tell: how blocks and bit rates vary."""
        return (
            self.bitrate == "constant"
            or self.fixed_blocks
            or self.subset
            or self.max_block_samples is not None
            or self.max_frame_bytes is not None
        )

    @model_validator(mode="after")
    def _limits_of_this_codec(self) -> Self:
        for given, key, codecs in (
            (self.object_types, "object_types", ("aac",)),
            (self.max_block_samples, "max_block_samples", ("flac", "vorbis")),
            (self.max_frame_bytes, "max_frame_bytes", ("flac",)),
            (self.fixed_blocks, "fixed_blocks", ("flac",)),
            (self.subset, "subset", ("flac",)),
            (self.bitrate == "constant", "bitrate", CONSTANT_RATE),
        ):
            if given and self.codec not in codecs:
                raise ValueError(
                    f"'{key}' is a limit of {' and '.join(codecs)}, not of {self.codec}; "
                    "leave it out"
                )
        return self


class Encode(Table):
    """What a track becomes that the player cannot play as it is.

    MP3: ``quality`` is the encoder's variable-bitrate scale, 0 best to 9 smallest, unless
    ``bitrate_kbps`` asks for a constant one. Opus and Vorbis and AAC: ``bitrate_kbps``, about
    which the rate varies unless ``bitrate`` is "constant". FLAC: ``compression_level`` 0 to 8,
    and ``block_samples`` where a decoder has little memory. ``bits_per_sample`` and the largest
    rate hold for FLAC and WAV.
    """

    codec: Literal["mp3", "flac", "opus", "vorbis", "aac", "pcm"]
    quality: Annotated[int, Field(ge=0, le=9)] | None = None
    bitrate_kbps: Annotated[int, Field(ge=16, le=512)] | None = None
    bitrate: Literal["variable", "constant"] = "variable"
    block_samples: Annotated[int, Field(ge=256, le=16384)] | None = None
    compression_level: Annotated[int, Field(ge=0, le=8)] = 5
    max_sample_rate_hz: Annotated[int, Field(ge=8000, le=384000)] = 48000
    max_bits_per_sample: Literal[16, 24] = 16
    max_channels: Literal[1, 2] = 2

    @model_validator(mode="after")
    def _one_of_two(self) -> Self:
        if self.quality is not None and self.bitrate_kbps is not None:
            raise ValueError("'quality' and 'bitrate_kbps' exclude each other; give one of them")
        if self.quality is not None and self.codec != "mp3":
            raise ValueError("'quality' is for codec \"mp3\"; give 'bitrate_kbps' instead")
        if self.bitrate == "constant" and self.codec not in CONSTANT_RATE:
            raise ValueError(
                f"'bitrate' \"constant\" is for {', '.join(CONSTANT_RATE)}; leave it out"
            )
        if self.bitrate == "constant" and self.quality is not None:
            raise ValueError(
                "'bitrate' \"constant\" excludes 'quality', a scale of variable bit rates; "
                "give 'bitrate_kbps' instead"
            )
        if self.block_samples is not None and self.codec != "flac":
            raise ValueError("'block_samples' is for codec \"flac\"; leave it out")
        if self.codec == "mp3" and self.max_sample_rate_hz > 48000:
            raise ValueError("MP3 knows no rate above 48000 Hz; lower 'max_sample_rate_hz'")
        if self.codec == "mp3" and (self.bitrate_kbps or 0) > 320:
            raise ValueError("MP3 knows no bit rate above 320 kbit/s; lower 'bitrate_kbps'")
        return self


class CardLayout(Table):
    """How the card looks: where music goes, how files are named, whether there are playlists.

    Layouts are paths with fields in braces; the last component is the file, without its suffix.
    ``playlists`` puts one beside each recording or album, ``clause_playlists`` one for each clause
    of the card's programme into ``root``. ``order`` "directory" is for players that play files in
    the order of a directory's entries: these are kept in playing order. ``entries_a_folder`` is how
    many files and folders a player shows in one folder; what is more goes into numbered folders
    beside it.
    """

    root: str = ""
    work_layout: str = "{composer}/{work}/{recording}/{number} {movement}"
    popular_layout: str = "{artist}/{album}/{number} {title}"
    charset: Charset = "unicode"
    longest_name: Annotated[int, Field(ge=12, le=255)] = 255
    longest_path: Annotated[int, Field(ge=64, le=1024)] = 259
    playlists: bool = False
    clause_playlists: bool = False
    order: Literal["name", "directory"] = "name"
    entries_a_folder: Annotated[int, Field(ge=16, le=65534)] | None = None
    largest_file_bytes: Annotated[int, Field(ge=1 << 20)] | None = None

    @field_validator("work_layout", "popular_layout")
    @classmethod
    def _known_fields(cls, value: str, info: object) -> str:
        name = getattr(info, "field_name", "")
        allowed = WORK_FIELDS if name == "work_layout" else POPULAR_FIELDS
        try:
            fields = [
                field for _, field, _, _ in string.Formatter().parse(value) if field is not None
            ]
        except ValueError as error:
            raise ValueError(f"the braces do not pair ({error})") from error
        for field in fields:
            if field not in allowed:
                raise ValueError(
                    f"'{{{field}}}' is not a field; allowed are {', '.join(sorted(allowed))}"
                )
        parts = value.split("/")
        for field in ("number", "movement", "title", "disc"):
            if any(f"{{{field}}}" in part for part in parts[:-1]):
                raise ValueError(
                    f"'{{{field}}}' differs from track to track; it may stand only behind the last "
                    "slash"
                )
        if not all(part.strip(". ") for part in parts):
            raise ValueError("a component between slashes is empty or consists of dots")
        return value

    @field_validator("root")
    @classmethod
    def _inside_the_card(cls, value: str) -> str:
        parts = value.split("/") if value else []
        if any(part.strip(". ") == "" for part in parts) or "\\" in value:
            raise ValueError('it must be a folder on the card such as "Music", without dots alone')
        if parts and parts[0].upper() == "SYNCD":
            raise ValueError("the folder SYNCD is kept for syncd's own files; choose another name")
        return value


class TagWriting(Table):
    """How tags and pictures are written for the player.

    ``art`` "embedded" puts a picture into each file, "file" one beside the files of each recording
    or album, called ``art_name``; "none" leaves pictures out. Pictures are baseline JPEG, PNG or
    RGB565 (raw; see ``syncd.transcoder.artwork``), of at most ``art_longest_side_px``, or with
    ``art_fit`` "square" of exactly that, centred on black.

    ``id3_text`` is how what is not plain ASCII stands in ID3: "auto" as the version has it,
    "latin1" with other letters replaced by similar ones, "utf16", or "utf8" (2.4 only).
    ``largest_tag_bytes`` is all that tags may take in a file, picture and padding included; what
    gives way first is in ``syncd.transcoder.fitting``.
    """

    id3_version: Literal["2.3", "2.4"] = "2.4"
    id3_text: Literal["auto", "latin1", "utf16", "utf8"] = "auto"
    id3_padding_bytes: Annotated[int, Field(ge=0, le=1 << 20)] = 0
    largest_tag_bytes: Annotated[int, Field(ge=256, le=1 << 24)] | None = None
    charset: Charset = "unicode"
    art: Literal["embedded", "file", "none"] = "embedded"
    art_longest_side_px: Annotated[int, Field(ge=32, le=2000)] = 500
    art_format: Literal["jpeg", "png", "rgb565"] = "jpeg"
    art_fit: Literal["within", "square"] = "within"
    art_byte_order: Literal["little", "big"] = "little"
    art_name: str = "cover"
    rewrite_carried: bool = True

    @field_validator("art_name")
    @classmethod
    def _a_plain_name(cls, value: str) -> str:
        if not re.fullmatch(r"[A-Za-z0-9_-]{1,32}", value):
            raise ValueError(
                "it must be a name without suffix, of letters, digits, hyphens and underscores"
            )
        return value

    @model_validator(mode="after")
    def _that_go_together(self) -> Self:
        if self.id3_text == "utf8" and self.id3_version == "2.3":
            raise ValueError(
                "'id3_text' \"utf8\" does not exist in ID3 2.3; let 'id3_version' be \"2.4\""
            )
        if self.art_format == "rgb565" and self.art == "embedded":
            raise ValueError(
                "'art_format' \"rgb565\" cannot be embedded, as no tag knows it; "
                "let 'art' be \"file\""
            )
        return self


class Levelling(Table):
    """Whether music is brought to a common loudness (ITU-R BS.1770), and how.

    ``mode`` "tags" writes gain tags, "baked" puts the gain into the samples, "off" does neither.
    ``target_lufs`` is what tracks are brought to (-18 is the reference of ReplayGain 2.0; gain
    tags of Opus files refer to -23 whatever it is). A baked gain never lifts the true peak above
    ``true_peak_ceiling_dbtp``.
    """

    mode: Literal["off", "tags", "baked"] = "off"
    target_lufs: Annotated[float, Field(ge=-40, le=-5)] = -18.0
    true_peak_ceiling_dbtp: Annotated[float, Field(ge=-20, le=0)] = -1.0


class CatalogueWanted(Table):
    """Whether the card gets the catalogue that a player of one's own making reads."""

    present: bool = True


class Profile(Table):
    """A whole player profile. ``name`` is for people; the file's stem is what commands take."""

    format: Literal[1] = 1
    name: Annotated[str, Field(min_length=1, max_length=100)]
    description: str = ""
    plays: Annotated[tuple[Plays, ...], Field(min_length=1)]
    encode: Encode
    card: CardLayout = CardLayout()
    tags: TagWriting = TagWriting()
    catalogue: CatalogueWanted = CatalogueWanted()
    loudness: Levelling = Levelling()

    @field_validator("plays", mode="before")
    @classmethod
    def _tuple(cls, value: object) -> object:
        return tuple(value) if isinstance(value, list) else value

    @model_validator(mode="after")
    def _plays_what_it_gets(self) -> Self:
        if not any(plays.codec == self.encode.codec for plays in self.plays):
            raise ValueError(
                f"'encode.codec' is \"{self.encode.codec}\", which no 'plays' entry lists; "
                "the player could not play what is made for it"
            )
        return self

    @model_validator(mode="after")
    def _gains_reach_every_file(self) -> Self:
        if self.loudness.mode != "off" and not self.tags.rewrite_carried:
            raise ValueError(
                f"'loudness.mode' is \"{self.loudness.mode}\", but with 'tags.rewrite_carried' "
                "false no gain tag reaches the files that are carried over; they would sound at "
                "another level than the rest. Let one of the two be as it is by default"
            )
        return self

    def key(self) -> str:
        """A digest of all that the profile says: equal profiles have equal keys."""
        return xxhash.xxh3_128_hexdigest(msgspec.json.encode(self.model_dump(), order="sorted"))

    def plays_codec(self, codec: Codec) -> tuple[Plays, ...]:
        """The entries that say how the player plays *codec*."""
        return tuple(plays for plays in self.plays if plays.codec == codec.value)


def read_profile(path: Path) -> Profile:
    """Read and check the profile in *path*. Raises SetupProblem naming every fault."""
    return read_table(path, Profile, "player profile")


@cache
def sample_folder() -> Path:
    """The folder of the profiles that come with syncd (in a checkout, or in the wheel)."""
    packaged = Path(str(resources.files("syncd"))) / "profiles"
    if packaged.is_dir():
        return packaged
    return Path(__file__).resolve().parent.parent / "sample_profiles"


def sample_profiles() -> dict[str, Path]:
    """Name to file of the profiles that come with syncd, in the order of their names."""
    return {path.stem: path for path in sorted(sample_folder().glob("*.toml"))}


def find_profile(name_or_file: str) -> Path:
    """The file of the profile called *name_or_file*: one of ours by name, else a path.

    Raises SetupProblem when there is no such profile, listing those that there are.
    """
    ours = sample_profiles()
    if name_or_file in ours:
        return ours[name_or_file]
    path = Path(name_or_file).expanduser()
    if path.is_file():
        return path.resolve()
    raise SetupProblem(
        f"There is no player profile '{name_or_file}', by name or as a file. "
        f"Profiles at hand: {', '.join(ours)}."
    )

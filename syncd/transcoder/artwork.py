"""Cover pictures: read from the master, scaled once to what the player shows.

Players decode baseline JPEG and little else, so that is what every picture becomes unless the
profile asks for PNG, or for RGB565. Where scaled pictures are kept is the store's affair, where
they go ``syncd.transcoder.dress``'s.

RGB565 is for small displays that are fed without decoding anything. The file has a head of 8 bytes:
the letters ``565L`` (pixels little-endian) or ``565B`` (big-endian), width and height as 16-bit
little-endian numbers. Rows follow from the top, without gaps, two bytes a pixel: red in the upper 5
bits, green in the next 6, blue in the lower 5, each rounded to the nearest step.
"""

import contextlib
import io
import warnings
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Self

from PIL import Image, ImageChops, ImageOps

from syncd.errors import ItemProblem
from syncd.library.tags import embedded_picture
from syncd.model import Art
from syncd.profile import TagWriting
from syncd.transcoder.store import Store
from syncd.utf8 import printable

_MAX_PIXELS = 100_000_000
_MAX_BYTES = 64 << 20
_QUALITY = 88
_FORMATS = ("JPEG", "PNG", "GIF", "BMP", "WEBP", "TIFF")


@dataclass(frozen=True, slots=True)
class PictureForm:
    """What a picture is made into: "jpeg", "png" or "rgb565", and of what size.

    ``square`` is exactly ``side_px`` by ``side_px``, the picture centred on black; otherwise
    ``side_px`` is the longest side at most.
    """

    side_px: int
    kind: str = "jpeg"
    square: bool = False
    big_endian: bool = False

    @classmethod
    def of(cls, writing: TagWriting) -> Self:
        """The form that a profile asks for."""
        raw = writing.art_format == "rgb565"
        return cls(
            writing.art_longest_side_px,
            writing.art_format,
            writing.art_fit == "square",
            raw and writing.art_byte_order == "big",
        )

    @property
    def name(self) -> str:
        """The end of the name under which the store keeps such a picture."""
        suffix = {"jpeg": "jpg", "rgb565": "565b" if self.big_endian else "565"}
        return f"{self.side_px}{'sq' if self.square else ''}.{suffix.get(self.kind, self.kind)}"

    def with_side(self, side_px: int) -> Self:
        """The same form, smaller."""
        return replace(self, side_px=side_px)


class _Gone(Exception):
    """There is no picture to scale."""


def scale(picture: bytes, form: PictureForm) -> bytes | None:
    """Return *picture* in *form*, never enlarged; None when nothing can be made of it.

    Transparent parts become white, a rotation noted in the picture is carried out, its own
    metadata are left out. Equal input gives equal bytes.
    """
    side = form.side_px
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(picture), formats=_FORMATS) as opened:
                if opened.width * opened.height > _MAX_PIXELS:
                    return None
                opened.draft("RGB", (side, side))
                image = _plain(ImageOps.exif_transpose(opened))
                image.thumbnail((side, side), Image.Resampling.LANCZOS)
                if form.square:
                    image = _centred(image, side)
                return _WRITERS[form.kind](image, form)
    except Exception:  # a damaged picture may raise anything; none of it is fatal
        return None


def useless(art: Art) -> str:
    """What is told of a picture of which nothing can be made."""
    return (
        f"The picture in {_shown(art)} cannot be used: it is cut off or damaged, is no picture, or "
        f"has more than {_MAX_PIXELS:,} pixels. Replace it; until then its music goes without."
    )


def _shown(art: Art) -> str:
    return printable(art.path)


def _centred(image: Image.Image, side: int) -> Image.Image:
    ground = Image.new("RGB", (side, side), "black")
    ground.paste(image, ((side - image.width) // 2, (side - image.height) // 2))
    return ground


def _jpeg(image: Image.Image, form: PictureForm) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=_QUALITY, progressive=False, optimize=False)
    return out.getvalue()


def _png(image: Image.Image, form: PictureForm) -> bytes:
    out = io.BytesIO()
    image.save(out, "PNG", compress_level=9)
    return out.getvalue()


def _rgb565(image: Image.Image, form: PictureForm) -> bytes:
    red, green, blue = image.split()
    upper = ImageChops.add(red.point(_TO_5[0]), green.point(_TO_6[0]))
    lower = ImageChops.add(green.point(_TO_6[1]), blue.point(_TO_5[1]))
    pixels = bytearray(2 * image.width * image.height)
    pixels[0::2] = (upper if form.big_endian else lower).tobytes()
    pixels[1::2] = (lower if form.big_endian else upper).tobytes()
    head = b"565B" if form.big_endian else b"565L"
    size = image.width.to_bytes(2, "little") + image.height.to_bytes(2, "little")
    return head + size + bytes(pixels)


_FIVE = [(value * 31 + 127) // 255 for value in range(256)]
_SIX = [(value * 63 + 127) // 255 for value in range(256)]
_TO_5 = ([step << 3 for step in _FIVE], _FIVE)
"""What a level becomes in a pixel's upper byte (red), and in its lower one (blue)."""
_TO_6 = ([step >> 3 for step in _SIX], [(step & 7) << 5 for step in _SIX])

_WRITERS: dict[str, Callable[[Image.Image, PictureForm], bytes]] = {
    "jpeg": _jpeg,
    "png": _png,
    "rgb565": _rgb565,
}


def _plain(image: Image.Image) -> Image.Image:
    """*image* in RGB, on white where it is transparent."""
    if image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info:
        image = image.convert("RGBA")
        ground = Image.new("RGB", image.size, "white")
        ground.paste(image, mask=image.getchannel("A"))
        return ground
    return image.convert("RGB")


def read_art(art: Art) -> bytes | None:
    """The picture *art* as the master has it, or None when it is not there any more."""
    path = Path(art.path)
    if art.embedded:
        with contextlib.suppress(ItemProblem):
            return embedded_picture(art.path)
        return None
    try:
        with path.open("rb") as file:
            data = file.read(_MAX_BYTES + 1)
    except OSError:
        return None
    return data if len(data) <= _MAX_BYTES else None


def scaled_art(
    art: Art, form: PictureForm, store: Store, notices: list[str] | None = None
) -> bytes | None:
    """The picture *art* in the player's form, from *store* or made now.

    None when there is no usable picture; that is told in *notices* when it is first found.
    """

    def make() -> bytes | None:
        picture = read_art(art)
        if picture is None:
            raise _Gone
        made = scale(picture, form)
        if made is None and notices is not None:
            notices.append(useless(art))
        return made

    try:
        return store.art(art.hash, form.name, make)
    except _Gone:  # not remembered: its disk may come back
        if notices is not None:
            notices.append(
                f"The picture in {_shown(art)} is no longer there; its music goes without. "
                "Scan the library again."
            )
        return None

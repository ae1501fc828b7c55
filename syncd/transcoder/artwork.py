"""Cover pictures: read from the master, scaled once to what the player shows.

Players decode baseline JPEG and little else, so that is what every picture becomes. Where scaled
pictures are kept is the store's affair, where they go ``syncd.transcoder.dress``'s.
"""

import contextlib
import io
import warnings
from dataclasses import dataclass
from pathlib import Path

from PIL import Image, ImageOps

from syncd.errors import ItemProblem
from syncd.library.tags import embedded_picture
from syncd.model import Art
from syncd.transcoder.store import Store

_MAX_PIXELS = 100_000_000
_MAX_BYTES = 64 << 20
_QUALITY = 88
_FORMATS = ("JPEG", "PNG", "GIF", "BMP", "WEBP", "TIFF")


@dataclass(frozen=True, slots=True)
class Scaled:
    """A scaled picture as baseline JPEG; or None, and a sentence that says why there is none."""

    jpeg: bytes | None
    notice: str = ""


def scale(picture: bytes, longest_side_px: int, name: str = "The picture") -> Scaled:
    """Return *picture* as baseline JPEG of at most *longest_side_px*; never enlarged.

    Transparent parts become white, a rotation noted in the picture is carried out, its own
    metadata are left out. Equal input gives equal bytes.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(picture), formats=_FORMATS) as opened:
                if opened.width * opened.height > _MAX_PIXELS:
                    return Scaled(None, f"{name} is larger than any cover; it is left out.")
                opened.draft("RGB", (longest_side_px, longest_side_px))
                image = _plain(ImageOps.exif_transpose(opened))
                image.thumbnail((longest_side_px, longest_side_px), Image.Resampling.LANCZOS)
                out = io.BytesIO()
                image.save(out, "JPEG", quality=_QUALITY, progressive=False, optimize=False)
                return Scaled(out.getvalue())
    except Exception as error:  # a damaged picture may raise anything; none of it is fatal
        return Scaled(None, f"{name} cannot be read as a picture ({error}); it is left out.")


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
    art: Art, longest_side_px: int, store: Store, notices: list[str] | None = None
) -> bytes | None:
    """The picture *art* at the player's size, from *store* or made now.

    None when there is no usable picture; the reason is added to *notices* when it is first found.
    """

    def make() -> bytes | None:
        shown = str(art.path).encode("utf-8", "replace").decode("utf-8")
        picture = read_art(art)
        if picture is None:
            made = Scaled(None, f"The picture in {shown} is no longer there; it is left out.")
        else:
            made = scale(picture, longest_side_px, f"The picture in {shown}")
        if made.notice and notices is not None:
            notices.append(made.notice)
        return made.jpeg

    return store.art(art.hash, longest_side_px, make)

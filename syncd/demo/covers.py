"""Cover pictures for the invented library: a few plain shapes in two colours."""

from io import BytesIO

import xxhash
from PIL import Image, ImageDraw, ImageFont

SIDE_PX = 600


def cover(title: str, colours: tuple[str, str]) -> bytes:
    """A JPEG picture for an album called *title*, the same for equal arguments."""
    ground, figure = colours
    image = Image.new("RGB", (SIDE_PX, SIDE_PX), ground)
    draw = ImageDraw.Draw(image)
    chance = xxhash.xxh3_64_intdigest(title.encode())
    for ring in range(6):
        middle_x = SIDE_PX * (0.2 + 0.12 * ((chance >> (4 * ring)) % 6))
        middle_y = SIDE_PX * (0.2 + 0.09 * ((chance >> (4 * ring + 2)) % 6))
        radius = SIDE_PX * (0.06 + 0.05 * ring)
        box = (middle_x - radius, middle_y - radius, middle_x + radius, middle_y + radius)
        draw.ellipse(box, outline=figure, width=4 + ring)
    draw.rectangle((0, SIDE_PX * 0.82, SIDE_PX, SIDE_PX), fill=figure)
    draw.text((24, SIDE_PX * 0.87), title, fill=ground, font=_font())
    target = BytesIO()
    image.save(target, "JPEG", quality=85)
    return target.getvalue()


def _font() -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    return ImageFont.load_default(size=30)

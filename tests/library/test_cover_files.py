"""What the scan says of cover pictures that are cut off."""

import io
from pathlib import Path

import pytest
from PIL import Image

from syncd.library.coverfile import hash_picture, is_cut
from syncd.model import LibraryPath


def picture(kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    Image.effect_noise((64, 64), 60).convert("RGB").save(out, kind, **options)
    return out.getvalue()


def with_preview(data: bytes) -> bytes:
    """*data* with a whole small picture in an APP1 segment (ITU-T T.81, B.2.4.6)."""
    preview = b"Exif\0\0" + picture("JPEG")
    return data[:2] + b"\xff\xe1" + (len(preview) + 2).to_bytes(2, "big") + preview + data[2:]


WHOLE = {
    "jpeg": picture("JPEG"),
    "progressive": picture("JPEG", progressive=True),
    "with a preview": with_preview(picture("JPEG")),
    "with bytes behind it": picture("JPEG") + b"\0" * 300,
    "png": picture("PNG"),
}


@pytest.mark.parametrize("name", WHOLE)
def test_a_whole_picture_is_not_called_cut(name: str) -> None:
    assert not is_cut(WHOLE[name])


@pytest.mark.parametrize("name", [name for name in WHOLE if "behind" not in name])
@pytest.mark.parametrize("kept", [0.5, 0.9, 0.999])
def test_a_picture_without_its_end_is_cut(name: str, kept: float) -> None:
    data = WHOLE[name]
    assert is_cut(data[: int(len(data) * kept)])


def test_a_cut_cover_is_told_with_its_remedy(tmp_path: Path) -> None:
    path = tmp_path / "cover.jpg"
    notices: list[str] = []
    path.write_bytes(WHOLE["jpeg"])
    hash_picture(LibraryPath(str(path)), notices)
    assert notices == []
    path.write_bytes(WHOLE["jpeg"][:-9])
    hash_picture(LibraryPath(str(path)), notices)
    assert notices == [
        f"The picture {path} is cut off: its end is missing, and players may get none. Copy it "
        "again from its source."
    ]

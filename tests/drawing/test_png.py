"""PNG files read back by themselves and by an independent library, whole or not at all."""

import struct
import zlib

import numpy as np
import pytest
from matplotlib import image

from trainer.drawing import png

PIXELS = np.random.default_rng(5).integers(0, 256, (37, 53, 3), dtype=np.uint8)


def with_pixels(packed):
    """Return a PNG file with something else in the place of its pixels."""
    body = png.encoded(PIXELS)
    at = body.index(b"IDAT") - 4
    end = at + 12 + struct.unpack(">I", body[at : at + 4])[0]
    return body[:at] + struct.pack(">I", len(packed)) + b"IDAT" + packed + bytes(4) + body[end:]


def test_what_is_written_is_read_back(tmp_path):
    png.write(tmp_path / "a.png", PIXELS)
    np.testing.assert_array_equal(png.read(tmp_path / "a.png"), PIXELS)
    png.write(tmp_path / "grey.png", PIXELS[:, :, 0])
    np.testing.assert_array_equal(png.read(tmp_path / "grey.png"), PIXELS[:, :, 0])


def test_another_library_reads_the_same_pixels(tmp_path):
    png.write(tmp_path / "a.png", PIXELS, px_per_mm=20.0, texts={"Title": "µ ± °"})
    np.testing.assert_array_equal(np.rint(image.imread(tmp_path / "a.png") * 255).astype(np.uint8), PIXELS)


def test_true_size_and_texts_are_in_the_file(tmp_path):
    """ISO/IEC 15948, 11.3.5.3: pixels a metre; 20 px/mm are 20,000."""
    png.write(tmp_path / "a.png", PIXELS, px_per_mm=20.0, texts={"Title": "µ ± °"})
    assert (20_000).to_bytes(4, "big") * 2 + b"\x01" in (tmp_path / "a.png").read_bytes()
    assert png.texts_of(tmp_path / "a.png") == {"Title": "µ ± °"}


def test_a_place_that_cannot_be_written_is_refused_and_nothing_is_left(tmp_path):
    with pytest.raises(png.UnwritablePicture, match="cannot be written: no such file or directory"):
        png.write(tmp_path / "nowhere" / "a.png", PIXELS)
    (tmp_path / "folder").mkdir()
    with pytest.raises(png.UnwritablePicture):
        png.write(tmp_path / "folder", PIXELS)
    assert [path.name for path in tmp_path.iterdir()] == ["folder"]


@pytest.mark.parametrize(
    ("body", "why"),
    [
        (b"GIF89a", "is not a PNG file"),
        (b"", "is not a PNG file"),
        (png.encoded(PIXELS)[:60], "breaks off early"),
        (with_pixels(b"no zlib stream"), "pixels are damaged"),
        (with_pixels(zlib.compress(b"few")), "pixels are damaged"),
    ],
)
def test_what_is_not_a_picture_is_refused(tmp_path, body, why):
    (tmp_path / "a.png").write_bytes(body)
    with pytest.raises(png.UnreadablePicture, match=why):
        png.read(tmp_path / "a.png")

"""Finished picture files: PNG and JPEG that say what they show, in which colours, and that they are renderings.

The words go into the metadata always (PNG text, EXIF, XMP), and as a line at the foot of the picture where it is
wanted. Fields are those of the PNG specification, EXIF 2.3 and XMP's Dublin Core (from memory).
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import reportlab
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageCms, ImageDraw, ImageFont, PngImagePlugin

from ..errors import UnusableInput
from ..woods.colour import linear_from_srgb, luminance

RENDERING = "A rendering, not a photograph"
SOFTWARE = "Grainstack"
COMPRESSION = 4
"""Compression of PNG: a twentieth larger than at 6, and written almost three times as fast at 4K."""
JPEG_QUALITY = 93
PERCEPTUAL = b"\x00"
"""The rendering intent that the sRGB chunk names."""
LETTER_SHARE, LEAST_LETTER = 0.0145, 9
"""Height of the caption's letters as a share of the picture's shorter side, and at least so many pixels."""
LEAST_SIDE = 400
"""Pictures whose shorter side has fewer pixels have no room for a caption that can be read."""
CONTRAST = 4.5
"""Between the caption and what is behind it: the ratio that WCAG 2 asks of small text (from memory)."""


@dataclass(frozen=True)
class About:
    """What a picture says of itself."""

    title: str
    description: str
    """In sentences; it need not say that it is a rendering."""

    @property
    def words(self) -> str:
        """The description with the note that it is a rendering."""
        return f"{self.description} {RENDERING}." if self.description else f"{RENDERING}."


def finish_png(path: Path, about: About, caption: str = "") -> None:
    """Write a PNG again with its metadata, and a caption if there is one.

    Raises:
        UnusableInput: it cannot be read or written.
    """
    write_png(path, _captioned(open_picture(path), caption), about)


def write_png(path: Path, picture: Image.Image, about: About) -> None:
    """Write a picture as a PNG with its metadata.

    Raises:
        UnusableInput: it cannot be written.
    """
    info = PngImagePlugin.PngInfo()
    info.add(b"sRGB", PERCEPTUAL)
    info.add_itxt("Title", about.title)
    info.add_itxt("Description", about.words)
    info.add_itxt("Source", RENDERING)
    info.add_itxt("Software", SOFTWARE)
    info.add_itxt("XML:com.adobe.xmp", _xmp(about))
    _save(path, lambda: picture.save(path, "PNG", pnginfo=info, compress_level=COMPRESSION))


def write_jpeg(png: Path, path: Path, about: About) -> Path:
    """A JPEG of a finished PNG, with the same metadata; returns its path.

    Raises:
        UnusableInput: the one cannot be read or the other not written.
    """
    picture = open_picture(png)
    exif = Image.Exif()
    exif[ExifTags.Base.ImageDescription] = _ascii(f"{about.title}. {about.words}")
    exif[ExifTags.Base.Software] = SOFTWARE
    details = exif.get_ifd(ExifTags.IFD.Exif)
    details[ExifTags.Base.ColorSpace] = 1  # sRGB
    details[ExifTags.Base.ExifImageWidth], details[ExifTags.Base.ExifImageHeight] = picture.size
    settings = {"quality": JPEG_QUALITY, "subsampling": 0, "optimize": True, "icc_profile": _srgb_profile()}
    words = _xmp(about).encode()
    _save(path, lambda: picture.save(path, "JPEG", exif=exif, xmp=words, comment=RENDERING.encode(), **settings))
    return path


def open_picture(path: Path) -> Image.Image:
    """A picture file in eight-bit RGB.

    Raises:
        UnusableInput: it cannot be read.
    """
    try:
        with Image.open(path) as picture:
            return picture.convert("RGB")
    except OSError as error:
        problem = f"the picture cannot be read ({error})"
        raise UnusableInput(str(path), "", problem, "Render it again") from None


def _save(path: Path, write: Callable[[], None]) -> None:
    try:
        write()
    except OSError as error:
        problem = f"the picture cannot be written ({error.strerror or error})"
        raise UnusableInput(str(path), "", problem, "Choose another folder") from None


@lru_cache(maxsize=1)
def _srgb_profile() -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def _ascii(text: str) -> str:
    """Write a text as EXIF's description is: accents dropped, other letters as question marks; XMP has them all."""
    plain = text.translate({0xD7: "x", 0x2013: "-", 0x2019: "'"})
    folded = "".join(c for c in unicodedata.normalize("NFKD", plain) if not unicodedata.combining(c))
    return folded.encode("ascii", "replace").decode("ascii")


def _xmp(about: About) -> str:
    def in_all_languages(name: str, text: str) -> str:
        return f'<dc:{name}><rdf:Alt><rdf:li xml:lang="x-default">{escape(text)}</rdf:li></rdf:Alt></dc:{name}>'

    return (
        '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/">'
        '<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="" '
        'xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/">'
        f"{in_all_languages('title', about.title)}{in_all_languages('description', about.words)}"
        f"<dc:source>{RENDERING}</dc:source><xmp:CreatorTool>{SOFTWARE}</xmp:CreatorTool>"
        '</rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end="w"?>'
    )


def encodable(text: str) -> str:
    """The text in the letters that the fonts here have; others become question marks."""
    return text.encode("cp1252", "replace").decode("cp1252")


@lru_cache(maxsize=8)
def caption_font(height: int) -> ImageFont.FreeTypeFont:
    """Bitstream Vera, which comes with reportlab, at so many pixels."""
    return ImageFont.truetype(Path(reportlab.__file__).parent / "fonts" / "Vera.ttf", height)


def _captioned(picture: Image.Image, caption: str) -> Image.Image:
    """Write a line of words into its lower right corner, in a tone of what is behind it."""
    if not caption or min(picture.size) < LEAST_SIDE:
        return picture
    words = encodable(caption)
    height = max(LEAST_LETTER, round(LETTER_SHARE * min(picture.size)))
    while height > 4 and caption_font(height).getlength(words) > picture.width - 3 * height:
        height -= 1  # a long title on a small picture
    font = caption_font(height)
    _, _, right, bottom = font.getbbox(words)
    x, y = picture.width - right - 1.2 * height, picture.height - bottom - 1.0 * height
    behind = picture.crop((int(x), int(y), int(x + right), int(y + bottom)))
    ImageDraw.Draw(picture).text((x, y), words, font=font, fill=_readable(np.asarray(behind).reshape(-1, 3)))
    return picture


def _readable(behind: NDArray[np.uint8]) -> tuple[int, int, int]:
    """The mildest tone of the pixels (n, 3) behind the words that still has the contrast; else black or white."""
    colour = behind.mean(axis=0)
    bright = float(luminance(linear_from_srgb(behind / 255)).mean())
    towards = np.zeros(3) if bright > 0.18 else np.full(3, 255.0)
    for share in np.linspace(0.3, 1, 29):
        tone = colour + (towards - colour) * share
        own = float(luminance(linear_from_srgb(tone / 255)))
        if (max(own, bright) + 0.05) / (min(own, bright) + 0.05) >= CONTRAST:
            break
    red, green, blue = np.rint(tone).astype(int).tolist()
    return red, green, blue

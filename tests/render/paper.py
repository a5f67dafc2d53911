"""How the tests look at a printed sheet: as pixels, label by label, through two decoders."""

from __future__ import annotations

import random
from dataclasses import dataclass

import cv2
import numpy as np
import pypdfium2
import zxingcpp

from generator.fit.codes import mint_codes, with_entries
from generator.fit.fit import fit_unit, wanted_codes
from generator.fit.guide import Guide
from generator.read.labels import LabelStock
from generator.read.sources import Sources
from generator.render.papers import sheets_of
from generator.render.stickers import Sticker, plan_stickers, render_stickers

DPI = 300
PIXELS_PER_MM = DPI / 25.4


@dataclass(frozen=True, slots=True)
class Ready:
    """What stickers are printed from."""

    sources: Sources
    guides: dict[str, Guide]


def ready_to_print(sources: Sources) -> Ready:
    """Return every demo unit's guide with a code for each place, the same in every run."""
    register = sources.register
    dealer = sources.stock.dealer
    guides = {}
    for name, unit in sources.stock.units.items():
        bare = fit_unit(sources.library, unit, dealer, register)
        new = mint_codes(
            register, {name: wanted_codes(bare)}, "2026-01-01", random.Random(name).randrange
        )
        register = with_entries(register, new)
        guides[name] = fit_unit(sources.library, unit, dealer, register)
    return Ready(sources, guides)


def printed(
    ready: Ready, unit: str, stock: LabelStock, **options: object
) -> tuple[tuple[Sticker, ...], bytes]:
    """Return a unit's stickers and their sheets on a label stock."""
    sources = ready.sources
    stickers = plan_stickers(ready.guides[unit], sources.library)
    return stickers, render_stickers(stickers, stock, sheets_of(sources), **options)


@dataclass(frozen=True, slots=True)
class Reading:
    """What zxing-cpp found in one picture."""

    text: str
    level: str
    box: tuple[int, int, int, int]
    """Left, top, right, bottom of the symbol, roughly, in pixels."""


def sheets(pdf: bytes, dpi: int = DPI, *, smooth: bool = True) -> list[np.ndarray]:
    """Return the pages of a PDF as grey pictures, at a printer's resolution."""
    document = pypdfium2.PdfDocument(pdf)
    options = {} if smooth else {"no_smoothpath": True, "no_smoothtext": True}
    pages = [
        page.render(scale=dpi / 72, grayscale=True, **options).to_numpy().squeeze()
        for page in document
    ]
    document.close()
    return pages


def label_crops(pages: list[np.ndarray], stock: LabelStock) -> list[np.ndarray]:
    """Return every label position of the sheets as a picture of its own, in reading order."""
    crops = []
    for page in pages:
        for row in range(stock.rows):
            for column in range(stock.columns):
                left = stock.left_mm + column * (stock.label_w_mm + stock.gap_x_mm)
                top = stock.top_mm + row * (stock.label_h_mm + stock.gap_y_mm)
                x, y = round(left * PIXELS_PER_MM), round(top * PIXELS_PER_MM)
                right = round((left + stock.label_w_mm) * PIXELS_PER_MM)
                bottom = round((top + stock.label_h_mm) * PIXELS_PER_MM)
                crops.append(page[y:bottom, x:right])
    return crops


def read_with_zxing(picture: np.ndarray) -> Reading | None:
    """Return the one QR symbol that zxing-cpp finds, or None."""
    found = zxingcpp.read_barcodes(
        np.ascontiguousarray(picture), formats=zxingcpp.BarcodeFormat.QRCode
    )
    if len(found) != 1:
        return None
    corners = found[0].position
    points = (corners.top_left, corners.top_right, corners.bottom_right, corners.bottom_left)
    xs, ys = [p.x for p in points], [p.y for p in points]
    return Reading(found[0].text, found[0].ec_level, (min(xs), min(ys), max(xs), max(ys)))


def read_with_opencv(picture: np.ndarray) -> str:
    """Return the text of the symbol that either of OpenCV's two detectors finds, or nothing.

    The older detector misses about one upright symbol in a hundred, whatever the size, for a
    pattern in its data that it takes for a finder; another mask of the same text it reads.
    """
    for detector in (cv2.QRCodeDetectorAruco, cv2.QRCodeDetector):
        try:
            text = detector().detectAndDecode(np.ascontiguousarray(picture))[0]
        except cv2.error:
            continue
        if text:
            return text
    return ""


def ink_box(picture: np.ndarray, near: tuple[int, int, int, int], margin: int) -> np.ndarray:
    """Return the dark part of a picture around a box: the symbol alone, cut to its ink."""
    left, top, right, bottom = near
    part = picture[max(top - margin, 0) : bottom + margin, max(left - margin, 0) : right + margin]
    dark = part < 128
    rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
    return dark[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


@dataclass(frozen=True, slots=True)
class Damage:
    """What happens between the printer and the camera."""

    title: str
    tilt: float = 0.0
    """Degrees about one axis, upright or level."""
    blur: float = 0.0
    """Sigma of the blur, in modules."""
    spoiled: float = 0.0
    """Share of the symbol's area that is under blots, off the finder patterns."""
    blot: float = 5.5
    """How wide a blot is, in modules, on average."""
    contrast: float = 1.0
    """Share of the reflectance gap that is left."""
    light: float = 0.0
    """How dim it is: electrons that white paper frees in a pixel of the camera; 0 for daylight. The
    fewer, the coarser the noise of the light itself. The camera makes the picture bright again."""
    shade: float = 0.0
    """Share of the light that is lost across the label, from one side to the other."""
    curve: float = 0.0
    """Width of the symbol as a share of the radius of the upright cylinder that it is glued on."""
    distance_mm: float = 0.0
    """From how far it is taken, by a telephone with 1507 pixels for each millimetre of a module at
    one millimetre's distance; 0 for one pixel a printed dot."""


def photograph(
    label: np.ndarray, symbol: tuple[int, int, int, int], modules: int, damage: Damage, seed: int
) -> np.ndarray:
    """Return a label as a poor photograph of it, always the same for one seed.

    `symbol` is the symbol's box without quiet zone, `modules` its width in modules.
    """
    chance = np.random.default_rng(seed)
    picture = label.astype(np.float32)
    left, top, right, _ = symbol
    pitch = (right - left) / modules
    if damage.spoiled:
        _spoil(picture, (left, top), modules, pitch, damage, chance)
    if damage.curve:
        picture = _curved(picture, (left + right) / 2, (right - left) / damage.curve)
    if damage.tilt:
        picture = _tilted(picture, damage.tilt * chance.choice((-1, 1)), chance.integers(2))
    if damage.blur:
        picture = cv2.GaussianBlur(picture, (0, 0), damage.blur * pitch)
    if damage.distance_mm:
        # Printed dots and camera pixels are told apart by the module's size in each.
        scale = _CAMERA * (pitch / PIXELS_PER_MM) / damage.distance_mm / pitch
        picture = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        picture = cv2.GaussianBlur(picture, (0, 0), _LENS_BLUR_PX)
    picture = 255 * (1 - damage.contrast) / 2 + picture * damage.contrast
    if damage.shade:
        picture *= np.linspace(1, 1 - damage.shade, picture.shape[1], dtype=np.float32)
    if damage.light:
        electrons = chance.poisson(np.clip(picture, 0, 255) / 255 * damage.light)
        electrons = electrons + chance.normal(0, _READ_NOISE, picture.shape)
        picture = electrons / damage.light * 255
    picture = picture + chance.normal(0, 4, picture.shape)
    seen = np.clip(picture, 0, 255).astype(np.uint8)
    if damage.distance_mm:
        seen = cv2.imdecode(
            cv2.imencode(".jpg", seen, [cv2.IMWRITE_JPEG_QUALITY, 80])[1], cv2.IMREAD_GRAYSCALE
        )
    return seen


_CAMERA = 1507
"""Pixels a module, for each millimetre of the module, at a millimetre's distance (the telephone
that the sizes of stickers were chosen for)."""
_LENS_BLUR_PX = 0.6
_READ_NOISE = 2.0
"""Electrons, of a telephone's sensor; from memory."""


def _spoil(
    picture: np.ndarray,
    corner: tuple[int, int],
    modules: int,
    pitch: float,
    damage: Damage,
    chance: np.random.Generator,
) -> None:
    """Put round blots on the symbol until a share of its area is gone."""
    ys, xs = np.mgrid[0 : picture.shape[0], 0 : picture.shape[1]]
    xs, ys = (xs - corner[0]) / pitch, (ys - corner[1]) / pitch
    far = modules - 8
    finders = ((xs < 8) & (ys < 8)) | ((xs > far) & (ys < 8)) | ((xs < 8) & (ys > far))
    free = ~finders & (xs > 0) & (ys > 0) & (xs < modules) & (ys < modules)
    gone = np.zeros(picture.shape, bool)
    while gone.sum() < damage.spoiled * (modules * pitch) ** 2:
        x, y = chance.uniform(0, modules, 2)
        radius = damage.blot / 2 * chance.uniform(0.75, 1.25)
        blot = free & ((xs - x) ** 2 + (ys - y) ** 2 < radius**2)
        picture[blot] = chance.choice((40, 215))
        gone |= blot


def _curved(picture: np.ndarray, middle: float, radius: float) -> np.ndarray:
    """Return a label that is glued round an upright cylinder, seen from straight before it.

    `middle` is the pixel column nearest to the eye. What lies behind the edge is not seen.
    """
    height, width = picture.shape
    seen = (np.arange(width) - middle) / radius
    within = np.abs(seen) < 1
    columns = np.where(within, np.arcsin(np.clip(seen, -1, 1)) * radius + middle, -1)
    across = np.tile(columns.astype(np.float32), (height, 1))
    down = np.tile(np.arange(height, dtype=np.float32)[:, None], (1, width))
    return cv2.remap(picture, across, down, cv2.INTER_LINEAR, borderValue=90.0)


def _tilted(picture: np.ndarray, degrees: float, about: int) -> np.ndarray:
    """Return a picture turned about one of its axes, seen from three times its width away."""
    height, width = picture.shape
    across, down = np.roll((np.radians(degrees), 0.0), about)
    turn = (
        cv2.Rodrigues(np.array([down, 0.0, 0.0]))[0]
        @ cv2.Rodrigues(np.array([0.0, across, 0.0]))[0]
    )
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float64)
    middle = np.array([width / 2, height / 2])
    flat = np.column_stack([corners - middle, np.zeros(4)]) @ turn.T
    distance = 3 * width
    seen = flat[:, :2] * (distance / (distance + flat[:, 2:])) + middle
    matrix = cv2.getPerspectiveTransform(corners.astype(np.float32), seen.astype(np.float32))
    return cv2.warpPerspective(picture, matrix, (width, height), borderValue=255.0)

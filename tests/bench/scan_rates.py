"""Print how many printed stickers are still read after tilt, blur, dirt, dim light and curving.

Stickers of every unit, 40 on each label stock, printed at 300 dpi, "photographed" by simulation
(no real phone, no real ink), decoded by zxing-cpp and by OpenCV. A rate of 40 is good to some 8 %.
Tilt is about one axis; blur is Gaussian, its sigma in modules; spoiled means round blots, about 5.5
modules across unless said, in dark or light grey, off the finder patterns; a spoiled finder pattern
is the end of any symbol. Dim light is the noise of few electrons a pixel; curved is glued round an
upright cylinder. For comparison, measured before by another simulation at 30 mm: tilt 35/45/55
degrees 100/100/95 %; 250/400/600 mm away 100/100/63 %; 5/10/15 % spoiled off the finder patterns
99/96/63 %; reflectance gap 0.35/0.25/0.15 97/76/26 % (the rates are of zxing-cpp).

    python tests/bench/scan_rates.py [WORKSPACE]
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from render.paper import (
    Damage,
    label_crops,
    photograph,
    printed,
    read_with_opencv,
    read_with_zxing,
    ready_to_print,
    sheets,
)

from bench.stock import workspace_named
from generator.read.sources import read_sources
from generator.render.qr import make_symbol

DAMAGES = (
    Damage("as printed"),
    Damage("tilt 10, blur 0.2 module", tilt=10, blur=0.2),
    Damage("tilt 25, blur 0.4", tilt=25, blur=0.4),
    Damage("tilt 45, blur 0.4", tilt=45, blur=0.4),
    Damage("tilt 55, blur 0.4", tilt=55, blur=0.4),
    Damage("blur 0.6", blur=0.6),
    Damage("5 % spoiled", spoiled=0.05),
    Damage("10 % spoiled", spoiled=0.10),
    Damage("5 to 10 % in one blot", spoiled=0.05, blot=9),
    Damage("10 % spoiled, tilt 25, blur 0.4", spoiled=0.10, tilt=25, blur=0.4),
    Damage("15 % spoiled", spoiled=0.15),
    Damage("contrast 0.25, blur 0.4", contrast=0.25, blur=0.4),
    Damage("dusk: 60 electrons, shade 0.4", light=60, shade=0.4, blur=0.2),
    Damage("dim: 20 electrons, shade 0.6", light=20, shade=0.6, blur=0.2),
    Damage("dark: 8 electrons, shade 0.6", light=8, shade=0.6, blur=0.2),
    Damage("curved, width 0.4 of radius", curve=0.4, blur=0.2),
    Damage("curved, width 0.8 of radius", curve=0.8, blur=0.2),
    Damage("curved, width 1.2 of radius", curve=1.2, blur=0.2),
    Damage("photo from 150 mm, tilt 15", tilt=15, shade=0.3, distance_mm=150),
    Damage("photo from 250 mm, tilt 15", tilt=15, shade=0.3, distance_mm=250),
    Damage("photo from 400 mm, tilt 15", tilt=15, shade=0.3, distance_mm=400),
    Damage("photo from 600 mm, tilt 15", tilt=15, shade=0.3, distance_mm=600),
    Damage(
        "400 mm, dim, curved 0.4, tilt 15", tilt=15, shade=0.4, light=40, curve=0.4, distance_mm=400
    ),
)


MOST = 40
"""Stickers of a label stock; more would take long and tell little more."""


def main() -> None:
    """Print one row for each damage, one column for each label stock."""
    ready = ready_to_print(read_sources(workspace_named()))
    stocks = list(ready.sources.library.labels.values())
    labels: dict[str, list[tuple[str, object, tuple[int, int, int, int], int]]] = {}
    for stock in stocks:
        all_labels = []
        for unit in ready.guides:
            stickers, pdf = printed(ready, unit, stock)
            for sticker, crop in zip(stickers, label_crops(sheets(pdf), stock), strict=False):
                reading = read_with_zxing(crop)
                assert reading is not None
                modules = len(make_symbol(sticker.address).rows)
                all_labels.append((sticker.address, crop, reading.box, modules))
        labels[stock.name] = all_labels[:: max(1, len(all_labels) // MOST)][:MOST]
    widths = {}
    for name, crops in labels.items():
        _, _, box, modules = crops[0]
        widths[name] = (box[2] - box[0]) / modules * 25.4 / 300
    print("read of 100, zxing-cpp / OpenCV; in brackets: millimetres a module")
    print(f"{'':32}" + "".join(f"{name} ({widths[name]:.2f})".rjust(22) for name in labels))
    for damage in DAMAGES:
        cells = []
        for crops in labels.values():
            first = second = 0
            for seed, (address, crop, box, modules) in enumerate(crops):
                picture = photograph(crop, box, modules, damage, seed)
                reading = read_with_zxing(picture)
                first += reading is not None and reading.text == address
                second += read_with_opencv(picture) == address
            cells.append(f"{100 * first / len(crops):.0f} / {100 * second / len(crops):.0f}")
        print(f"{damage.title:32}" + "".join(cell.rjust(22) for cell in cells), flush=True)


if __name__ == "__main__":
    main()

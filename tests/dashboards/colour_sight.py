"""How a picture looks to eyes that lack one of the three colour receptors.

    python -m tests.dashboards.colour_sight PICTURE.png...

writes PICTURE-protan.png, -deutan.png and -tritan.png beside each picture, for looking at.

source: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation of Color Vision
Deficiency", IEEE Transactions on Visualization and Computer Graphics 15 (6), 2009, 1291-1298: the matrices for severity
1.0, for linear RGB; values from memory, their rows sum to 1 as the paper's do.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

SIGHTS = {
    "protan": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deutan": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritan": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}


def linear(srgb: np.ndarray) -> np.ndarray:
    """Linear light of sRGB values 0 to 1 (IEC 61966-2-1)."""
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def encoded(light: np.ndarray) -> np.ndarray:
    """sRGB values 0 to 1 of linear light."""
    light = np.clip(light, 0.0, 1.0)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)


def seen(srgb: np.ndarray, sight: str) -> np.ndarray:
    """sRGB values 0 to 1, last axis red, green, blue, as that sight has them."""
    return encoded(linear(srgb) @ SIGHTS[sight].T)


def lab(srgb: np.ndarray) -> np.ndarray:
    """CIE L*a*b* (D65) of sRGB values 0 to 1."""
    to_xyz = np.array(
        [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
    )
    x = linear(srgb) @ to_xyz.T / np.array([0.95047, 1.0, 1.08883])
    f = np.where(x > (6 / 29) ** 3, np.cbrt(x), x / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1)


def contrast(a: np.ndarray, b: np.ndarray) -> float:
    """Contrast ratio of two sRGB colours, 1 to 21 (WCAG 2.2)."""
    bright = [float(linear(colour) @ np.array([0.2126, 0.7152, 0.0722])) + 0.05 for colour in (a, b)]
    return max(bright) / min(bright)


def main() -> None:
    """Writes the pictures."""
    from PIL import Image

    for name in sys.argv[1:]:
        path = Path(name)
        pixels = np.asarray(Image.open(path).convert("RGB"), dtype=np.float64) / 255
        for sight in SIGHTS:
            shown = (seen(pixels, sight) * 255).round().astype(np.uint8)
            Image.fromarray(shown).save(path.with_name(f"{path.stem}-{sight}.png"))


if __name__ == "__main__":
    main()

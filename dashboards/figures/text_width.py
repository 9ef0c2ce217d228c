"""How much room words take in a drawing, so that none is cut off by its edge or runs into the next."""

from __future__ import annotations

from dashboards.names import cut

_PRINTED = (
    32,
    40,
    46,
    84,
    64,
    95,
    78,
    27,
    39,
    39,
    50,
    84,
    32,
    36,
    32,
    34,
    64,
    64,
    64,
    64,
    64,
    64,
    64,
    64,
    64,
    64,
    34,
    34,
    84,
    84,
    84,
    53,
    100,
    68,
    69,
    70,
    77,
    63,
    58,
    77,
    75,
    29,
    29,
    66,
    56,
    86,
    75,
    79,
    60,
    79,
    69,
    63,
    61,
    73,
    68,
    99,
    69,
    61,
    69,
    39,
    34,
    39,
    84,
    50,
    50,
    61,
    63,
    55,
    63,
    62,
    35,
    63,
    63,
    28,
    28,
    58,
    28,
    97,
    63,
    61,
    63,
    63,
    41,
    52,
    39,
    63,
    59,
    82,
    59,
    59,
    52,
    64,
    34,
    64,
    84,
)
"""Of each letter from the space to the tilde in hundredths of the text's height, in the widest of the faces in
`assets/page.css`, DejaVu Sans, as a browser measured it."""
_SHARE = dict(zip(map(chr, range(32, 127)), _PRINTED, strict=True)) | {"\u202f": 20}
_OTHER, _OTHER_CAPITAL = 64, 75
_STRONG = 1.12
"""By how much the same words are wider in its strong face."""


def text_px(text: str, size: float = 13.0, *, strong: bool = False) -> float:
    """Pixels in a line of that height."""
    wide = sum(_SHARE.get(letter, _OTHER_CAPITAL if letter.isupper() else _OTHER) for letter in text)
    return wide / 100 * size * (_STRONG if strong else 1.0)


def fitted(text: str, room: float, size: float = 13.0, *, strong: bool = False) -> str:
    """The text, shortened with an ellipsis until it takes no more than `room` pixels."""
    most = len(text)
    while most > 2 and text_px(cut(text, most), size, strong=strong) > room:
        most -= 1
    return cut(text, most)


def in_lines(text: str, room: float, size: float = 13.0) -> list[str]:
    """The text broken between words into lines of no more than `room` pixels; a longer word stays whole."""
    lines: list[str] = []
    for word in text.split(" "):
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and text_px(joined, size) <= room:
            lines[-1] = joined
        else:
            lines.append(word)
    return lines

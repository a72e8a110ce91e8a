"""The icon set, as strokes on a grid of 24 units: drawn for this program from the tools of the bench.

A stroke is ("line", width, x0, y0, x1, y1, ...), ("dot", x, y, radius) or ("ring", x, y, radius, width).
"""

from typing import Any

GRID = 24.0
W = 1.7

Stroke = tuple[Any, ...]


def _line(*points: float, width: float = W) -> Stroke:
    return ("line", width, *points)


ICONS: dict[str, tuple[Stroke, ...]] = {
    # the thimble against the sleeve: where one comes home to
    "home": (
        _line(2, 12, 11, 12),
        _line(5, 12, 5, 8),
        _line(8, 12, 8, 9.5),
        _line(11, 5, 11, 19, 15, 21, 22, 21),
        _line(11, 5, 15, 3, 22, 3),
        _line(11, 12, 14.5, 12),
        _line(11, 8.5, 13.5, 8.3),
        _line(11, 15.5, 13.5, 15.7),
        _line(15, 3, 15, 21, width=1.2),
    ),
    "people": (
        ("ring", 9.0, 8.0, 3.6, W),
        _line(2.5, 20, 3.4, 16, 6, 14, 9, 13.6, 12, 14, 14.6, 16, 15.5, 20),
        _line(15.2, 4.8, 17.4, 5.6, 18.4, 8, 17.4, 10.4, 15.2, 11.2),
        _line(17.6, 14.2, 20, 16, 21.4, 20),
    ),
    "plans": (
        _line(5, 3, 19, 3, 19, 21, 5, 21, 5, 3),
        _line(8.5, 8, 15.5, 8),
        _line(8.5, 12, 15.5, 12),
        _line(8.5, 16, 12.5, 16),
    ),
    "progress": (
        _line(3, 3, 3, 21, 21, 21),
        _line(6, 7, 9, 12.5, 12.5, 15, 16.5, 16.6, 21, 17),
        _line(6, 21, 6, 19.4, width=1.2),
        _line(12, 21, 12, 19.4, width=1.2),
        _line(18, 21, 18, 19.4, width=1.2),
    ),
    "team": (
        _line(3, 6, 21, 6, width=1.2),
        _line(3, 12, 21, 12, width=1.2),
        _line(3, 18, 21, 18, width=1.2),
        _line(6, 6, 12, 6, width=3.4),
        _line(9, 12, 18, 12, width=3.4),
        _line(5, 18, 10, 18, width=3.4),
    ),
    # an engraved line, signed below: a limit that was met, vouched for by hand
    "signoff": (
        _line(3, 4, 21, 4),
        _line(7, 4, 7, 8, width=1.2),
        _line(12, 4, 12, 10),
        _line(17, 4, 17, 8, width=1.2),
        _line(3, 17.5, 5.5, 13.5, 7.5, 13.5, 6.5, 18.5, 9.5, 15, 11, 18, 13.5, 15.5, 14.5, 17.5, 17, 17),
        _line(3, 21, 21, 21, width=1.2),
    ),
    "display": (
        _line(2.5, 4, 21.5, 4, 21.5, 17, 2.5, 17, 2.5, 4),
        _line(8, 21, 16, 21),
        _line(6, 13, 18, 13),
        _line(6, 13, 6, 9.5),
        _line(10, 13, 10, 10.8),
        _line(14, 13, 14, 10.8),
        _line(18, 13, 18, 9.5),
    ),
    "settings": (
        _line(3, 7, 21, 7),
        _line(3, 17, 21, 17),
        ("dot", 15.0, 7.0, 2.9),
        ("dot", 8.0, 17.0, 2.9),
    ),
    "help": (
        ("ring", 12.0, 12.0, 9.2, W),
        _line(9.2, 9.6, 9.8, 7.9, 12, 7, 14.2, 7.9, 14.8, 9.8, 13.4, 11.7, 12, 12.8, 12, 14.2),
        ("dot", 12.0, 17.2, 1.2),
    ),
    "pause": (_line(8, 5, 8, 19, width=2.6), _line(16, 5, 16, 19, width=2.6)),
    "run": (_line(7, 4.5, 18.5, 12, 7, 19.5, 7, 4.5),),
    "skip": (_line(5, 6, 12, 12, 5, 18), _line(12, 6, 19, 12, 12, 18)),
    "leave": (_line(10, 4, 4, 4, 4, 20, 10, 20), _line(9, 12, 20, 12), _line(15.5, 7.5, 20, 12, 15.5, 16.5)),
    "add": (_line(12, 4.5, 12, 19.5), _line(4.5, 12, 19.5, 12)),
    "pencil": (_line(4, 20, 5, 15.5, 16.5, 4, 20, 7.5, 8.5, 19, 4, 20), _line(14, 6.5, 17.5, 10)),
    "archive": (
        _line(3, 4, 21, 4, 21, 9, 3, 9, 3, 4),
        _line(5, 9, 5, 20, 19, 20, 19, 9),
        _line(9.5, 13, 14.5, 13),
    ),
    "back": (_line(20, 12, 4, 12), _line(10, 6, 4, 12, 10, 18)),
    "keys": (
        _line(2.5, 6, 21.5, 6, 21.5, 18, 2.5, 18, 2.5, 6),
        ("dot", 6.5, 10.0, 1.1),
        ("dot", 10.2, 10.0, 1.1),
        ("dot", 13.8, 10.0, 1.1),
        ("dot", 17.5, 10.0, 1.1),
        _line(7.5, 14.4, 16.5, 14.4),
    ),
    "up": (_line(6, 14.5, 12, 8.5, 18, 14.5),),
    "down": (_line(6, 9.5, 12, 15.5, 18, 9.5),),
    "check": (_line(4.5, 12.5, 10, 18, 19.5, 6.5),),
    "table": (
        _line(3, 4.5, 21, 4.5, 21, 19.5, 3, 19.5, 3, 4.5),
        _line(3, 9.5, 21, 9.5),
        _line(3, 14.5, 21, 14.5),
        _line(10, 4.5, 10, 19.5),
    ),
    "caution": (_line(12, 3.5, 21.5, 20, 2.5, 20, 12, 3.5), _line(12, 9.5, 12, 14), ("dot", 12.0, 17.0, 1.1)),
    "erase": (_line(8, 5, 21, 5, 21, 19, 8, 19, 2.5, 12, 8, 5), _line(11, 9, 17, 15), _line(17, 9, 11, 15)),
    "full": (
        _line(4, 9, 4, 4, 9, 4),
        _line(15, 4, 20, 4, 20, 9),
        _line(20, 15, 20, 20, 15, 20),
        _line(9, 20, 4, 20, 4, 15),
    ),
    "copy": (_line(8, 8, 20, 8, 20, 21, 8, 21, 8, 8), _line(5, 16, 4, 16, 4, 3, 16, 3, 16, 5)),
    # the marks of the magnified interval: a filled pointer for the truth, an open ring for the answer
    "truth": (
        _line(4, 12, 18, 4.5, 18, 19.5, 4, 12, width=1.2),
        _line(6, 12, 16.6, 7, width=3.4),
        _line(6, 12, 16.6, 17, width=3.4),
        _line(8, 12, 16.5, 12, width=5.5),
        _line(16, 7.5, 16, 16.5, width=3.6),
    ),
    "answer": (("ring", 12.0, 12.0, 6.8, 2.6),),
    "card": (
        _line(2.5, 5, 21.5, 5, 21.5, 19, 2.5, 19, 2.5, 5),
        _line(2.5, 9, 21.5, 9, width=2.4),
        _line(6, 15, 11, 15),
    ),
}

"""Draw the pictures of the screens in docs/pictures: `python tests/desktop/make_pictures.py [folder]`.

Each screen in light and dark, at 100 % and 200 %, from the invented scenario of tour.py.
"""

import os
import sys
from pathlib import Path

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")
sys.path.insert(0, str(Path(__file__).parent))

import pygame

SIZE = (1280, 720)
SCREENS = {  # the name of the file: the screen of the tour
    "home": "home",
    "drill": "drill-item",
    "feedback": "drill-feedback",
    "pause": "drill-paused",
    "leave": "drill-leave",
    "refused": "drill-refused",
    "result": "result-inch",
    "items": "result-table",
    "people": "people",
    "who": "who",
    "plans": "plans",
    "own-plan": "plans-change",
    "bench-estimate": "bench-estimate",
    "bench-result": "bench-result",
    "progress": "progress",
    "progress-table": "progress-table",
    "bench-past": "bench-past",
    "team": "team",
    "team-signed": "team-signed-table",
    "signoff-first": "signoff-first",
    "signoff": "signoff",
    "signoff-check": "signoff-check",
    "signoff-unlock": "signoff-wait",
    "signoff-attest": "signoff-attest",
    "signoff-kept": "signoff-kept",
    "signoff-verdict": "signoff-shown",
    "signoff-failed": "signoff-failed",
    "signoff-statement": "signoff-signed",
    "signoff-sign": "signoff-sign",
    "signoff-accounts": "signoff-accounts",
    "display": "display",
    "alignment": "alignment",
    "settings": "settings",
    "help": "help-keys",
    "crash": "crash",
}


def make(folder: Path) -> int:
    """Write the pictures into a folder and return how many."""
    from player import GALLERY
    from tour import seen_at, tour
    from trainer.desktop import window
    from trainer.desktop.app import Fitter

    folder.mkdir(parents=True, exist_ok=True)
    fitter, count = Fitter(), 0
    for name, screen in SCREENS.items():
        for ground in ("light", "dark"):
            for scale in (1.0, 2.0):
                there = seen_at(tour()[screen], SIZE, scale, ground)
                surface = pygame.Surface(SIZE)
                window.draw(there, surface, fitter, GALLERY)
                pygame.image.save(surface, folder / f"window-{name}-{ground}-{scale * 100:.0f}.png")
                count += 1
    return count


if __name__ == "__main__":
    pygame.display.init()
    pygame.font.init()
    default = Path(__file__).parents[2] / "docs" / "pictures"
    print(f"{make(Path(sys.argv[1]) if len(sys.argv) > 1 else default)} pictures")

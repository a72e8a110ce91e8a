"""What waits at this station for a server that was away: said after a drill, delivered by hand."""

import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trainer.records.archive import Archive


def tell(archive: "Archive") -> None:
    """Say on stderr what waits for the server, if anything does."""
    from trainer.records.spool import Spooled

    if isinstance(archive, Spooled) and (waits := archive.waiting()):
        print(f"note: {sentence(waits, archive)}", file=sys.stderr)


def sentence(waits: int, archive: Any) -> str:
    """Return in words how many answers wait, and why."""
    why = archive.trouble or "the server does not answer"
    answers = "1 answer waits" if waits == 1 else f"{waits} answers wait"
    return f"{answers} at this station and will be delivered at the next start ({why})"


def deliver(where: str | None) -> dict[str, Any]:
    """Deliver what waits; return how many answers went, how many wait, and why."""
    from trainer.instrument.refusal import Refusal
    from trainer.records.place import find
    from trainer.records.spool import Spooled
    from trainer.records.spool_file import SpoolFile, spool_path

    place = find(where)
    if place.path is not None:
        raise Refusal(f"{place}: answers go to a file at once, nothing waits; name a server with --archive")
    path = spool_path(place)
    if not path.exists():
        return {"delivered": 0, "waiting": 0, "trouble": ""}
    file = SpoolFile.open(path)
    before = file.waiting("answer")
    file.close()
    with Spooled.begin(where, create=False, courier=False) as archive:
        archive.reach()
        left = archive.waiting()
        trouble = archive.trouble or ("the server does not answer" if archive.away else "")
    return {"delivered": max(0, before - left), "waiting": left, "trouble": trouble}

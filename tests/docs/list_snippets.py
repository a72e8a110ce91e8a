"""List every block and every command of the docs with what tries it: `python tests/docs/list_snippets.py`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from tests.docs.cases import CASES, ELSEWHERE, NOT_TRIED
from tests.docs.test_elsewhere import is_typed
from tests.docs.test_typed_lines import every_line, of_the_program
from tests.docs.test_written import HERE, taken_up


def tried(text: str) -> str:
    """Return what tries a command, or why nothing does; nothing for what is no command."""
    if text in CASES:
        return "test_typed_lines" + (" (wrong usage: only spoken of)" if CASES[text].code == 2 else "")
    if text in ELSEWHERE:
        why, where, _ = ELSEWHERE[text]
        return f"{where} ({why} here)"
    if text in NOT_TRIED:
        return f"NOT TRIED: {NOT_TRIED[text]}"
    if of_the_program(text) is not None:
        return "it exists, with its options; an argument is lacking"
    return ""


def main() -> None:
    """Print a line for each block and each command."""
    for page, block in HERE:
        print(f"{page}:{block.line}  block, {block.language}  {taken_up(page, block)}")
    for one in every_line():
        if of_the_program(one.text) is not None or is_typed(one.text):
            print(f"{one}  command  {one.text}  {tried(one.text)}")


if __name__ == "__main__":
    main()

"""Text cells of CSV files: made harmless for spreadsheets on the way out, restored on the way in.

A spreadsheet runs a cell that begins with one of a few characters as a formula. Such a cell gets an
apostrophe in front, which a spreadsheet takes for "this is text"; so does one that begins with an
apostrophe already, so that taking one away always gives the text back.
"""

# OWASP, "CSV Injection" (from memory): = + - @, tab, carriage return, line feed, and the full-width forms
RISKY = frozenset("=+-@\t\r\n＝＋－＠")
MARK = "'"


def defused(text: str) -> str:
    """Return text that no spreadsheet takes for a formula.

    >>> defused("=1+1"), defused("Ana"), defused("'tis")
    ("'=1+1", 'Ana', "''tis")
    """
    return MARK + text if text[:1] in RISKY or text.startswith(MARK) else text


def restored(cell: str) -> str:
    """Return what `defused` was given.

    >>> restored(defused("-0.5")), restored("Ana")
    ('-0.5', 'Ana')
    """
    return cell[1:] if cell.startswith(MARK) and (cell[1:2] in RISKY or cell[1:2] == MARK) else cell

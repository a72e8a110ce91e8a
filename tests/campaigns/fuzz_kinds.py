"""The kinds of input that the fuzz campaign spoils: valid samples, and what a command does with each."""

import functools
import io
import itertools
import json
from collections.abc import Callable, Mapping
from contextlib import redirect_stdout
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from trainer.instrument import catalogue, typed
from trainer.instrument.refusal import Refusal

SHIPPED = Path(__file__).resolve().parents[2] / "sessions"
NOW = datetime(2026, 3, 10, 8, 0, tzinfo=UTC)
PHRASE = "lantern orbit velvet nine"
ROWS = 40  # of what a file gives, looked at


@dataclass(frozen=True)
class Kind:
    """A kind of input: its weight, its samples, and its use, which may raise what a command tells."""

    name: str
    weight: float
    samples: Callable[[Path], list[bytes]]
    use: Callable[[bytes, Path], None]
    text: bool = True
    words: tuple[bytes, ...] = (b"a", b" ", b"1", b"\n")
    good: bool = True  # whether the samples themselves are taken without a refusal


def put(data: bytes, folder: Path, name: str) -> Path:
    """Write a case into its file."""
    path = folder / name
    path.write_bytes(data)
    return path


def shipped(pattern: str) -> Callable[[Path], list[bytes]]:
    """Return the samples that are shipped."""
    return lambda _: [path.read_bytes() for path in sorted(SHIPPED.glob(pattern))]


def plan(data: bytes, folder: Path) -> None:
    """Load a plan and deal its first items."""
    from trainer.practice import deal, plan, session

    found = plan.load(put(data, folder, "10-case.toml"))
    items = deal.deal(found, catalogue.load(found.instrument), np.random.default_rng(1))
    session.start(found, items)
    json.dumps(found.to_dict(), allow_nan=False)


def criterion(data: bytes, folder: Path) -> None:
    """Load a criterion."""
    from trainer.signoff import criterion

    criterion.load(put(data, folder, "10-case.toml"))


def no_quote(*_: object) -> Any:
    """Know nobody, as an archive without that person."""
    raise Refusal("there is no such person")


def budget(data: bytes, folder: Path) -> None:
    """Load a budget, propagate it and run a short simulation."""
    from trainer.commands.budget_file import load
    from trainer.scoring.propagation import evaluate

    read, _ = load(put(data, folder, "case.toml"), no_quote)
    for second in (False, True):
        evaluate(read, second_order=second)


ANSWERS = (
    b"person,truth_tenths,answer_tenths,session,item,at,seconds,instrument,drill,outcome,typed\n"
    b"Ana,7312.4,7312,S1,1,2026-03-02T09:00:00Z,4.2,metric,full-reading,answered,7.312\n"
    b"Ana,7318.6,,S1,2,2026-03-02T09:00:05Z,9.0,metric,full-reading,skipped,\n"
    b'"Bo, K.",120.25,120.5,S2,1,2026-03-02T10:00:00Z,3.1,metric,full-reading,answered,"0,1205"\n'
)
SEMICOLONS = b"# by hand\nperson;truth_tenths;answer_tenths\nAna;7312,4;7312\nBo;10,05;10\n" * 1


def answers(data: bytes, folder: Path) -> None:
    """Read answers for scoring, score them, and read them as an import does."""
    from trainer.records import answers_csv, answers_in

    path = put(data, folder, "case.csv")
    for reader in (answers_csv.read, lambda p: list(answers_in.read(p))):
        try:
            reader(path)
        except Refusal:
            if reader is not answers_csv.read:
                raise


def mapping(data: bytes, folder: Path) -> None:
    """Load a map and read the laboratory's file with it; the case may be either of the two."""
    from trainer.commands import import_map
    from trainer.records import foreign

    if data.startswith(b"MAP\n"):
        toml, lines = data[4:], (SHIPPED / "maps/gauge-room.csv").read_bytes()
    else:
        toml, lines = (SHIPPED / "maps/gauge-room.toml").read_bytes(), data
    by = import_map.load(put(toml, folder, "map.toml"))
    for _ in foreign.read(put(lines, folder, "lab.csv"), by):
        pass


def maps(_: Path) -> list[bytes]:
    """Return a map and the file it is for."""
    return [
        b"MAP\n" + (SHIPPED / "maps/gauge-room.toml").read_bytes(),
        (SHIPPED / "maps/gauge-room.csv").read_bytes(),
    ]


def marked(data: bytes, folder: Path) -> None:
    """Read a class's answers to printed sheets."""
    from trainer.commands import mark_file

    for one in mark_file.class_answers(put(data, folder, "class.csv")):
        one.in_order(5)


def sheet_numbers() -> list[str]:
    """Return the numbers of two sheets."""
    from trainer.practice import sheets

    return [sheets.make("metric", 12, np.random.default_rng(n)).number for n in (1, 2)]


def classes(_: Path) -> list[bytes]:
    """Return a class's answers."""
    one, two = sheet_numbers()
    rows = [
        f"{number},{who},{item},{item + 0.312:.3f}"
        for number, who in ((one, "Ana"), (two, "Bo"))
        for item in range(1, 6)
    ]
    return [("sheet,person,item,answer\n" + "\n".join(rows) + "\n").encode()]


def sheet_key(data: bytes, folder: Path) -> None:
    """Read a key file of sheets; and the same text as what is inside one."""
    from trainer.commands import sheet_keys
    from trainer.practice import sheets

    if data.startswith(b"INSIDE\n"):
        text = data[7:].decode("utf-8", "replace")
        found = sheet_keys.inside(text, "case")
    else:
        found = sheet_keys.read(put(data, folder, "case.keys"), PHRASE)
    for key in list(found.values())[:2]:
        sheet = sheet_keys.sheet_of(key)
        sheets.read_answers(sheet, ["7.312"] * len(sheet.items), "2026-03-02T09:00:00Z")


def keys_of_sheets(_: Path) -> list[bytes]:
    """Return a sealed key file and what is in it."""
    from trainer.commands import sheet_keys
    from trainer.practice import sheets
    from trainer.signoff.sealing import sealed

    keys = [sheets.make("metric", 12, np.random.default_rng(n)).to_dict() for n in (1, 2)]
    text = json.dumps({"sheets": keys})
    locked = sealed(text, sheet_keys.KIND, PHRASE, random_bytes=source(), log2_n=10)
    return [locked.encode(), b"INSIDE\n" + text.encode()]


def source() -> Callable[[int], bytes]:
    """Return a source of bytes that never repeats, in place of chance."""
    counter = itertools.count(1)
    return lambda size: next(counter).to_bytes(4, "big").ljust(size, b"\x05")


@functools.cache
def laboratory() -> tuple[dict[str, Any], str, str]:
    """Return a statement, the first supervisor's certificate and the text of her key file."""
    from trainer.signoff import accounts, keys
    from trainer.signoff.attempts import history
    from trainer.signoff.criteria import find
    from trainer.signoff.evidence import CheckSession
    from trainer.signoff.keyring import Keyring
    from trainer.signoff.statement import Subject, statement

    keys.locked.__kwdefaults__["log2_n"] = 10  # a key file that opens in a millisecond
    made = accounts.set_up("Ruth", None, PHRASE, now=NOW - timedelta(days=30), random_bytes=source())
    key = keys.unlocked(made.key_file, "Ruth", PHRASE)
    chance = np.random.default_rng(1)
    taken = [
        CheckSession(
            f"s{n}",
            f"2026-03-0{2 + n}T08:00:00Z",
            tuple(map(float, chance.normal(0.1, 0.6, 20))),
            0,
            seed=str(n),
        )
        for n in range(5)
    ]
    found = find("first-level-metric")
    body = statement(
        Keyring.of([made.certificate]), key, found, Subject("p1", "Kim Vale", "0.1.0", ("1",)),
        history(found, taken), now=NOW, random_bytes=source(),
    )  # fmt: skip
    return dict(body), key.public.pem, made.key_file


def signed(data: bytes, folder: Path) -> None:
    """Verify a statement; a third of the cases seal what was spoilt again, so that its content is read."""
    from trainer.commands import verify as command
    from trainer.signoff import keys, sealed
    from trainer.signoff.canonical import parsed
    from trainer.signoff.verify import verify

    document = parsed(command._text(put(data, folder, "case.json")), "case")
    verify(document, now=NOW)
    key = keys.unlocked(laboratory()[2], "Ruth", PHRASE)
    body = {name: value for name, value in document.items() if name not in ("signature", "signer")}
    verify(sealed.seal(body, key), now=NOW)


def statements(_: Path) -> list[bytes]:
    """Return a statement as it is written, and on one line."""
    document = laboratory()[0]
    return [json.dumps(document, indent=2).encode(), json.dumps(document).encode()]


def key_file(data: bytes, folder: Path) -> None:
    """Read a public key and a key file."""
    from trainer.commands import verify as command
    from trainer.signoff import keys

    text = command._text(put(data, folder, "case.pem"))
    if "BEGIN" in text:
        keys.PublicKey.of_pem(text)
    else:
        keys.unlocked(text, "Ruth", PHRASE)


def key_files(_: Path) -> list[bytes]:
    """Return a public key and a locked private one."""
    _, pem, locked = laboratory()
    return [pem.encode(), locked.encode()]


def typed_answer(data: bytes, _: Path) -> None:
    """Read a typed answer in every way there is."""
    text = data.decode("utf-8", "surrogateescape")
    for read in (typed.number, typed.tenths, lambda t: typed.reading(t, catalogue.load("metric")),
                 lambda t: typed.reading(t, catalogue.load("inch"))):  # fmt: skip
        try:
            read(text)
        except Refusal:
            if read is typed.number:
                continue


def typings(_: Path) -> list[bytes]:
    """Return readings as people type them."""
    return [b"7.3127", b" 7,384 mm", b".3", b'0.2871 "', "−2".encode(), b"+10", b"7 1/2", b"10.5"]


class NoArchive:
    """An archive that takes all and keeps nothing."""

    def save_answer(self, session: str, answer: Mapping[str, Any]) -> None:
        """Take an answer, which must be fit to be kept."""
        from trainer.records.answering import checked

        checked(answer)

    def deal_more(self, session: str, items: Any) -> None:
        """Take items."""

    def end_session(self, session: str, how: str, at: str) -> None:
        """Take the end."""


DRILLS = ("30-full-reading-metric", "10-first-tenths-metric", "45-vernier-metric", "35-quick-reading-inch",
          "57-judge-metric", "52-set-to-metric")  # fmt: skip


@functools.cache
def drill(name: str) -> Any:
    """Return a plan and its items."""
    from trainer.practice import deal, plan

    found = plan.load(SHIPPED / "plans" / f"{name}.toml")
    return found, deal.deal(found, catalogue.load(found.instrument), np.random.default_rng(7))


def prompts(data: bytes, _: Path) -> None:
    """Take a drill by lines; each prompt must be one line of JSON."""
    from trainer.commands import drill as command
    from trainer.commands.sitting import Sitting
    from trainer.practice import session as rules
    from trainer.practice.telling import told

    name = DRILLS[len(data) % len(DRILLS)]
    found, items = drill(name)
    sitting = Sitting(NoArchive(), "S-1", rules.start(found, items), chance=np.random.default_rng(1))  # type: ignore[arg-type]
    sitting.begin()
    previous, refused = None, None
    for line in io.StringIO(data.decode("utf-8", "replace")).readlines()[:8]:
        if sitting.session.over:
            return
        out = io.StringIO()
        with redirect_stdout(out):
            command._prompt(sitting, "item-001.png", previous, refused, True)
        (one,) = out.getvalue().rstrip("\n").split("\n")
        assert "item" in json.loads(one)
        count = len(sitting.session.answers)
        if line.strip().lower() in command.SKIP_WORDS:
            sitting.skip()
        else:
            refused = sitting.enter(line.strip("\r\n"))
        if len(sitting.session.answers) > count:
            previous, refused = told(sitting.session), None
            if sitting.session.phase == "feedback":
                sitting.advance()


def lines(_: Path) -> list[bytes]:
    """Return what is given to a drill."""
    return [b"7.312\n3\nskip\n0,3127\n17.4 mm\n", b"5\n7\n\nskip\n2,5\n", b"pass\nfail\n" * 3 + b"\n"]


def archive(data: bytes, folder: Path) -> None:
    """Open a spoilt archive and look at all of it."""
    from trainer.records.archive import Archive
    from trainer.records.check import check

    for old in folder.glob("case.tenthwise*"):
        old.unlink()
    path = put(data, folder, "case.tenthwise")
    with Archive.open(path, create=False) as opened:
        opened.team()
        opened.answers()
        opened.sessions()
        check(opened.store)
        for person in opened.people():
            opened.unfinished(person)


def archives(folder: Path) -> list[bytes]:
    """Return a small archive, as a file; with three answers and a session under way."""
    from trainer.records.archive import Archive
    from trainer.records.values import SessionHeader

    path = folder / "sample.tenthwise"
    header = SessionHeader("metric", "full-reading", True, 1, "0", "0", {"roll_deg": 0.0}, 7.56, "bench")
    items = [{"number": n, "position_tenths": 1000.1 * n, "asks": "full-reading"} for n in range(1, 6)]
    with Archive.open(path, chain="TESTSTAT") as made:
        ana = made.add_person("Ana")
        for _ in range(2):
            session = made.begin_session(ana, {"name": "x"}, items, header)
            for n in range(1, 4):
                made.save_answer(session, {
                    "number": n, "typed": "1", "answer_tenths": 1000.0 * n, "outcome": "answered",
                    "seconds": 1.0, "at": "2026-03-02T09:00:00Z"})  # fmt: skip
        made.end_session(session, "left", "2026-03-02T10:00:00Z")
        made.set_setting("a", 1)
    data = path.read_bytes()
    path.unlink()
    return [data]


def poisoned(data: bytes, folder: Path) -> None:
    """Put the case as text into a field of a whole archive, and look at all of it."""
    import sqlite3

    path = folder / "poisoned.tenthwise"
    if not path.exists():
        path.write_bytes(archives(folder)[0])
    table, column = FIELDS[len(data) % len(FIELDS)]
    case = folder / "case.tenthwise"
    for old in folder.glob("case.tenthwise*"):
        old.unlink()
    case.write_bytes(path.read_bytes())
    plain = sqlite3.connect(case)
    try:
        plain.execute(f"UPDATE OR IGNORE {table} SET {column} = ?", (data.decode("utf-8", "replace"),))
        plain.commit()
    finally:
        plain.close()
    archive(case.read_bytes(), folder)


FIELDS = (
    ("sessions", "plan"), ("sessions", "viewing"), ("sessions", "instrument"), ("sessions", "drill"),
    ("sessions", "started_at"), ("sessions", "seed"), ("sessions", "px_per_mm"), ("sessions", "ended_how"),
    ("items", "extra"), ("items", "position_tenths"), ("items", "asks"), ("answers", "typed"),
    ("answers", "answer_tenths"), ("answers", "extra"), ("answers", "outcome"), ("answers", "seconds"),
    ("answers", "at"), ("people", "name"), ("people", "added_at"), ("acts", "detail"), ("acts", "kind"),
    ("acts", "at"), ("chains", "last_at"), ("chains", "seq"), ("chains", "hash"), ("settings", "value"),
    ("tenthwise_archive", "version"), ("tenthwise_archive", "home_chain"), ("tallies", "near"),
    ("tallies", "sum_error"),
)  # fmt: skip


def heads(data: bytes, folder: Path) -> None:
    """Read the heads that an earlier check printed."""
    from trainer.commands import archive as command

    command._heads(put(data, folder, "heads.json"))


def names(data: bytes, folder: Path) -> None:
    """Read a list of people."""
    from trainer.commands import people as command

    command._names(put(data, folder, "names.txt"))


def words_of(text: bytes) -> tuple[bytes, ...]:
    """Return the words between the bars."""
    return tuple(text.split(b"|"))


TOML = words_of(
    b'title|drill|instrument|items|"full-reading"|"metric"| = |\n|20|true|[|]|settings|[inputs.a]|model'
    b'|"a + b"'
    b"|value|u|half_width|distribution|{|}|,|."
)
JSON = words_of(b'{|}|[|]|:|,|"format"|"body"|"signature"|"sheets"|"number"|1|-1|null|true|"a"|1e5')
CSV = words_of(
    b'person|truth_tenths|answer_tenths|,|;|\n|\t|"|1|2,5|Ana|sheet|item|answer|session|at|seconds'
)
HEADS = b'{"heads": {"TESTSTAT": {"seq": 3, "hash": "00ff", "at": "x"}}}'
VALUES = [b"{}", b'{"a": 1}', b"1.5", b"metric", b"2026-03-02T09:00:00Z"]
KINDS = [
    Kind("typed", 26, typings, typed_answer, words=words_of(b"7|.|,|3| |mm|in|-|+|/|\"|e|0")),
    Kind("plan", 14, shipped("plans/*.toml"), plan, words=TOML),
    Kind("criterion", 8, shipped("criteria/*.toml"), criterion, words=TOML),
    Kind("budget", 10, shipped("budgets/*.toml"), budget, words=TOML),
    Kind("answers", 14, lambda _: [ANSWERS, SEMICOLONS], answers, words=CSV),
    Kind("map", 8, maps, mapping, words=(b"MAP\n", *TOML)),
    Kind("class", 7, classes, marked, words=CSV),
    Kind("sheet-key", 6, keys_of_sheets, sheet_key, words=(b"INSIDE\n", *JSON)),
    Kind("statement", 6, statements, signed, words=JSON),
    Kind("key", 4, key_files, key_file, words=JSON),
    Kind("prompts", 4, lines, prompts, words=words_of(b"7|.|,|skip|\n|mm| |pass|fail|5")),
    Kind("heads", 3, lambda _: [HEADS], heads, words=JSON),
    Kind("names", 3, lambda _: [b"# people\nAna\nBo K.\n"], names),
    Kind("archive", 1.6, archives, archive, text=False),
    Kind("field", 0.4, lambda _: VALUES, poisoned, words=JSON, good=False),
]  # fmt: skip

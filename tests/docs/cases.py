"""Every command that the docs name outside their consoles: how it is tried, or why it cannot be.

A key is the command as the docs have it. `fill` says what stands for a word of the page, such as FILE.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from tests.docs.prepared import FAILED, KIM, READY
from tests.docs.prepared import SAMPLE as SAMPLE_ARCHIVE

BENCH, SAMPLE, EMPTY = "bench", "sample", "empty"  # folders: see `prepared`
ZEROS = "0\n" * 5 + "\n"  # five looks at a set zero, and no more


@dataclass(frozen=True)
class Case:
    """How a command is tried: where, with what in the place of words, what is typed, what comes of it.

    `before` is typed first, `says` stands in what is printed, `made` are files that are there afterwards.
    Code 2 is that of a name alone, of a command that wants more: the page only speaks of it.
    """

    says: str = ""
    where: str = BENCH
    fill: Mapping[str, str] = field(default_factory=dict)
    typed: str = ""
    made: tuple[str, ...] = ()
    before: tuple[str, ...] = ()
    code: int = 0
    window: bool = False


WINDOW = Case(window=True)
CSV = "all.csv"
MAP = {"FILE.csv": "sessions/maps/gauge-room.csv", "MAP.toml": "sessions/maps/gauge-room.toml"}

CASES: dict[str, Case] = {
    "tenthwise": WINDOW,
    f"tenthwise --archive {SAMPLE_ARCHIVE}": WINDOW,
    "tenthwise COMMAND --help": Case("Example: tenthwise", fill={"COMMAND": "drill"}),
    "archive check": Case("the archive is whole"),
    "archive check --json": Case('"heads"'),
    "archive restore FILE": Case("people", EMPTY, {"FILE": SAMPLE_ARCHIVE}, made=("new.tenthwise",)),
    "tenthwise archive backup FILE": Case(
        "takes a keeper", fill={"FILE": "copy.sqlite"}, code=1
    ),  # and with the account in installing.md's console
    "tenthwise archive check": Case("the archive is whole"),
    "tenthwise archive check --json": Case('"heads"'),
    "tenthwise archive check --json > FILE": Case('"heads"', fill={"FILE": "heads.json"}),
    "tenthwise archive deliver": Case("answers go to a file at once, nothing waits", code=1),
    "tenthwise archive move FROM TO": Case(
        "people", SAMPLE, {"FROM": SAMPLE_ARCHIVE, "TO": "moved.sqlite"}, made=("moved.sqlite",)
    ),
    "tenthwise archive rescue DAMAGED NEW": Case(
        "is missing",
        fill={"DAMAGED": "damaged.tenthwise", "NEW": "saved.tenthwise"},
        made=("saved.tenthwise",),
    ),
    "tenthwise archive upgrade": Case("version"),
    "tenthwise bench Kim --instrument inch --step 0.00005": Case(
        "bias", typed=ZEROS + "0.1234\n0.12345\n" * 9
    ),
    "tenthwise bench Kim --instrument metric --step 0.0005": Case(
        "bias", typed=ZEROS + "7.384\n7.3845\n" * 9
    ),
    "tenthwise capability": Case("name one", code=2),
    "tenthwise compare --bench PERSON": Case("On the bench Kim reads", fill={"PERSON": KIM}),
    "compare FILE --json": Case('"precision"', fill={"FILE": "class.csv"}),
    "compare FILE A B --json": Case(
        '"bias_difference_tenths"', fill={"FILE": "class.csv", "A": "'Inspector 1'", "B": "'Inspector 2'"}
    ),
    "compare FILE A --since DATE --json": Case(
        '"bias_difference_tenths"', fill={"FILE": "class.csv", "A": "'Inspector 2'", "DATE": "2026-04-01"}
    ),
    "compare FILE --judged TENTHS --json": Case(
        '"threshold_tenths"', fill={"FILE": "judged.csv", "TENTHS": "2"}
    ),
    "tenthwise drill first-tenths-metric --person Kim --new-person": Case(where=EMPTY, window=True),
    "tenthwise drill first-tenths-metric --person Kim --no-window pictures": Case(
        "bias", typed="5\n" * 20, made=("pictures/item-020.png",)
    ),
    'tenthwise drill check-metric --person "Kim Vale" --no-window pictures --ticket TICKET': Case(
        "attest", fill={"TICKET": "{ticket}"}, typed="{reader}", made=("pictures/item-020.png",)
    ),
    "tenthwise export KIND": Case("Inspector 1", SAMPLE, {"KIND": "people"}),
    "export transfer": Case("Inspector 1", SAMPLE),
    "tenthwise export answers --out answers.xlsx": Case("", SAMPLE, made=("answers.xlsx",)),
    "tenthwise export people --out people.xlsx": Case("", SAMPLE, made=("people.xlsx",)),
    "tenthwise import FILE.csv --map MAP.toml": Case("36 answers in 3 sessions taken in", EMPTY, MAP),
    "tenthwise mark --class answers.csv": Case(KIM),
    "tenthwise mark --class FILE": Case(KIM, fill={"FILE": "answers.csv"}),
    "tenthwise people import-list FILE": Case("2 added", EMPTY, {"FILE": "names.txt"}),
    'tenthwise mark K7M-P3XY --person Kim --answers "7.384 12.106 - 3.990 …"': Case(
        "bias", fill={"K7M-P3XY": "{sheet}", "7.384 12.106 - 3.990 …": "{answers}"}
    ),
    "tenthwise mark K7M-P3XY --person Kim --answers answers.txt": Case("bias", fill={"K7M-P3XY": "{sheet}"}),
    "tenthwise people dossier NAME --out FILE.zip": Case(
        "documents", SAMPLE, {"NAME": "'Inspector 1'", "FILE.zip": "one.zip"}, made=("one.zip",)
    ),
    "tenthwise people pseudonymise NAME --yes": Case("takes a keeper", fill={"NAME": KIM}, code=1),
    "tenthwise plans check FILE": Case("usable", fill={"FILE": "my-plan.toml"}),
    "tenthwise plans check my-plan.toml": Case("usable"),
    "tenthwise plans copy NAME my-plan.toml": Case(
        "", EMPTY, {"NAME": "half-line-metric"}, made=("my-plan.toml",)
    ),
    "tenthwise plans show NAME": Case("half-line", fill={"NAME": "half-line-metric"}),
    "tenthwise quote": Case("name one or more people", code=2),  # only spoken of
    "tenthwise compare": Case("name a CSV file of answers", code=2),
    "tenthwise mark": Case("give SHEET-NUMBER", code=2),
    "tenthwise quote Kim": Case("Reading between the graduations: Kim"),
    f'tenthwise quote "Inspector 1" --archive {SAMPLE_ARCHIVE}': Case("Bias", EMPTY),
    'tenthwise quote "Inspector 1" --format markdown': Case("|", SAMPLE),
    'tenthwise report "Inspector 1" --out report.pdf': Case("", SAMPLE, made=("report.pdf",)),
    "tenthwise report --team --instrument metric --from screen --out team.pdf": Case(
        "", SAMPLE, made=("team.pdf",)
    ),
    "tenthwise report PERSON": Case("report", fill={"PERSON": KIM}),
    "tenthwise sheet --instrument metric --sheets 6 --out sheets": Case("sheet"),
    "tenthwise sheet --sheets 6 --out sheets": Case("sheet"),
    "signoff list": Case("Kim, first-level-metric: valid"),
    'tenthwise signoff check "Kim Vale" --as "Ruth Amsel"': Case("ticket"),
    'tenthwise signoff check Kim --as "Ruth Amsel"': Case("ticket"),
    'tenthwise signoff keys set-up "Ruth Amsel"': Case("fingerprint", EMPTY),
    'tenthwise signoff keys add "Ben Olt" --as "Ruth Amsel"': Case("is added, countersigned by Ruth Amsel"),
    'tenthwise signoff keys add "Ida Kern" --role keeper --as "Ruth Amsel"': Case(
        "is added, countersigned by Ruth Amsel"
    ),
    'tenthwise signoff keys publish "Ruth Amsel" --out supervisor.pem': Case(made=("supervisor.pem",)),
    "tenthwise verify FILE --archive ARCHIVE": Case(
        "the statement is good", fill={"FILE": "kim.json", "ARCHIVE": "archive.tenthwise"}
    ),
    "tenthwise verify kim.json --archive archive.tenthwise --on 2026-06-30": Case("the statement is good"),
    f"tenthwise verify sessions/recorded/inspector-1.json --on 2026-07-03 --archive {SAMPLE_ARCHIVE}": Case(
        "the statement is good", EMPTY
    ),
}

ADD_VALE = ('people add "Kim Vale"',)
ADD_BEN = ('signoff keys add "Ben Olt" --as "Ruth Amsel"',)
AS_READY = {'"Kim Vale"': f'"{READY}"'}
CASES |= {  # the examples of the program's own help
    "tenthwise drill full-reading-metric --person Kim --no-window pictures": Case(
        "bias", typed="{reader}", made=("pictures/item-020.png",)
    ),
    "tenthwise draw --instrument metric --reading 7.3742 --px-per-mm 20 --out reading.png": Case(
        made=("reading.png",)
    ),
    "tenthwise score answers.csv --json": Case('"bias_tenths"', fill={"answers.csv": "class.csv"}),
    "tenthwise compare answers.csv --json": Case('"precision"', fill={"answers.csv": "class.csv"}),
    "people list": Case(KIM),
    "tenthwise people list --all": Case(KIM),
    'tenthwise people add "Kim Vale"': Case("Kim Vale: added", EMPTY),
    'tenthwise people rename "Kim Vale" "Kim Vale-Ito"': Case(
        "Kim Vale-Ito: renamed", EMPTY, before=ADD_VALE
    ),
    'tenthwise people archive-person "Kim Vale"': Case("Kim Vale: put away", EMPTY, before=ADD_VALE),
    'tenthwise people pseudonymise "Kim Vale" --yes': Case("the name from now on", EMPTY, before=ADD_VALE),
    'tenthwise people dossier "Kim Vale" --out kim-vale.zip': Case(
        where=EMPTY, before=ADD_VALE, made=("kim-vale.zip",)
    ),
    "tenthwise people import-list class.txt": Case("2 added", EMPTY, {"class.txt": "names.txt"}),
    "tenthwise plans list": Case("first-tenths-metric"),
    "tenthwise plans show judge-metric": Case("judge"),
    "tenthwise plans check my-drill.toml": Case("usable", fill={"my-drill.toml": "my-plan.toml"}),
    "tenthwise plans copy judge-metric my-drill.toml": Case(where=EMPTY, made=("my-drill.toml",)),
    "tenthwise export answers --person Kim --since 2026-01-01 --out kim.csv": Case(
        where=SAMPLE, fill={"Kim": "'Inspector 1'"}, made=("kim.csv",)
    ),
    "tenthwise import answers.csv": Case("taken in", fill={"answers.csv": "class.csv"}),
    "tenthwise bench Kim --instrument inch --reference display --step 0.00005 --accuracy 0.0001": Case(
        "bias", typed=ZEROS + "0.1234\n0.12345\n" * 9
    ),
    "tenthwise sheet --instrument metric --readings 20 --sheets 30 --out class": Case(
        "sheet", fill={"30": "3"}
    ),
    "tenthwise quote Kim --instrument metric --format markdown": Case("| bias |"),
    "tenthwise budget shaft --figure shaft.pdf": Case("expanded uncertainty", made=("shaft.pdf",)),
    "tenthwise report Kim --instrument metric --out kim.pdf": Case(made=("kim.pdf",)),
    "tenthwise capability Kim --instrument metric --tolerance 2um --risk 2%": Case("Kim can"),
    "tenthwise archive info --json": Case('"archive_id"'),
    "tenthwise archive check --json > check-2026-03.json": Case('"heads"'),
    "tenthwise archive backup backups/2026-03-02.tenthwise": Case(
        where=EMPTY, before=ADD_VALE, made=("backups/2026-03-02.tenthwise",)
    ),
    "tenthwise archive restore backups/2026-03-02.tenthwise --archive new.tenthwise": Case(
        where=EMPTY, fill={"backups/2026-03-02.tenthwise": SAMPLE_ARCHIVE}, made=("new.tenthwise",)
    ),
    "tenthwise archive rescue archive.tenthwise rescued.tenthwise": Case(made=("rescued.tenthwise",)),
    "tenthwise signoff criteria": Case("first-level-metric"),
    "tenthwise signoff cost first-level-metric --out cost.png": Case(
        "at the spread limit", made=("cost.png",)
    ),
    'tenthwise signoff status "Kim Vale" --criterion first-level-metric': Case("not yet shown", code=1),
    'tenthwise signoff attempt "Kim Vale" --as "Ruth Amsel" --reason "two weeks of drills"': Case(
        "a new attempt is open", fill={'"Kim Vale"': f'"{FAILED}"'}
    ),
    'tenthwise signoff sign "Kim Vale" --as "Ruth Amsel" --out kim.json --pdf kim.pdf': Case(
        fill={**AS_READY, "kim.json": "ana.json", "kim.pdf": "ana.pdf"}, made=("ana.json", "ana.pdf")
    ),
    "tenthwise signoff write 90ab12cd34ef5678 --out kim.json --pdf kim.pdf": Case(
        fill={"90ab12cd34ef5678": "{statement}", "kim.json": "again.json"}, made=("again.json", "kim.pdf")
    ),
    "tenthwise signoff list": Case("Kim, first-level-metric: valid"),
    'tenthwise signoff standing 90ab12cd34ef5678 suspend --as "Ruth Amsel" --reason "new glasses"': Case(
        "suspended", fill={"90ab12cd34ef5678": "{statement}"}
    ),
    'tenthwise signoff keys rotate --as "Ruth Amsel" --new-key-file ruth-2.key': Case(made=("ruth-2.key",)),
    'tenthwise signoff keys revoke "Ben Olt" --as "Ruth Amsel" --kind left --reason "new employer"': Case(
        "revoked", before=ADD_BEN
    ),
    'tenthwise signoff keys recover "Ben Olt" --as "Ruth Amsel" --reason lost --new-key-file ben.key': Case(
        before=ADD_BEN, made=("ben.key",)
    ),
    "tenthwise signoff keys list": Case("Ruth Amsel"),
    'tenthwise signoff keys publish "Ruth Amsel" --out ruth.pem': Case(made=("ruth.pem",)),
    "tenthwise verify kim.json --key ruth.pem": Case(
        "the statement is good", before=('signoff keys publish "Ruth Amsel" --out ruth.pem',)
    ),
}

ELSEWHERE: dict[str, tuple[str, str, str]] = {
    # command: (why it is not tried here, where the same is done, what shows that it is done there)
    "python -m pip install .": (
        "changes the environment of the tests",
        "tests/first_hour.sh",
        'python -m pip install --quiet --disable-pip-version-check "$source"',
    ),
    "python -m pip install '.[test]'": (
        "changes the environment of the tests", ".ci/run", "python -m pip install '.[test]'",
    ),
    "python -m pytest": ("is what runs here", ".ci/run", "python -m pytest"),
    "ruff check": ("is no test", ".ci/run", "\nruff check"),
    "ruff format --check": ("is no test", ".ci/run", "\nruff format --check"),
    "mypy --strict trainer": ("is no test", ".ci/run", "\nmypy --strict trainer\n"),
    "tests/dependencies/audit.py --advisories": (
        "asks a source in the network", ".ci/run", "tests/dependencies/audit.py --advisories",
    ),
    "python tests/docs/list_snippets.py": (
        "prints it all", "tests/docs/test_names.py", "list_snippets.main()",
    ),
    "python tests/docs/make_commands.py": (
        "writes into the docs", "tests/docs/test_docs.py", "made.page()",
    ),
    "python -m mkdocs serve": ("serves until it is stopped", "tests/docs/test_site.py", '"mkdocs", "build"'),
    "python -m pip install tenthwise-0.1.0-py3-none-any.whl": (
        "wants a wheel", "tests/packages/test_packages.py", "test_a_wheel_is_installed_as_the_guide_says",
    ),
    "python -m pip download tenthwise-0.1.0-py3-none-any.whl -d wheels": (
        "wants a wheel", "tests/packages/test_packages.py", "test_a_wheel_is_installed_as_the_guide_says",
    ),
    "python -m pip install --no-index --find-links wheels tenthwise": (
        "wants a wheel", "tests/packages/test_packages.py", "test_a_wheel_is_installed_as_the_guide_says",
    ),
    "tenthwise demo": (
        "takes ten seconds", "tests/commands/test_demo.py", 'main(["demo",',
    ),
    "tenthwise demo --out tenthwise-demo": (
        "takes ten seconds", "tests/commands/test_demo.py", 'main(["demo", "--out",'
    ),
    "tenthwise archive deliver --archive postgresql+psycopg://bench_3@server/tenthwise": (
        "wants a server", "tests/records/test_docs_on_a_server.py", "test_the_examples_that_name_a_server"
    ),
    "tenthwise archive move archive.tenthwise postgresql+psycopg://keeper@server/tenthwise": (
        "wants a server", "tests/records/test_docs_on_a_server.py", "test_the_examples_that_name_a_server"
    ),
    "tenthwise --install-completion": (
        "wants a shell", "tests/docs/test_elsewhere.py", "test_the_shell_learns_the_commands",
    ),
}  # fmt: skip

NOT_TRIED: dict[str, str] = {
    "python -m pip install . pyinstaller": "fetches a builder from a registry",
    "pyinstaller packaging/tenthwise.spec": "builds 320 MB for minutes; done by hand, on Linux",
    'pip install "tenthwise[postgres]"': "fetches from a registry what is not there yet",
    "python tests/desktop/make_pictures.py": "draws for minutes, and writes into the docs",
    "python tests/benchmarks/bench_compare.py": "simulates for long",
    "python tests/benchmarks/bench_coverage.py --write": "simulates for long",
    "python tests/benchmarks/bench_dependencies.py": "measures, on a quiet machine",
    "python tests/benchmarks/bench_painter.py": "measures, on a quiet machine",
    "python tests/benchmarks/bench_placement.py --people 300": "simulates for long",
    "python tests/benchmarks/bench_score.py": "measures, on a quiet machine",
    "python tests/benchmarks/bench_signoff.py --write": "simulates for very long",
    "python tests/benchmarks/bench_window.py": "measures, on a quiet machine",
}  # of scripts it is tested that they are there and know their options
ON_A_SERVER = "docs/archive.md"  # its `sh` block: tests/records/test_docs_on_a_server.py

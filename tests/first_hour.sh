#!/usr/bin/env bash
# A newcomer's first hour, in an empty folder on a machine with only Python: what README and the guides tell,
# one after the other. It stops at the first thing that is not as told. `tests/first_hour.sh [PYTHON]`
set -euo pipefail
python=${1:-python3}
source=$(cd "$(dirname "$0")/.." && pwd)
place=$(mktemp -d)
trap 'rm -rf "$place"' EXIT
cd "$place"
export HOME="$place/home" XDG_DATA_HOME="$place/home/data" COLUMNS=110 SDL_VIDEODRIVER=dummy SDL_AUDIODRIVER=dummy
unset TENTHWISE_ARCHIVE PYTHONPATH
mkdir -p "$HOME"

step() { printf -- '-- %s\n' "$*"; }
wrong() { printf 'NOT AS TOLD: %s\n' "$*" >&2; exit 1; }
holds() { grep -qF -- "$2" "$1" || { cat "$1" >&2; wrong "no \"$2\" in what was printed"; }; }
times() { local i; for ((i = 0; i < $1; i++)); do echo "$2"; done; }
there() { for file in "$@"; do [ -s "$file" ] || wrong "no file $file"; done; }
refused() { # a command that must end with 1 and one sentence
  local code=0
  "$@" >out.txt 2>err.txt || code=$?
  [ "$code" = 1 ] || wrong "$* ended with $code, not 1"
  [ "$(wc -l <err.txt)" = 1 ] || { cat err.txt >&2; wrong "$* did not say it in one line"; }
}
says_no() { # a command that answers "no", with 1
  local code=0
  "$@" >out.txt 2>err.txt || code=$?
  [ "$code" = 1 ] || wrong "$* ended with $code, not 1"
}

step "README: install, and the demo"
"$python" -m venv venv
. venv/bin/activate
python -m pip install --quiet --disable-pip-version-check "$source"
tenthwise demo >out.txt
holds out.txt "Invented B, favours 0 and 5"
there tenthwise-demo/report.pdf tenthwise-demo/report.png tenthwise-demo/archive.sqlite

step "README: the commonest tasks"
tenthwise people add Kim >out.txt
holds out.txt "Kim: added"
times 20 5 | tenthwise drill first-tenths-metric --person Kim --no-window pictures >out.txt 2>/dev/null
holds out.txt "Kim"
[ "$(find pictures -name '*.png' | wc -l)" -ge 20 ] || wrong "fewer pictures than items"
times 20 7.384 | tenthwise drill check-metric --person Kim --no-window checked >out.txt 2>/dev/null
says_no tenthwise signoff status Kim
tenthwise sheet --instrument metric --sheets 6 --out sheets >out.txt 2>/dev/null
[ "$(find sheets -name 'sheet-*.pdf' | wc -l)" = 6 ] || wrong "not six sheets"
sheet=$(basename "$(head -1 out.txt)" .pdf)
times 19 - >answers.txt
echo 7.384 >>answers.txt
tenthwise mark "${sheet#sheet-}" --person Kim --answers answers.txt --even-so >out.txt
echo estimate,reference >bench.csv
for zero in 0.0000 0.00005 0.0000 0.0000 0.00005; do echo ",$zero" >>bench.csv; done
for last in 1 2 3 4 5 6 7 8 9; do echo "0.12${last}4,0.12${last}45" >>bench.csv; done
tenthwise bench Kim --instrument inch --step 0.00005 --readings 9 --from bench.csv >out.txt
holds out.txt "bias"
refused tenthwise quote Kim
tenthwise export answers --out answers.csv 2>/dev/null >/dev/null
tenthwise score answers.csv >out.txt 2>/dev/null
holds out.txt "Kim"

step "guide: a supervisor, a check, a statement that others can verify"
export TENTHWISE_NEW_PASSPHRASE="seven locked drawers of brass shims" TENTHWISE_PASSPHRASE="seven locked drawers of brass shims"
tenthwise signoff keys set-up "Ruth Amsel" >out.txt
holds out.txt "fingerprint"
tenthwise signoff check Kim --as "Ruth Amsel" >out.txt
holds out.txt "ticket"
refused tenthwise signoff sign Kim --as "Ruth Amsel" --out kim.json
refused env TENTHWISE_PASSPHRASE=wrong tenthwise signoff check Kim --as "Ruth Amsel"
sample="$source/sessions/recorded"
tenthwise verify "$sample/inspector-1.json" --on 2026-07-03 --archive "$sample/pump-shop.sqlite" >out.txt
holds out.txt "evidence"

step "guide: figures for a budget, from the shipped sample"
export TENTHWISE_ARCHIVE="$sample/pump-shop.sqlite"
tenthwise quote "Inspector 1" >out.txt
holds out.txt "Standard uncertainty of one reading"
tenthwise capability "Inspector 1" --instrument metric --tolerance 5um >out.txt
holds out.txt "can verify"
tenthwise report "Inspector 1" --out inspector.pdf >/dev/null
there inspector.pdf
refused tenthwise people add "Somebody New"
holds err.txt "can only be looked at"
unset TENTHWISE_ARCHIVE
tenthwise budget shaft >out.txt
holds out.txt "expanded uncertainty"

step "guide: backup, and a whole archive"
refused tenthwise archive backup copy.sqlite
holds err.txt "takes a keeper"
tenthwise archive backup copy.sqlite --as "Ruth Amsel" >out.txt
tenthwise archive check --archive copy.sqlite >out.txt
holds out.txt "the archive is whole"
refused tenthwise score nowhere.csv
refused tenthwise drill no-such-plan --person Kim

step "the window opens, and stays open until it is told to close"
code=0
timeout --kill-after=5 6 tenthwise >out.txt 2>err.txt || code=$?
if [ "$code" != 124 ] || grep -q Traceback err.txt; then cat err.txt >&2; wrong "the window ended by itself, with $code"; fi
echo "as told"

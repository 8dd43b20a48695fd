#!/usr/bin/env bash
# usage: PY=python-of-an-environment-with-the-dependencies same.sh CHECKOUT OUT: what must be the same before and after a step (compare two OUT folders)
set -e; R=$(readlink -f "$1"); mkdir -p "$2"; O=$(readlink -f "$2"); PY=${PY:-python3}
export PYTHONPATH=$R PRESOLDER_CACHE=$O/cache OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 OPENBLAS_CORETYPE=Haswell
# a listing's sounds are named by a digest of the program's text: pinned, so that moved code alone changes nothing
run() { $PY -c "
import sys, importlib
for name in ('server.jobs.listing.keys', 'server.listings.making.keys'):
    try: importlib.import_module(name).method = lambda: 'pinned'
    except ImportError: pass
from server.cli import main; sys.argv[0]='presolder'; main()" "$@"; }
$PY - > "$O/openapi.json" <<'P'
import json, tempfile; from pathlib import Path
from server.app import create_app; from server.settings import Settings
print(json.dumps(create_app(Settings(Path(tempfile.mkdtemp()))).openapi(), indent=1, sort_keys=True))
P
{ run --help; for c in demo serve check response facts render listing takes stems range travel lugs netlist parts set examples schema; do echo "== $c"; run $c --help; done; } > "$O/help.txt"
D=$R/demo_audio; cd "$D"
for c in "check baritone.yaml" "facts baritone.yaml --json" "response twelve.yaml" "netlist baritone.yaml" "parts" "schema" "takes" "travel baritone.yaml --json" "range baritone_sketch.yaml --json" "range baritone_sketch.yaml --positions 5 --json" "range baritone_sketch.yaml --positions 6 --quiet 3 --in-phase --json" "lugs baritone_sketch.yaml --switch rotary_6_four_pole --json"; do echo "== $c"; run $c 2>&1; done | sed "s#$R#ROOT#g" > "$O/commands.txt" || true
cd "$O"
run render "$D/baritone.yaml" --take "$D/open_chords.yaml" --sweep tone=10:0@1-3 --format flac --loudness -18 --out "$O/clips" >/dev/null 2>&1
cp "$D"/*.yaml "$D"/*.flac "$O"/; sed "s#out: .*#out: site#" "$D/listing.yaml" > listing.yaml
run listing listing.yaml --jobs 1 > listing.log 2>&1 || true
find clips site -type f ! -path '*/.presolder-listing/*' | sort | xargs sha256sum > bytes.txt

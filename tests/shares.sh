#!/usr/bin/env bash
# Makes the demo's collection by one run, by the workers of Dask, and by the tasks of an
# array job, and compares the folders byte for byte. HITCHWORK names the command.
set -euo pipefail
cd "$(dirname "$0")/.."
hitchwork=${HITCHWORK:?name the command with HITCHWORK}
plan=demo/evening-class/plan.toml
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

python3 -m venv "$work/python"
"$work/python/bin/pip" install --quiet --disable-pip-version-check 'distributed==2026.8.0'

"$hitchwork" collect "$plan" --out "$work/whole" --quiet
HITCHWORK="$hitchwork" "$work/python/bin/python" demo/shares/dask_shares.py "$plan" "$work/dask" 3
for task in 1 2 3; do
  HITCHWORK="$hitchwork" TASK=$task TASKS=3 demo/shares/array_job.sh "$plan" "$work/array"
done
"$hitchwork" collect "$plan" --out "$work/array" --merge "$work/array" --quiet
for way in dask array; do
  diff -r "$work/whole" "$work/$way"
  echo "the shares of $way make the same folder"
done
echo '2 passed, 0 failed'

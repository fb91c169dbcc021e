#!/usr/bin/env bash
# Computes the reference table and the worked examples anew from the libraries of requirements.txt and compares them with
# the committed ones; and holds the description of the calculator that the program prints against the rules of OpenAPI.
# The libraries go into a virtual environment under the target folder, made once for each list of versions. One that
# cannot be had is a failure; THUMBPLANE_SKIP=reference tests/run goes without.
#   tests/reference/check.sh         compares
#   tests/reference/check.sh write   writes them anew, after a change of tables.py or worked_examples.py
set -euo pipefail
cd "$(dirname "$0")/../.."

wanted=tests/reference/requirements.txt
home="${CARGO_TARGET_DIR:-target}/reference-$(cat "$wanted" <(python3 --version) | sha256sum | cut -c1-12)"
if [ ! -e "$home/complete" ]; then
  rm -rf "$home"
  if ! python3 -m venv "$home" || ! "$home/bin/pip" install --quiet --no-compile --disable-pip-version-check -r "$wanted"; then
    rm -rf "$home"
    echo "The reference libraries cannot be installed: nothing was compared. See the head of tests/run." >&2
    exit 1
  fi
  touch "$home/complete"
fi
PYTHONDONTWRITEBYTECODE=1 "$home/bin/python" tests/reference/tables.py "${1:-check}" tests/reference/tables.json
PYTHONDONTWRITEBYTECODE=1 "$home/bin/python" tests/reference/worked_examples.py "${1:-check}" tests/all/engine/worked-examples.json
if [ "${1:-check}" = check ]; then
  cargo run --quiet --locked -- calc --openapi > "$home/openapi.json"
  PYTHONDONTWRITEBYTECODE=1 "$home/bin/python" tests/reference/check_openapi.py "$home/openapi.json"
fi

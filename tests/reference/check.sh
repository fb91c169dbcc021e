#!/usr/bin/env bash
# Computes the reference table anew from the libraries of requirements.txt and compares it with the committed
# one; and holds the description of the calculator that the program prints against the rules of OpenAPI. The libraries go into a virtual environment under the target folder, made once for each list of versions.
# With CI=true a library that cannot be had is a failure; elsewhere it is said, and the committed table stands.
#   tests/reference/check.sh         compares
#   tests/reference/check.sh write   writes the table anew, after a change of tables.py
set -euo pipefail
cd "$(dirname "$0")/../.."

wanted=tests/reference/requirements.txt
home="${CARGO_TARGET_DIR:-target}/reference-$(cat "$wanted" <(python3 --version) | sha256sum | cut -c1-12)"
if [ ! -e "$home/complete" ]; then
  rm -rf "$home"
  if python3 -m venv "$home" && "$home/bin/pip" install --quiet --no-compile --disable-pip-version-check -r "$wanted"; then
    touch "$home/complete"
  elif [ "${CI:-}" = true ]; then
    echo "The reference libraries cannot be installed: nothing was compared." >&2
    exit 1
  else
    rm -rf "$home"
    echo "SKIPPED: the reference libraries cannot be installed here. tests/reference/tables.json was not computed" >&2
    echo "SKIPPED: anew; the engine is still checked against it as it is committed." >&2
    exit 0
  fi
fi
PYTHONDONTWRITEBYTECODE=1 "$home/bin/python" tests/reference/tables.py "${1:-check}" tests/reference/tables.json
if [ "${1:-check}" = check ]; then
  cargo run --quiet --locked -- calc --openapi > "$home/openapi.json"
  PYTHONDONTWRITEBYTECODE=1 "$home/bin/python" tests/reference/check_openapi.py "$home/openapi.json"
fi

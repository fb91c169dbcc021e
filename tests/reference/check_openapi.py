"""Checks the description of the calculator against the rules of OpenAPI 3.1.

    thumbplane calc --openapi > openapi.json
    python3 tests/reference/check_openapi.py openapi.json

Needs the PyPI package openapi-spec-validator (it brings the OpenAPI Initiative's schemas and jsonschema) and
reaches no network. Every example is also held against the schema beside it. Exit 0: all is well.
"""

import json
import sys

from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator


def main(path):
    with open(path, encoding="utf-8") as file:
        document = json.load(file)

    faults = [
        f"/{'/'.join(map(str, error.absolute_path))}: {error.message[:300]}"
        for error in OpenAPIV31SpecValidator(document).iter_errors()
    ]

    examples = 0
    for place, operations in document["paths"].items():
        for operation in operations.values():
            bodies = [("input", operation.get("requestBody", {}))]
            bodies += [(status, answer) for status, answer in operation["responses"].items()]
            for what, body in bodies:
                for media in body.get("content", {}).values():
                    if "example" not in media:
                        continue
                    examples += 1
                    schema = {**media["schema"], "components": document["components"]}
                    for error in Draft202012Validator(schema).iter_errors(media["example"]):
                        faults.append(f"{place} {what}: {error.json_path}: {error.message[:300]}")

    for name, schema in document["components"]["schemas"].items():
        for error in Draft202012Validator(Draft202012Validator.META_SCHEMA).iter_errors(schema):
            faults.append(f"schema {name}: {error.json_path}: {error.message[:300]}")

    if examples == 0:
        faults.append("no example was found")
    for fault in faults:
        print(fault, file=sys.stderr)
    if not faults:
        print(f"{len(document['paths'])} paths, {len(document['components']['schemas'])} schemas, {examples} examples: well")
    return 1 if faults else 0


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: check_openapi.py openapi.json")
    sys.exit(main(sys.argv[1]))

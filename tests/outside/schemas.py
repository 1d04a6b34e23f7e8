"""Says for each TOML text of the question whether the schema takes it."""

import json
import sys
import tomllib

import jsonschema

question = json.load(sys.stdin)
jsonschema.Draft202012Validator.check_schema(question["schema"])
judge = jsonschema.Draft202012Validator(question["schema"])
print(json.dumps([judge.is_valid(tomllib.loads(text)) for text in question["texts"]]))

# Everything a developer or CI runs. `make` alone prints the targets.

VENV := .venv
BIN := $(VENV)/bin
READY := $(BIN)/thawline
UV := $(shell command -v uv 2>/dev/null)

# The first interpreter on PATH that is new enough; override with `make setup PYTHON=/path/to/python`.
PYTHON ?= $(shell for p in python3 python3.11 python3.12 python3.13 python3.14 python; do \
	"$$p" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && { command -v "$$p"; break; }; done)

.DEFAULT_GOAL := help
.PHONY: help setup demo test check fast nightly bench households mutate docs pictures lock ci clean

help:  ## print this list
	@sed -n 's/^\([a-z]*\):.*## \(.*\)/  make \1|\2/p' $(MAKEFILE_LIST) | awk -F'|' '{ printf "%-15s %s\n", $$1, $$2 }'

setup: $(READY)  ## make .venv with Thawline and the tools, at the exact versions of constraints.txt

$(READY): constraints.txt pyproject.toml
	@test -n "$(PYTHON)" || { echo "Thawline needs Python 3.11 or newer on PATH." >&2; exit 1; }
ifneq ($(UV),)
	test -x $(BIN)/python || "$(UV)" venv --quiet --seed --python "$(PYTHON)" $(VENV)
	"$(UV)" pip install --quiet --python $(BIN)/python --require-hashes -r constraints.txt
	"$(UV)" pip install --quiet --python $(BIN)/python --no-deps --no-build-isolation -e .
else
	test -x $(BIN)/python || "$(PYTHON)" -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r constraints.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
endif
	@touch $(READY)

demo: $(READY)  ## serve the pages with a made-up family
	$(BIN)/thawline demo

test: $(READY)  ## the whole test suite
	$(BIN)/python -m pytest

check: $(READY)  ## format, lint, types, directions between rooms, sizes, tables in the docs
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python scripts/check_shape.py
	$(BIN)/python scripts/guideline_tables.py --check

fast: $(READY)  ## the tests that are quick, until the first failure
	$(BIN)/python -m pytest -x -m "not slow" --hypothesis-profile=dev

nightly: $(READY)  ## the whole suite with many more generated examples
	$(BIN)/python -m pytest --hypothesis-profile=nightly --timeout=3600

bench: $(READY)  ## how long ledgers of 30 to 60,000 events, the first page, the physics, a logger's file, stock paths and plans take
	env -u PYTHONDONTWRITEBYTECODE $(BIN)/python bench/bench_replay.py
	env -u PYTHONDONTWRITEBYTECODE $(BIN)/python -m bench.bench_pages
	env -u PYTHONDONTWRITEBYTECODE $(BIN)/python -m bench.bench_heat
	env -u PYTHONDONTWRITEBYTECODE $(BIN)/python -m bench.bench_readings
	env -u PYTHONDONTWRITEBYTECODE $(BIN)/python -m bench.bench_paths
	env -u PYTHONDONTWRITEBYTECODE $(BIN)/python -m bench.bench_plan

households: $(READY)  ## what simulated families throw away under several ways of using milk, and how often bands hold (an hour)
	$(BIN)/python -m bench.bench_households
	$(BIN)/python -m bench.bench_bands

mutate: $(READY)  ## change the core's code line by line and see which change no test notices
	$(BIN)/mutmut run
	$(BIN)/mutmut results

docs: $(READY)  ## write the schema, the tables of the guidelines and the board in the README anew
	$(BIN)/python scripts/guideline_tables.py
	$(BIN)/python scripts/readme_board.py
	$(BIN)/thawline replay --schema > docs/event.schema.json.new
	mv docs/event.schema.json.new docs/event.schema.json

pictures: $(READY)  ## take the pictures in the docs anew (needs chromium)
	$(BIN)/python scripts/picture_elements.py
	$(BIN)/python scripts/journey_pictures.py

lock:  ## write constraints.txt anew: newest versions that Python 3.11 takes (needs uv)
	@test -n "$(UV)" || { echo "make lock needs uv on PATH." >&2; exit 1; }
	"$(UV)" pip compile --quiet --upgrade --universal --python-version 3.11 --generate-hashes --no-header \
		--no-emit-index-url --no-emit-find-links pyproject.toml requirements-dev.in -o constraints.txt

ci: check test  ## what has to pass before a change lands

clean:  ## remove what the targets above made
	rm -rf $(VENV) build dist mutants .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache

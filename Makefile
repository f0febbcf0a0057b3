# The habits of this house, one name each. `make help` lists them.
PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check --quiet
DEMO ?= demo
DATA ?= data

.DEFAULT_GOAL := help
.PHONY: help setup demo serve test lint format coverage docs speed load crash calibrate pictures long check-long mutants core clean

help: ## say what can be made
	@grep -hE '^[a-z -]+:.*## ' $(MAKEFILE_LIST) | awk -F ':.*## ' '{printf "make %-11s %s\n", $$1, $$2}'

# ---- environments: made once, made anew when a pinned version or the package's form changes

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
	  || { echo "Python 3.11 or newer is needed: make PYTHON=python3.11 ..."; exit 2; }
	$(PYTHON) -m venv $(VENV)

$(VENV)/core.ready: requirements/core.txt pyproject.toml | $(BIN)/python
	$(PIP) install -r requirements/core.txt
	$(PIP) install --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/web.ready: requirements/web.txt requirements/bench.txt $(VENV)/core.ready
	$(PIP) install -r requirements/web.txt
	@touch $@

$(VENV)/dev.ready: requirements/dev.txt $(VENV)/web.ready
	$(PIP) install -r requirements/dev.txt
	@touch $@

$(VENV)/long.ready: requirements/long.txt $(VENV)/dev.ready
	$(PIP) install -r requirements/long.txt
	@touch $@

setup: $(VENV)/dev.ready ## make .venv with every pinned version and the package in it

# ---- using it

demo: $(VENV)/core.ready ## weigh the demonstration dossiers; show one verdict, leave its report
	@$(BIN)/endbell demo $(DEMO)

serve: $(VENV)/web.ready ## the workbench in a browser, on this machine; its data in data/
	@$(BIN)/endbell serve --data $(DATA)

# ---- judging it

test: $(VENV)/dev.ready ## the everyday tests, all of them
	$(BIN)/python -m pytest -n 2 -q

lint: $(VENV)/dev.ready ## style, types, floors
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/pyright --pythonpath $(BIN)/python
	$(BIN)/lint-imports

format: $(VENV)/dev.ready ## lay out the code as `make lint` wants it
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

coverage: $(VENV)/dev.ready ## which lines no test walks through
	$(BIN)/coverage erase
	$(BIN)/coverage run -m pytest -n 2 -q
	$(BIN)/coverage combine --quiet
	$(BIN)/coverage report

core: $(BIN)/python ## the built package, with its own needs alone, in an empty folder: does it weigh?
	rm -rf build $(VENV)-core && $(PYTHON) -m venv $(VENV)-core
	$(VENV)-core/bin/python -m pip --disable-pip-version-check --quiet install -r requirements/core.txt
	$(VENV)-core/bin/python -m pip --disable-pip-version-check --quiet install --no-deps --no-build-isolation .
	rm -rf build
	folder=$$(mktemp -d) && cd $$folder && "$(CURDIR)/$(VENV)-core/bin/endbell" demo --json > verdicts.json \
	  && "$(CURDIR)/$(VENV)-core/bin/python" -c 'import json; print(len(json.load(open("verdicts.json"))["verdicts"]), "dossiers weighed by the core alone")'

long check-long: $(VENV)/long.ready ## tens of minutes: a sampler as judge, fuzzing, a sample of mutants
	$(BIN)/python -m pytest -q -m long tests || test $$? -eq 5
	$(BIN)/python benchmarks/nuts_reference.py
	set -e; for script in $(wildcard tests/fuzz/fuzz_*.py); do $(BIN)/python $$script; done
	$(BIN)/python tools/mutation.py

mutants: $(VENV)/long.ready ## hours: every mutant of the readers and the chronology, one by one
	$(BIN)/mutmut run

# ---- what is made from it

docs: $(VENV)/web.ready ## the tables and schemas in docs/ that are made from the code
	$(BIN)/python tools/assumptions_table.py
	$(BIN)/python tools/verdict_schema.py
	$(BIN)/python tools/calibration_schema.py
	$(BIN)/python -m endbell.bench.valves.table > docs/valve_models.md

speed: $(VENV)/dev.ready ## how fast, saved as tables in benchmarks/results
	$(BIN)/python -m benchmarks.speed
	$(BIN)/python -m benchmarks.batch

load: $(VENV)/dev.ready ## the workbench asked fifty times a second, ten thousand dossiers behind it
	$(BIN)/python -m benchmarks.workbench.load
	$(BIN)/python -m benchmarks.workbench.keys

crash: $(VENV)/dev.ready ## the server killed two hundred times while it writes: is anything lost?
	$(BIN)/python tools/crash.py --rounds 200

calibrate: $(VENV)/dev.ready ## how often it is right, on drawn dossiers: docs/calibration.md (an hour)
	$(BIN)/endbell calibrate --n 1000 --n-stated 12000 --seed 1 --out docs --work build/calibration
	$(BIN)/python -m benchmarks.learn

pictures: $(VENV)/dev.ready ## the pictures in docs/pictures, made anew in a real browser
	$(BIN)/python tools/pictures.py

clean: ## take away all that was made here, but nothing that is yours
	rm -rf $(VENV) $(VENV)-core build dist mutants .pytest_cache .ruff_cache .hypothesis .import_linter_cache .coverage*
	find src tests tools benchmarks -name __pycache__ -type d -prune -exec rm -rf {} +
	rm -rf src/endbell.egg-info

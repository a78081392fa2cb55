# Everything needed is set up by the target that needs it; the second call is quick, a changed lock sets up again.
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
.SUFFIXES:
.PHONY: help run test lint bench docs endurance bom audit setup locks clean

VENV := .venv
PY := $(VENV)/bin/python
PIP := $(PY) -m pip install --quiet --disable-pip-version-check --no-input
LOCK := $(VENV)/bin/uv pip compile --quiet --universal --python-version 3.11 --fork-strategy fewest \
        --generate-hashes --no-header --no-annotate
PYTHONS := $(PYTHON) python3.14 python3.13 python3.12 python3.11 python3

# An environment whose Python has gone (the system moved on) is set up from the start.
$(shell test -x $(PY) || rm -f $(VENV)/.python $(VENV)/.runtime $(VENV)/.package $(VENV)/.test $(VENV)/.bench $(VENV)/.endurance)

help: ## Say what can be made
	@sed -n 's/^\([a-z]*\):.*## /make \1\t/p' $(MAKEFILE_LIST) | expand -t 18

run: setup ## Open the caseload for this computer and print its address
	@$(VENV)/bin/soakline serve

test: $(VENV)/.test ## Run every test: small ones once with the kernels uncompiled, then all, the pages beside all else
	@.ci/need chromium chromium fonts-dejavu-core
	@.ci/need pdftoppm poppler-utils
	@.ci/need pg_createcluster postgresql
	NUMBA_DISABLE_JIT=1 $(PY) -m pytest -q -m kernel tests
	@mkdir -p build
	@echo "The pages in a browser, and all else beside them; what all else says follows."
	@$(PY) -m pytest -q --ignore=tests/faces --output=build/test-output > build/tests.log 2>&1 & others=$$!; \
	$(PY) -m pytest -q tests/faces; pages=$$?; \
	wait $$others; others=$$?; cat build/tests.log; exit $$(( pages > others ? pages : others ))

endurance: $(VENV)/.endurance ## Kill, crowd and draw requests at the program for half an hour; count what was lost
	@.ci/need pg_createcluster postgresql
	SOAKLINE_TEST_KILLS=500 $(PY) -m pytest -q -rP tests/record/test_faults.py
	$(PY) endurance/people.py
	$(PY) endurance/drawn_requests.py

bom: $(VENV)/.endurance ## Write the bill of materials of what running needs (CycloneDX), from the lock
	@mkdir -p dist
	$(VENV)/bin/cyclonedx-py requirements requirements.lock --pyproject pyproject.toml --output-reproducible \
	    --of JSON --output-file dist/soakline.cdx.json

audit: $(VENV)/.endurance ## Ask the advisory service for known weaknesses of what running needs
	@$(VENV)/bin/pip-audit --strict --disable-pip --require-hashes -r requirements.lock --progress-spinner off || { \
	    echo "Not audited, or with findings, as said above. Where the advisory service (PyPI) could not be reached or" >&2; \
	    echo "does not know a package, nothing is known of it: run this where the service can be reached." >&2; exit 1; }

lint: $(VENV)/.test ## Hold style, types and the direction between rooms
	$(PY) -m ruff check
	$(PY) -m ruff format --check
	$(PY) -m pyright
	$(VENV)/bin/lint-imports

bench: $(VENV)/.bench $(VENV)/.test ## Run every benchmark beside its general-purpose peers
	@.ci/need chromium chromium fonts-dejavu-core
	@for script in benchmarks/*.py; do echo "== $$script"; $(PY) "$$script" || exit 1; done

docs: $(VENV)/.test ## Hold the pages and every example in them against the program
	$(PY) -m pytest -q tests/contract src

setup: $(VENV)/.package ## Set up what running needs

locks: $(VENV)/.test ## Lock the newest releases that pyproject.toml allows
	rm -f requirements*.lock
	$(LOCK) pyproject.toml -o requirements.lock
	$(LOCK) --group build -c requirements.lock -o requirements-build.lock
	$(LOCK) --group dev -c requirements.lock -c requirements-build.lock -o requirements-dev.lock
	$(LOCK) --group bench -c requirements.lock -o requirements-bench.lock
	$(LOCK) --group endurance -c requirements-dev.lock -o requirements-endurance.lock

clean: ## Remove what set-up and tests made; kept cases stay
	rm -rf $(VENV) build dist test-output .pytest_cache .ruff_cache .hypothesis .import_linter_cache
	find src tests benchmarks -name __pycache__ -prune -exec rm -rf {} +

# A virtual environment that runs is used as it is.
$(VENV)/.python:
	@$(PY) -c 'import pip' 2>/dev/null && touch $@ && exit 0; \
	for python in $(PYTHONS); do \
	    "$$python" -c 'import ensurepip, sys, venv; sys.exit(not (3, 11) <= sys.version_info < (3, 15))' 2>/dev/null \
	    && echo "Making $(VENV) with $$("$$python" --version) ..." \
	    && "$$python" -m venv --clear $(VENV) && touch $@ && exit 0; \
	done; \
	echo "Missing: Python 3.11 to 3.14 with its modules venv and ensurepip, found under none of: $(PYTHONS)." >&2; \
	echo "On Debian or Ubuntu an administrator installs it with: apt-get install python3 python3-venv" >&2; \
	echo "One that lies elsewhere is used with: make PYTHON=PATH ..." >&2; \
	exit 1

$(VENV)/.runtime: $(VENV)/.python requirements.lock requirements-build.lock
	@echo "Installing what running needs, each package checked against its hash ..."
	@$(PIP) --require-hashes -r requirements.lock -r requirements-build.lock
	@touch $@

$(VENV)/.package: $(VENV)/.runtime pyproject.toml src/soakline/__init__.py
	@$(PIP) --no-deps --no-build-isolation --editable .
	@$(VENV)/bin/soakline warm
	@touch $@

$(VENV)/.test: $(VENV)/.package requirements-dev.lock
	@echo "Installing what the tests need, each package checked against its hash ..."
	@$(PIP) --require-hashes -r requirements-dev.lock
	@touch $@

$(VENV)/.bench: $(VENV)/.package requirements-bench.lock
	@echo "Installing what the benchmarks need, each package checked against its hash ..."
	@$(PIP) --require-hashes -r requirements-bench.lock
	@touch $@

$(VENV)/.endurance: $(VENV)/.test requirements-endurance.lock
	@echo "Installing what endurance, bom and audit need, each package checked against its hash ..."
	@$(PIP) --require-hashes -r requirements-endurance.lock
	@touch $@
